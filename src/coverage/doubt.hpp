#pragma once

#include "earshot/coverage/sweep.hpp"

#include <vector>

namespace earshot::coverage {

/// By how much the median loss of a second model differs from that of the request's method in each
/// cell, dB: propagation::apart_db() of the path to its centre. NaN where not known; everywhere if
/// the method has no second. `swept_db` is what sweep() found for the same request: it saves a
/// sweep where it is the loss wanted.
[[nodiscard]] std::vector<float> doubt_values(const MapGrid& map, const SweepRequest& request,
                                              const std::vector<float>& swept_db,
                                              Task& task = silent_task());

} // namespace earshot::coverage
