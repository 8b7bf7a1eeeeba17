#include "propagation/second_opinion.hpp"

#include "earshot/base/error.hpp"
#include "propagation/irregular_terrain.hpp"
#include "propagation/p1812.hpp"

#include <algorithm>
#include <limits>

namespace earshot::propagation {
namespace {

constexpr double unknown = std::numeric_limits<double>::quiet_NaN();

bool is_bare(const terrain::Profile& profile) {
    return std::all_of(profile.cover_m.begin(), profile.cover_m.end(),
                       [](double height_m) { return height_m == 0.0; });
}

/// Whether bare_median_loss() is the loss itself.
bool asks_for_it(const terrain::Profile& profile, const Conditions& conditions) {
    return conditions.time_percent == 50.0 && conditions.location_percent == 50.0 &&
           !conditions.building_entry && is_bare(profile);
}

/// The loss to compare; NaN outside the limits.
double compared_db(const PathLoss& loss) {
    return loss.irregular_terrain && !loss.irregular_terrain->within_limits ? unknown
                                                                            : loss.basic_loss_db;
}

} // namespace

std::optional<Method> second_method(Method method) {
    if (from_p1812(method)) {
        return Method::irregular_terrain;
    }
    return method == Method::irregular_terrain ? std::optional(Method::short_range) : std::nullopt;
}

Conditions median_outdoors(const Conditions& conditions) {
    Conditions median = conditions;
    median.time_percent = median.location_percent = 50.0;
    median.building_entry.reset();
    return median;
}

PathLoss bare_median_loss(const terrain::Profile& profile, AntennaHeights heights,
                          const Conditions& conditions) {
    const Conditions median = median_outdoors(conditions);
    if (is_bare(profile)) {
        return path_loss(profile, heights, median);
    }
    terrain::Profile bare = profile;
    bare.cover_m.assign(profile.size(), 0.0);
    bare.woodland.clear();
    return path_loss(bare, heights, median);
}

SecondOpinion second_opinion(const terrain::Profile& profile, AntennaHeights heights,
                             const Conditions& conditions) {
    const std::optional<Method> second = second_method(conditions.method);
    if (!second || profile.has_void()) {
        return {};
    }
    Conditions other = conditions;
    other.method = *second;
    try {
        PathLoss loss = bare_median_loss(profile, heights, other);
        std::vector<std::string> warnings =
            loss.irregular_terrain ? loss.irregular_terrain->warnings : loss.p1812->warnings;
        return {std::move(loss), std::move(warnings)};
    } catch (const Error& refused) {
        // The method asked for took the value; only the second does not.
        if (refused.fault() != Fault::usage) {
            throw;
        }
        return {std::nullopt, {refused.what()}};
    }
}

double apart_db(const terrain::Profile& profile, AntennaHeights heights,
                const Conditions& conditions, const PathLoss* known) {
    const SecondOpinion second = second_opinion(profile, heights, conditions);
    if (!second.loss) {
        return unknown;
    }
    return compared_db(*second.loss) -
           compared_db(known != nullptr && asks_for_it(profile, conditions)
                           ? *known
                           : bare_median_loss(profile, heights, conditions));
}

} // namespace earshot::propagation
