#pragma once

#include "earshot/plan/hearing.hpp"
#include "earshot/plan/places.hpp"

#include <CLI/CLI.hpp>

#include <string>
#include <vector>

namespace earshot::app {

/// Places named one by one or in a file.
struct PlaceArguments {
    std::vector<std::string> named;
    std::string file;

    /// `option` is the name of the option for single places ("place"); `what` goes into the help.
    void add_to(CLI::App& command, const std::string& option, const std::string& what);
    /// Those named first, then those of the file. Throws Error(ExitCode::usage) for a place that is
    /// not written NAME=POSITION, and as plan::read_places() does.
    [[nodiscard]] std::vector<plan::Place> read() const;

private:
    std::string option_;
};

/// "Mill=36.6,-84.2". `option` names the option in messages.
[[nodiscard]] plan::Place parse_named_place(const std::string& text, const std::string& option);

/// The circle around places, as plan::circle_around() finds it.
[[nodiscard]] plan::Circle circle_around_places(const std::vector<geo::LatLon>& positions);

} // namespace earshot::app
