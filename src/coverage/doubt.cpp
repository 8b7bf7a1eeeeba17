#include "coverage/doubt.hpp"

#include "coverage/engine/irregular_sweep.hpp"
#include "propagation/second_opinion.hpp"

#include <limits>

namespace earshot::coverage {

std::vector<float> doubt_values(const MapGrid& map, const SweepRequest& request,
                                const std::vector<float>& swept_db, Task& task) {
    using propagation::Method;
    const propagation::Conditions& asked = request.conditions;
    const auto second = propagation::second_method(asked.method);
    if (!second) {
        return std::vector<float>(swept_db.size(), std::numeric_limits<float>::quiet_NaN());
    }
    SweepRequest median = request;
    median.conditions = propagation::median_outdoors(asked);
    median.layers.cover = nullptr;
    median.with_sight = false;
    // What was measured in the field is of neither model.
    median.conditions.field_offset_db = 0.0;
    median.field_reach.reset();
    const bool swept = asked.field_offset_db == 0.0 && asked.time_percent == 50.0 &&
                       asked.location_percent == 50.0 && !asked.building_entry &&
                       request.layers.cover == nullptr;
    // Of the two, one is the irregular terrain model.
    const bool first_is_irregular = *second != Method::irregular_terrain;
    std::vector<float> values = irregular_losses_db(map, median, task);
    if (first_is_irregular) {
        median.conditions.method = *second;
    }
    const std::vector<float> other_db =
        swept && !first_is_irregular ? swept_db : sweep(map, median, task).loss_db;
    for (std::size_t i = 0; i < values.size(); ++i) {
        values[i] = first_is_irregular ? other_db[i] - values[i] : values[i] - other_db[i];
    }
    return values;
}

} // namespace earshot::coverage
