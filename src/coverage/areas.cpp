#include "coverage/areas.hpp"

#include <cmath>
#include <cstddef>

namespace earshot::coverage {

Areas measure_areas(std::span<const float> values, double least, const MapGrid& map) {
    Areas areas;
    const auto columns = static_cast<std::size_t>(map.columns);
    for (int row = 0; row < map.rows; ++row) {
        std::size_t known = 0;
        std::size_t reached = 0;
        for (const float value : values.subspan(static_cast<std::size_t>(row) * columns, columns)) {
            known += std::isnan(value) ? 0U : 1U;
            reached += static_cast<double>(value) >= least ? 1U : 0U;
        }
        if (known > 0) {
            // Cells in degrees are narrower the farther they lie from the equator.
            const auto size = map.georeference.cell_size_at(
                map.georeference.position_of({map.columns / 2.0, static_cast<double>(row)}));
            const double cell_km2 = size.across_m * size.down_m / 1e6;
            areas.known_km2 += static_cast<double>(known) * cell_km2;
            areas.reached_km2 += static_cast<double>(reached) * cell_km2;
        }
    }
    return areas;
}

} // namespace earshot::coverage
