#pragma once

#include "earshot/coverage/map_grid.hpp"

#include <span>

namespace earshot::coverage {

struct Areas {
    double known_km2 = 0.0;   ///< of the cells whose value is known
    double reached_km2 = 0.0; ///< of those, where it is at least the one asked for
};

/// Sums up the cells of a map by their values, row by row.
[[nodiscard]] Areas measure_areas(std::span<const float> values, double least, const MapGrid& map);

} // namespace earshot::coverage
