#pragma once

#include "earshot/base/task.hpp"
#include "earshot/link/path.hpp"
#include "earshot/terrain/height_grid.hpp"
#include "link/handheld.hpp"
#include "plan/foot_range.hpp"
#include "plan/hearing.hpp"
#include "plan/relay_search.hpp"
#include "scenario/scenario.hpp"

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

/// What each way of being heard farther buys, alone and one on top of another.

namespace earshot::plan {

enum class Lever {
    channel,   ///< another channel, or one that a repeater of the net works on
    hold_here, ///< the radio taken from the body to the face
    hold_there,
    move,         ///< a short walk to a better spot, out of the trees if one is among them
    antenna_here, ///< another antenna
    antenna_there,
    raise_here, ///< the antenna raised
    raise_there,
    power, ///< what the radios can do, at both ends
    relay,
};

/// What was done with a lever. Only what belongs to it is set.
struct Pull {
    Lever lever = Lever::power;
    std::optional<link::Carried> worn;   ///< hold: where the radio was, if that is known
    double from_dbm = 0.0, to_dbm = 0.0; ///< power, of the weakest radio that is turned up
    bool here = true, there = true;      ///< power: which ends are turned up
    std::string antenna;                 ///< the new one; empty: the old one, or one of no name
    double better_db = 0.0;              ///< antenna
    double raised_m = 0.0;               ///< height of the raised antenna
    double distance_m = 0.0;             ///< walked, or from here to the relay
    double bearing_deg = 0.0;            ///< toward there
    bool out_of_woods = false;           ///< walked from among trees to where there are none
    geo::LatLon position;                ///< of the relay
    std::string channel;                 ///< channel
    std::string repeater;                ///< channel: empty without one
};

/// An antenna that is at hand.
struct AntennaChoice {
    std::string name;
    double gain_dbi = 0.0;
    bool on_radio = false;           ///< can be held with a handheld; one that is not can be raised
    std::vector<std::string> radios; ///< kinds of radio that have it; none: anybody may take it

    /// Whether it goes on somebody's radio: on one that is carried, only if one like it has it.
    [[nodiscard]] bool fits(const link::Station& station) const;
};

/// Those for a channel of a scenario: that it defines, or that anybody has on it.
[[nodiscard]] std::vector<AntennaChoice> antennas_of(const scenario::Scenario& scenario,
                                                     std::size_t channel);
/// The usual ones at a frequency, where no scenario says what there is.
[[nodiscard]] std::vector<AntennaChoice> usual_antennas(double frequency_mhz);

/// Raises an antenna, clear of the body. What is screwed on a handheld stays down: then it is the
/// best of `choices` that can be raised, which is named. False, and nothing, if it stands as high
/// already or there is none.
bool raise_antenna(link::Station& station, double height_m, std::span<const AntennaChoice> choices,
                   std::string* antenna = nullptr);

/// What a repeater of the net does for the places of a ladder.
struct RepeaterAtHand {
    std::string name, channel;
    std::vector<double> margins_db; ///< weakest leg, place by place; NaN where it carries nothing
};

struct LadderQuestion : link::Setting {
    link::Station here;
    /// A path (one place), or a list of places. Empty: the range on foot around `here`.
    std::vector<ServedPlace> there;
    link::Station person;          ///< without places: radio and height of the person who walks
    double wanted_margin_db = 0.0; ///< both ways
    /// A power for all radios; one with more keeps it. Left out, each goes as far as it can
    /// (link::Radio::powers_dbm).
    std::optional<double> power_dbm;
    std::vector<AntennaChoice> antennas; ///< at hand
    /// Instead of these: a better antenna is better by this, > 0.
    std::optional<double> better_antenna_db;
    std::optional<RepeaterAtHand> repeater; ///< with places
    bool here_only = false;                 ///< leaves out the levers at the other end
    double raised_m = 6.0; ///< height of a raised antenna; one that is higher stays
    double move_m = 50.0;  ///< how far one walks; 0 leaves this lever out
    link::Station relay;   ///< radio and antenna height of a relay
    std::vector<Candidate> relay_candidates; ///< empty leaves this lever out
    double range_m = 15000.0;                ///< without places: how far to look
};

/// A state of the ladder and what it reaches.
struct Rung {
    std::optional<Pull> pull; ///< none at the start
    /// In multiples of a short walk; how the levers are ranked against one another. Common
    /// practice, no source.
    double effort = 0.0;
    /// What it adds to the margin, dB: the median over the places, or, without places, over the
    /// directions at the typical range of the start. None for a relay without places: it moves the
    /// whole range.
    std::optional<double> gain_db;
    std::size_t places = 0;          ///< reached both ways, directly or over the relay
    double weight = 0.0;             ///< of them
    std::size_t in_doubt = 0;        ///< places by which link::try_first() is true
    std::optional<double> margin_db; ///< with one place: its margin
    /// Without places. With a relay: around the relay, where that is more.
    std::optional<FootRange> range;

    [[nodiscard]] bool pulls(Lever lever) const { return pull && pull->lever == lever; }
};

/// The least that is to be done so that a call gets through both ways.
struct Help {
    std::vector<Pull> pulls;          ///< together; one if that does
    std::vector<std::string> reached; ///< places that were not reached before
    Rung then;                        ///< all that is reached
};

struct LadderAnswer {
    double wanted_margin_db = 0.0;
    Rung start;
    /// Of least effort, that reaches a place more than the start does. Nothing where all are
    /// reached at the start, where no lever does it, and without places.
    std::optional<Help> help;
    std::vector<Rung> alone; ///< each lever that brings anything; the most dB for the effort first
    std::vector<Rung> stacked; ///< in that order, each on top of those before
    std::size_t places = 0;    ///< that there were to reach
};

/// High ground for LadderQuestion::relay_candidates, at most `within_m` from `here`. Throws as
/// find_candidates() does.
[[nodiscard]] std::vector<Candidate> relay_ground_near(const terrain::HeightGrid& ground,
                                                       const link::Station& here, double within_m,
                                                       Task& task = silent_task());

/// Climbs the ladder. Levers that bring nothing (a radio that has the power already) are left out.
/// A better antenna at the far end is one at every place; where noise was taken into account it
/// hears more of that as well. Only the ground's part of moving is predicted: over a metre or less,
/// reflections can make as much difference again.
///
/// Throws Error(Fault::usage) for a value out of range, Error(Fault::input) if a station is
/// off the ground or in a void, Error(Fault::stopped).
[[nodiscard]] LadderAnswer climb_ladder(const LadderQuestion& question, Task& task = silent_task());

/// The repeater of a scenario that carries most between a station of it and others of it, named
/// after them; nothing if none carries anything. `pairs` are those of hear_net().
[[nodiscard]] std::optional<RepeaterAtHand> repeater_for(const scenario::Scenario& scenario,
                                                         std::span<const Pair> pairs,
                                                         const std::string& here,
                                                         std::span<const std::string> there);

/// For each station of a scenario that does not talk with all others on its first channel: the
/// least that it can do itself to talk with one more. Another channel, with or without a repeater,
/// costs nothing and goes first. `pairs` are those of hear_net(). Throws as climb_ladder().
[[nodiscard]] std::vector<std::optional<Help>> help_stations(const scenario::Scenario& scenario,
                                                             std::span<const Pair> pairs,
                                                             const HearingRequest& request,
                                                             Task& task = silent_task());

} // namespace earshot::plan
