#pragma once

#include "earshot/base/task.hpp"
#include "earshot/coverage/sweep.hpp"

#include <vector>

namespace earshot::coverage {

/// Losses by the irregular terrain model over bare ground at the centre of every cell, whatever the
/// request's method, dB; NaN where not known and outside the model's limits. The exact engine takes
/// the profile that a path does. The carried one mixes what two radials say, or takes one for the
/// cell alone where they part: of cells over rough ground half are within 0.15 dB of the path, 95 %
/// within 1.2 dB and 99 % within 3.5 dB; where the model's own answer jumps, a cell may be off by
/// all of the jump, up to 20 dB.
[[nodiscard]] std::vector<float> irregular_losses_db(const MapGrid& map,
                                                     const SweepRequest& request, Task& task);

} // namespace earshot::coverage
