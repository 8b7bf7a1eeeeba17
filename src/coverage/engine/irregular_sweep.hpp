#pragma once

#include "earshot/base/task.hpp"
#include "earshot/coverage/sweep.hpp"

#include <vector>

namespace earshot::coverage {

/// Losses by the irregular terrain model over bare ground at the centre of every cell, whatever the
/// request's method, dB; NaN where not known and outside the model's limits. The exact engine takes
/// the profile that a path does; the carried one a radial through the very cell, which has the same
/// points but for single precision: nothing is interpolated between radials.
[[nodiscard]] std::vector<float> irregular_losses_db(const MapGrid& map,
                                                     const SweepRequest& request, Task& task);

} // namespace earshot::coverage
