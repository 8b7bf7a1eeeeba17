#pragma once

#include "earshot/base/progress.hpp"
#include "earshot/sweep/sweep.hpp"

namespace earshot::sweep {

/// Fills the sight of `result` (already sized, all unknown) for a request of sight alone: carries
/// the steepest slope along each radial and, for each cell, takes it between the two radials on
/// either side, at the last point before the cell.
void sight_sweep(const terrain::HeightGrid& ground, const MapGrid& map, const SweepRequest& request,
                 SweepResult& result, Progress* progress);

} // namespace earshot::sweep
