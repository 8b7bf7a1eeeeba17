#pragma once

#include "earshot/base/task.hpp"
#include "earshot/link/path.hpp"
#include "link/quality.hpp"
#include "maths/graph.hpp"
#include "scenario/scenario.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <optional>
#include <span>
#include <vector>

/// Who hears whom in a net, and what follows for passing messages.

namespace earshot::plan {

/// One station listening to another. All numbers are NaN if the path crosses ground of unknown
/// height, or if there is no channel on which it could.
struct Hearing {
    double basic_loss_db = 0.0; ///< between the antennas, without woodland at the ends
    double margin_db = 0.0;     ///< at the share of time and places of the settings
    /// Chance that it is heard at a random time and place near the receiver, percent: the median
    /// margin over the deviations among places and over time and of the prediction itself.
    double chance_percent = 0.0;
    link::Readability readability = link::Readability::nothing; ///< of margin_db
    bool heard = false;                                         ///< margin_db reaches the wanted
};

/// How two stations talk through a repeater, by the weakest leg of those that a conversation takes.
struct Through {
    std::size_t repeater = 0;
    std::size_t from_a = 0; ///< channel that a talks on
    std::size_t from_b = 0; ///< channel that b talks on
    std::size_t talker = 0; ///< of the weakest leg
    std::size_t listener = 0;
    double margin_db = 0.0; ///< of the weakest leg
    double chance_percent = 0.0;
    bool heard = false; ///< margin_db reaches the wanted
};

/// In the place of a channel: there is none on which one station could hear the other.
inline constexpr std::size_t no_channel = std::numeric_limits<std::size_t>::max();

/// Two stations and how they hear each other on the channel where they do so best; the first of the
/// file among those that carry alike. A repeater hears on what it takes in and is heard on what it
/// gives out. `a` comes before `b` in the net.
struct Pair {
    std::size_t a = 0;
    std::size_t b = 0;
    std::size_t channel = 0; ///< or no_channel
    bool a_repeats = false;  ///< is a repeater: nobody to talk with, but a leg
    bool b_repeats = false;
    std::optional<Through> through; ///< the repeater that serves both best
    double distance_m = 0.0;
    double bearing_deg = 0.0;      ///< from a to b
    double back_bearing_deg = 0.0; ///< from b to a
    bool line_of_sight = false;
    Hearing b_hears_a;
    Hearing a_hears_b;
    double apart_db = std::numeric_limits<double>::quiet_NaN(); ///< link::Direction, the way out
    bool try_first = false;                                     ///< either way (link::try_first())

    [[nodiscard]] bool known() const { return !std::isnan(b_hears_a.margin_db); }
    [[nodiscard]] bool mutual() const { return b_hears_a.heard && a_hears_b.heard; }
    [[nodiscard]] bool with_repeater() const { return a_repeats || b_repeats; }
    /// Talk through a repeater, since they do not directly.
    [[nodiscard]] bool repeated() const { return !mutual() && through && through->heard; }
    /// Two people talk with each other, directly or through a repeater.
    [[nodiscard]] bool talk() const { return !with_repeater() && (mutual() || repeated()); }
    /// What they talk with: the weaker way of the direct path, or the weakest leg.
    [[nodiscard]] double talk_margin_db() const {
        return repeated() ? through->margin_db : weaker_margin_db();
    }
    /// The lesser of both margins: what a conversation has.
    [[nodiscard]] double weaker_margin_db() const {
        return std::min(b_hears_a.margin_db, a_hears_b.margin_db);
    }
    [[nodiscard]] double talk_chance_percent() const {
        return repeated() ? through->chance_percent : weaker_chance_percent();
    }
    /// The lesser of both chances: both ways lie over the same ground.
    [[nodiscard]] double weaker_chance_percent() const {
        return std::min(b_hears_a.chance_percent, a_hears_b.chance_percent);
    }
};

struct HearingRequest : link::Setting {
    double wanted_margin_db = 0.0;   ///< least margin that counts as heard
    std::optional<std::size_t> only; ///< just the pairs of this station
};

/// The predictors of a net, one for each frequency. For one thread.
class NetPredictor {
public:
    /// In `setting`, but for its frequency. Both must outlive this.
    NetPredictor(const scenario::Scenario& scenario, const link::Setting& setting);

    [[nodiscard]] link::PathPredictor& heard(std::size_t channel) { return of(heard_[channel]); }
    [[nodiscard]] link::PathPredictor& talked(std::size_t channel) { return of(talked_[channel]); }

private:
    [[nodiscard]] link::PathPredictor& of(std::size_t frequency) { return predictors_[frequency]; }

    std::vector<link::PathPredictor> predictors_; ///< one for each frequency
    std::vector<std::size_t> talked_, heard_;     ///< which, for each channel
};

/// Predicts every pair of stations both ways, in the order (0, 1), (0, 2) ... (1, 2) ... Each
/// path is what link::two_way_path() makes of it, but stations that stand together are no error
/// and a path across a void is only marked. Throws
/// Error(Fault::input) if a station has no ground height, Error(Fault::stopped).
[[nodiscard]] std::vector<Pair> hear_net(const scenario::Scenario& scenario,
                                         const HearingRequest& request, Task& task = silent_task());
/// The same for stations that have one channel, on the frequency of the request.
[[nodiscard]] std::vector<Pair> hear_net(std::span<const link::Station> stations,
                                         const HearingRequest& request, Task& task = silent_task());

/// The channels that two stations try: those that both have and hear each other on directly,
/// without those that carry as an earlier one does.
[[nodiscard]] std::vector<std::size_t> channels_between(const scenario::Air& air, std::size_t a,
                                                        std::size_t b);

/// A circle on the ground.
struct Circle {
    geo::LatLon centre;
    double radius_m = 0.0;
};

/// A circle that holds all stations and so the shortest lines between them. There must be at least
/// one. Throws Error(Fault::usage) if they are spread over more than half of the earth.
[[nodiscard]] Circle circle_around(std::span<const link::Station> stations);

/// A message from one station to another that do not hear each other, with the fewest hops.
struct Relayed {
    std::vector<std::size_t> stations; ///< from the sender over those who pass it on
    double weakest_margin_db = 0.0;    ///< of its hops
};

/// What follows from who hears whom, where only those who hear each other both ways count, directly
/// or through a repeater. A repeater is in `splitting` alone.
struct NetStructure {
    maths::Neighbours mutual;           ///< who talks with whom
    std::vector<maths::Nodes> parts;    ///< stations that messages can reach one another in
    maths::Groups groups;               ///< all in a group hear one another directly
    maths::Nodes cut_off;               ///< talk with nobody
    maths::Nodes splitting;             ///< whose loss splits their part of the net
    std::vector<Relayed> relayed;       ///< one for each pair that needs it, first to last
    std::vector<std::size_t> passes_on; ///< for each station, how many of those it passes on
    std::size_t unreachable_pairs = 0;  ///< not even by relaying
    std::size_t most_hops = 0;          ///< between any two that can reach each other
};

/// More groups than these are of no use to people.
inline constexpr std::size_t most_groups = 200;

[[nodiscard]] NetStructure net_structure(std::size_t stations, std::span<const Pair> pairs);

} // namespace earshot::plan
