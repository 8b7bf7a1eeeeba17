#pragma once

#include "earshot/base/task.hpp"
#include "earshot/link/path.hpp"

#include <optional>
#include <vector>

/// How high an antenna must stand for a path to work.

namespace earshot::plan {

enum class PathEnd { first, second };

struct MastRequest : link::Setting {
    PathEnd end = PathEnd::first;  ///< whose antenna is raised
    double wanted_margin_db = 0.0; ///< both ways
    double lowest_m = 1.0;         ///< above the ground, >= 0
    double highest_m = 30.0;       ///< the limit, above `lowest_m`, at most 3000
    double height_step_m = 0.5;    ///< between heights looked at, > 0; at most 20000 heights
};

struct MastRow {
    double height_m = 0.0;
    link::PathMargins margins; ///< out: from the first station to the second
};

/// A range of heights over which the margin falls as the antenna rises.
struct MarginFall {
    double from_m = 0.0;
    double to_m = 0.0;
    double fall_db = 0.0;
};

struct MastAnswer {
    /// The least height with the wanted margin, to 1 cm where the margin is continuous; none if no
    /// height looked at up to the limit has it.
    std::optional<double> least_height_m;
    MastRow best;                  ///< the height with the largest margin
    std::vector<MastRow> table;    ///< margin against height
    std::vector<MarginFall> falls; ///< of more than 0.1 dB, in order of height
    /// Least height from which on every height looked at has the wanted margin; more than
    /// `least_height_m` where the margin falls below it again.
    std::optional<double> safe_from_m;
    /// The first height of the table with the wanted margin by a second model (link::Direction);
    /// none if none has it, or no such model has a say.
    std::optional<double> second_height_m;
    bool second_has_say = false; ///< at the best height
};

/// Raises one antenna of a path from the lowest to the highest height and tells where the wanted
/// margin is met. Margins are those of link::two_way_path() with that antenna height; the station's
/// own height is not used at the end that is raised. Throws Error(Fault::usage) for heights or a
/// step out of range, and as link::two_way_path() does.
[[nodiscard]] MastAnswer least_mast(const link::Station& a, const link::Station& b,
                                    const MastRequest& request, const Task& task = silent_task());

} // namespace earshot::plan
