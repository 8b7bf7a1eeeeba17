#pragma once

#include "earshot/coverage/raster.hpp"
#include "earshot/geo/geodesic.hpp"
#include "earshot/link/path.hpp"
#include "earshot/terrain/height_grid.hpp"
#include "field/walk_test.hpp"
#include "plan/fallback.hpp"
#include "plan/hearing.hpp"
#include "plan/ladder.hpp"
#include "scenario/scenario.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace earshot::report {

/// A path that a briefing shows on a page of its own.
struct BriefedPath {
    std::string title;
    link::TwoWayPath path;
    double wanted_margin_db = 0.0;
};

/// What a briefing is made of. All of its outputs (pages, page for a browser, files for other
/// programs) are drawn from this and nothing else, so that they cannot contradict one another.
struct Briefing {
    std::string title;
    std::string date; ///< as people will read it; no clock is asked
    std::string prepared_by;
    /// First band: margin in dB of the listener, best of all stations. With several stations a band
    /// "number of stations heard" and a band "station heard best" (number in order, 0 none) may
    /// follow. Its metadata hold all inputs of the prediction (docs/file-formats.md).
    coverage::CoverageRaster map;
    terrain::HeightGrid ground; ///< under the map and a little beyond
    /// Absent when the briefing is made from a finished map alone. Duties (person, role, fallback)
    /// and the plan of channels are in it.
    std::optional<scenario::Scenario> scenario;
    /// Those of the scenario, in its order; else those that the finished map names, with what its
    /// metadata say of their radios.
    std::vector<link::Station> stations;
    std::vector<scenario::Place> places; ///< those of the scenario, and further ones
    std::vector<plan::Pair> pairs;       ///< of the scenario's stations
    plan::NetStructure net;
    std::vector<std::optional<plan::Fallback>> fallbacks; ///< one for each station, or none at all
    std::vector<std::optional<plan::Help>> helps;         ///< plan::help_stations(), or none at all
    std::vector<BriefedPath> paths;
    std::optional<plan::LadderAnswer> ladder;
    std::string ladder_title;              ///< which path or list of places the ladder is of
    std::optional<field::WalkPlan> walk;   ///< calls to be tried, for the log sheet
    std::optional<double> declination_deg; ///< of the magnetic needle, east positive
    std::string correction;           ///< the field correction in words; empty if none was applied
    std::vector<std::string> notes;   ///< further things to know of the prediction, a sentence each
    std::vector<std::string> remarks; ///< of whoever prepared it, a sentence each
};

/// The value that the map holds in the cell around a position: NaN outside the map, where nothing
/// is known, or if the map has no such band.
[[nodiscard]] double map_value_at(const coverage::CoverageRaster& map, geo::LatLon position,
                                  coverage::BandKind kind = coverage::BandKind::margin);

[[nodiscard]] geo::LatLon middle_of(const coverage::CoverageRaster& map);

/// What a map's metadata say under a key; empty if nothing.
[[nodiscard]] std::string map_metadata(const coverage::CoverageRaster& map, std::string_view key);
/// The same where there is a value for each station; none if nothing.
[[nodiscard]] std::vector<std::string> station_metadata(const coverage::CoverageRaster& map,
                                                        std::string_view key);

/// Where the person of a station goes whom nobody hears, as the cards say it; empty where that
/// helps nobody.
[[nodiscard]] std::string fallback_of(const Briefing& briefing, std::size_t number);

/// What a briefing says of one station or place, as files for other programs carry it.
struct PlaceResult {
    std::string name;
    geo::LatLon position;
    bool station = false;
    double ground_m = 0.0; ///< above sea level; NaN where not known
    /// Margin in dB of the listener that stands there, of the station heard best; NaN where not
    /// known, and at stations, where the map only says that one hears oneself.
    double margin_db = 0.0;
    double people = 0.0;                 ///< how many a place stands for; 0 for a station
    std::string best_station;            ///< heard best at a place; empty if none is, or unknown
    std::vector<std::string> talks_with; ///< of a station: heard both ways
    std::string person, role, fallback;  ///< of a station; may be empty
    std::string words;                   ///< all of it in a sentence or two
};

/// All stations, then all places but those that bear the name of a station.
[[nodiscard]] std::vector<PlaceResult> place_results(const Briefing& briefing);

} // namespace earshot::report
