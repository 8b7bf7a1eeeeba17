#pragma once

#include "earshot/terrain/height_grid.hpp"

namespace earshot::terrain {

/// Fills voids (NaN) of at most `limit_cells` connected cells (8-neighbourhood) that do not touch
/// the edge of the grid, by inverse-distance interpolation from the rim of each. Counts go to
/// `summary`.
void fill_small_voids(HeightGrid& grid, int limit_cells, HeightSummary& summary);

} // namespace earshot::terrain
