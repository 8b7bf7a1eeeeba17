#pragma once

#include "app/arguments.hpp"
#include "earshot/base/task.hpp"
#include "earshot/terrain/terrain_source.hpp"
#include "report/say/briefing.hpp"
#include "scenario/places.hpp"
#include "scenario/scenario.hpp"

#include <chrono>
#include <filesystem>
#include <optional>
#include <string>
#include <utility>
#include <vector>

/// Everything that a briefing shows, worked out from a scenario or taken from a finished map.

namespace earshot::app {

/// Seconds that each stage of the work took, in order.
class StageClock {
public:
    /// Ends the stage before and starts one.
    void begin(const std::string& stage);
    void end();
    [[nodiscard]] const std::vector<std::pair<std::string, double>>& stages() const {
        return stages_;
    }

private:
    std::vector<std::pair<std::string, double>> stages_;
    std::chrono::steady_clock::time_point started_;
    bool running_ = false;
};

/// What the command line says of a briefing; what is not set is as the scenario says.
struct BriefingWishes {
    std::optional<std::string> title, date;
    std::optional<double> declination_deg;
    std::optional<double> range_m;
    GridArguments grid;
    std::vector<scenario::Place> places; ///< besides those of the scenario
};

/// Predicts the map of all stations, who hears whom, the paths and the ladder of a scenario.
/// `source` is its elevation. Throws as the predictions do.
[[nodiscard]] report::Briefing briefing_of(const scenario::Scenario& scenario,
                                           const terrain::TerrainSource& source,
                                           const BriefingWishes& wishes, StageClock& clock,
                                           Task& task);

/// The briefing of a finished map; `file` is its name, for messages. Throws Error(Fault::input)
/// if the first band is not a margin, nothing is known in it, or its metadata do not say what it
/// was made with.
[[nodiscard]] report::Briefing briefing_of(coverage::CoverageRaster map,
                                           const std::filesystem::path& file,
                                           const terrain::TerrainSource& source,
                                           const BriefingWishes& wishes, StageClock& clock,
                                           Task& task);

} // namespace earshot::app
