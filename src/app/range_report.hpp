#pragma once

#include "plan/foot_range.hpp"

#include <nlohmann/json.hpp>

namespace earshot::app {

/// The range on foot in numbers and words, as the commands range and ladder print it.
[[nodiscard]] inline nlohmann::ordered_json range_json(const plan::FootRange& range) {
    return {{"words", range.words},
            {"typical_m", range.typical_m},
            {"three_quarters_of_directions_m", range.quarter_m},
            {"one_quarter_of_directions_m", range.three_quarters_m},
            {"best_m", range.best.reach_m},
            {"best_bearing_deg", range.best.bearing_deg},
            {"worst_m", range.worst.reach_m},
            {"worst_bearing_deg", range.worst.bearing_deg},
            {"area_km2", range.area_km2}};
}

} // namespace earshot::app
