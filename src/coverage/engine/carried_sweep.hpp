#pragma once

#include "earshot/base/task.hpp"
#include "earshot/coverage/sweep.hpp"

namespace earshot::coverage {

/// Whether the carried engine can work out this method's losses.
[[nodiscard]] bool carried_engine_knows(propagation::Method method);

/// Fills `result` (already sized, all unknown) by carrying the terms of the prediction along
/// radials. A cell takes the answers of the two radials on either side of it, each at the cell's
/// own range and ground height, weighted by its bearing between them. `at_roofs`: with what houses
/// cost an antenna below their roofs; then sight is that of the station's antenna at the roofs.
void carried_sweep(const MapGrid& map, const SweepRequest& request, SweepResult& result, Task& task,
                   bool at_roofs);

} // namespace earshot::coverage
