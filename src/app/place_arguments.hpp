#pragma once

#include "app/scenario_arguments.hpp"
#include "plan/hearing.hpp"
#include "plan/relay_search.hpp"
#include "scenario/places.hpp"

#include <string>
#include <vector>

namespace earshot::app {

/// Places named one by one, in a file or in the scenario.
class PlaceArguments {
public:
    /// `option` is the name of the option for single places ("place"); `what` goes into the help.
    void add_to(const Options& options, const std::string& option, const std::string& what);
    [[nodiscard]] bool given() const { return !named_.empty() || !file_.empty(); }
    [[nodiscard]] const std::string& file() const { return file_; }
    /// Those named first, then those of the file. A station of the scenario stands there with its
    /// own radio; everywhere else it is the listener. Places of the file where nobody is ("people"
    /// is 0) are left out. Throws Error(Fault::usage) for a place that is neither written
    /// NAME=POSITION nor in the scenario and for a name given twice, and as
    /// scenario::read_places().
    [[nodiscard]] std::vector<plan::ServedPlace> read(const SharedInputs& inputs) const;

private:
    std::string option_;
    std::vector<std::string> named_;
    std::string file_;
};

/// Everybody in a scenario: its stations with their own radios, then its listener at each of its
/// places. `who` is stations, places or all.
[[nodiscard]] std::vector<plan::ServedPlace> everybody(const scenario::Scenario& scenario,
                                                       const std::string& who);

/// A station by its name in the scenario, or as NAME=POSITION with the listener's radio. `option`
/// names the option in messages.
[[nodiscard]] link::Station named_station(const SharedInputs& inputs, const std::string& text,
                                          const std::string& option);

/// Throws Error(Fault::usage) if two have one name.
void require_different_names(const std::vector<plan::ServedPlace>& places);

[[nodiscard]] std::vector<geo::LatLon> positions_of(const std::vector<plan::ServedPlace>& places);

/// The circle around places, as plan::circle_around() finds it.
[[nodiscard]] plan::Circle circle_around_places(const std::vector<geo::LatLon>& positions);

} // namespace earshot::app
