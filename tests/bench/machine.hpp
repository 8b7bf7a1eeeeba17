#pragma once

#include "tables.hpp"

namespace earshot::bench {

/// The machine and the build that the numbers belong to. `threads` is what the benchmarks use.
[[nodiscard]] Table describe_machine(unsigned threads);

/// Processes that wanted to run, on average over the last minute, as the system counts them.
[[nodiscard]] double load_average();

} // namespace earshot::bench
