#pragma once

#include "earshot/base/task.hpp"
#include "earshot/coverage/sweep.hpp"

namespace earshot::coverage {

/// Fills the sight of `result` (already sized, all unknown) for a request of sight alone: carries
/// the steepest slope along each radial and, for each cell, takes it between the two radials on
/// either side, at the last point before the cell.
void sight_sweep(const MapGrid& map, const SweepRequest& request, SweepResult& result, Task& task);

} // namespace earshot::coverage
