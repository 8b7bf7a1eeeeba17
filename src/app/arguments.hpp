#pragma once

#include "earshot/link/budget.hpp"
#include "earshot/propagation/method.hpp"
#include "earshot/terrain/terrain_source.hpp"

#include <CLI/CLI.hpp>

#include <optional>
#include <string>
#include <vector>

namespace earshot::app {

/// Where the ground comes from.
struct TerrainArguments {
    std::vector<std::string> inputs;
    std::string height_unit;

    void add_to(CLI::App& command);
    [[nodiscard]] terrain::TerrainSource open() const;
};

/// How losses are predicted.
struct PropagationArguments {
    std::string frequency;
    std::string method{propagation::method_info(propagation::PathSettings{}.method).name};
    std::string knife_edge = "itu";
    std::string k_factor = "4/3";

    void add_to(CLI::App& command);
    [[nodiscard]] propagation::PathSettings settings() const;
};

/// A radio as the user describes it. Values left empty are taken from `fallback`.
struct RadioArguments {
    std::string antenna_height, power, gain, feeder_loss, body_loss, threshold;

    /// `prefix` goes before every option name ("receiver-"); `whose` and `group` go into the help.
    void add_to(CLI::App& command, const std::string& prefix, const std::string& whose,
                const std::string& group, bool transmits);
    [[nodiscard]] link::Radio radio(const link::Radio& fallback) const;
    [[nodiscard]] double height_m(double fallback_m) const;

private:
    std::string prefix_;
};

/// A handheld at head height: what every radio is unless told otherwise.
inline constexpr double default_antenna_height_m = 1.5;

/// "4/3" or a plain number greater than 0.
[[nodiscard]] double parse_k_factor(const std::string& text);

/// The step between profile points: as given, else what the elevation resolves.
[[nodiscard]] double profile_step_m(const std::string& step, const terrain::HeightGrid& ground,
                                    geo::LatLon at);

/// Refuses an output that is one of the inputs, so that no input is ever changed.
void refuse_overwriting_input(const std::string& output, const std::vector<std::string>& inputs);

} // namespace earshot::app
