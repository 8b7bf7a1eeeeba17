#pragma once

#include "earshot/link/path.hpp"
#include "earshot/plan/hearing.hpp"
#include "earshot/plan/ladder.hpp"
#include "earshot/plan/scenario.hpp"
#include "earshot/sweep/raster.hpp"
#include "earshot/terrain/height_grid.hpp"

#include <optional>
#include <string>
#include <vector>

namespace earshot::report {

/// A path that a briefing shows on a page of its own.
struct BriefedPath {
    std::string title;
    link::TwoWayPath path;
};

/// What a briefing is made of. All of its outputs (pages, page for a browser, files for other
/// programs) are drawn from this and nothing else, so that they cannot contradict one another.
struct Briefing {
    std::string title;
    std::string date; ///< as people will read it; no clock is asked
    /// First band: margin in dB of the listener, best of all stations.
    sweep::CoverageRaster map;
    terrain::HeightGrid ground; ///< under the map and a little beyond
    /// Absent when the briefing is made from a finished map alone.
    std::optional<plan::Scenario> scenario;
    std::vector<plan::Pair> pairs; ///< of the scenario's stations
    plan::NetStructure net;
    std::vector<BriefedPath> paths;
    std::optional<plan::LadderAnswer> ladder;
    std::string ladder_title; ///< which path or list of places the ladder is of
    std::optional<double> declination_deg; ///< of the magnetic needle, east positive
    std::string correction; ///< the field correction in words; empty if none was applied
    std::vector<std::string> notes; ///< further things to know of the prediction, a sentence each
};

} // namespace earshot::report
