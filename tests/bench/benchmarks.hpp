#pragma once

#include "grounds.hpp"
#include "launch.hpp"
#include "tables.hpp"

#include <vector>

namespace earshot::bench {

struct Workshop {
    Grounds& grounds;
    const ScratchFolder& scratch;
    unsigned threads;
};

[[nodiscard]] std::vector<Table> bench_paths(Workshop& shop);
[[nodiscard]] std::vector<Table> bench_map(Workshop& shop);
[[nodiscard]] std::vector<Table> bench_agreement(Workshop& shop);
[[nodiscard]] std::vector<Table> bench_doubt(Workshop& shop);
[[nodiscard]] std::vector<Table> bench_growth(Workshop& shop);
[[nodiscard]] std::vector<Table> bench_program(Workshop& shop);
/// Predictions against real readings.
[[nodiscard]] std::vector<Table> bench_truth(Workshop& shop);
/// Takes minutes, 2 GB of disk and several of memory.
[[nodiscard]] std::vector<Table> bench_huge(Workshop& shop);

} // namespace earshot::bench
