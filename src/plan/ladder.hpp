#pragma once

#include "earshot/base/task.hpp"
#include "earshot/link/path.hpp"
#include "earshot/terrain/height_grid.hpp"
#include "plan/foot_range.hpp"
#include "plan/relay_search.hpp"

#include <cstddef>
#include <optional>
#include <vector>

/// What each way of being heard farther buys, alone and one on top of another.

namespace earshot::plan {

enum class Lever {
    power,        ///< the next power step at both ends
    move,         ///< a short walk to a better spot
    antenna_here, ///< a better antenna
    antenna_there,
    raise_here, ///< the antenna raised
    raise_there,
    relay,
};

/// What was done with a lever. Only what belongs to it is set.
struct Pull {
    Lever lever = Lever::power;
    double from_dbm = 0.0, to_dbm = 0.0; ///< power
    double better_db = 0.0;              ///< antenna
    double raised_m = 0.0;               ///< height of the raised antenna
    double distance_m = 0.0;             ///< walked, or from here to the relay
    double bearing_deg = 0.0;            ///< toward there
    geo::LatLon position;                ///< of the relay
};

struct LadderQuestion : link::Setting {
    link::Station here;
    /// A path (one place), or a list of places. Empty: the range on foot around `here`.
    std::vector<ServedPlace> there;
    link::Station person;           ///< without places: radio and height of the person who walks
    double wanted_margin_db = 0.0;  ///< both ways
    double power_dbm = 36.99;       ///< the next power step; a radio with more keeps it
    double better_antenna_db = 6.0; ///< by how much a better antenna is better, > 0
    double raised_m = 6.0;          ///< height of a raised antenna; one that is higher stays
    double move_m = 50.0;           ///< how far one walks; 0 leaves this lever out
    link::Station relay;            ///< radio and antenna height of a relay
    std::vector<Candidate> relay_candidates; ///< empty leaves this lever out
    double range_m = 15000.0;                ///< without places: how far to look
};

/// A state of the ladder and what it reaches.
struct Rung {
    std::optional<Pull> pull; ///< none at the start
    /// In multiples of turning a knob; how the levers are ranked against one another. Common
    /// practice, no source.
    double effort = 0.0;
    /// What it adds to the margin, dB: the median over the places, or, without places, over the
    /// directions at the typical range of the start. None for a relay without places: it moves the
    /// whole range.
    std::optional<double> gain_db;
    std::size_t places = 0;          ///< reached both ways, directly or over the relay
    double weight = 0.0;             ///< of them
    std::optional<double> margin_db; ///< with one place: its margin
    /// Without places. With a relay: around the relay, where that is more.
    std::optional<FootRange> range;

    [[nodiscard]] bool pulls(Lever lever) const { return pull && pull->lever == lever; }
};

struct LadderAnswer {
    Rung start;
    std::vector<Rung> alone;   ///< each lever by itself; the most decibels for the effort first
    std::vector<Rung> stacked; ///< in that order, each on top of those before
    std::size_t places = 0;    ///< that there were to reach
};

/// The power for LadderQuestion::power_dbm unless the user names one: of the usual powers (common
/// practice, no source) the next above the weakest radio in the question.
[[nodiscard]] double next_power_dbm(const LadderQuestion& question);

/// High ground for LadderQuestion::relay_candidates, at most `within_m` from `here`. Throws as
/// find_candidates() does.
[[nodiscard]] std::vector<Candidate> relay_ground_near(const terrain::HeightGrid& ground,
                                                       const link::Station& here, double within_m,
                                                       Task& task = silent_task());

/// Climbs the ladder. Levers that change nothing (a radio that has the power already) are left
/// out. A better antenna at the far end is one at every place; where noise was taken into account
/// it hears more of that as well. Only the ground's part of moving is
/// predicted: over a metre or less, reflections can make as much difference again.
///
/// Throws Error(Fault::usage) for a value out of range, Error(Fault::input) if a station is
/// off the ground or in a void, Error(Fault::stopped).
[[nodiscard]] LadderAnswer climb_ladder(const LadderQuestion& question, Task& task = silent_task());

} // namespace earshot::plan
