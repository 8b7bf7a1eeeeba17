#pragma once

#include "maths/cover.hpp"

/// The best choice of sites by integer programming. The only part of this room that needs a solver:
/// without it, choose_greedily() does.

namespace earshot::maths {

struct CoverLimits {
    double seconds = 20.0;          ///< for the exact method
    std::size_t exact_sites = 5000; ///< larger problems, after merging, go to the greedy method
    std::size_t exact_items = 5000;
    std::size_t exact_entries = 1000000; ///< pairs of a site and an item it covers
};

/// Chooses sites as choose_greedily() does and then betters the choice by CBC's branch and cut;
/// where time runs out, the better of both counts. Linking is enforced by cutting off each choice
/// that does not hang together: of a group of chosen sites without a way to the base (or to the
/// others), one of its neighbours must be chosen too if it is to stay.
[[nodiscard]] CoverAnswer choose_sites(const CoverProblem& problem, const CoverLimits& limits,
                                       Task& task = silent_task());

} // namespace earshot::maths
