#pragma once

#include "earshot/geo/geodesic.hpp"
#include "plan/hearing.hpp"

#include <span>
#include <string>
#include <vector>

namespace earshot::report {

struct Briefing;

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

/// What a pair of stations comes to, in a few words.
[[nodiscard]] std::string pair_verdict(const plan::Pair& pair,
                                       std::span<const link::Station> stations,
                                       double wanted_margin_db);

} // namespace earshot::report
