#pragma once

#include "plan/candidates.hpp"

#include <limits>

namespace earshot::test {

/// Every allowed cell: the reference that the choice of prominent places is measured against.
inline plan::CandidateSet all_cells(const terrain::HeightGrid& ground,
                                    std::span<const plan::Constraint> constraints) {
    plan::CandidateOptions options;
    options.most = std::numeric_limits<std::size_t>::max();
    options.view_range_m = 1.0; // nobody asks for the view
    return plan::find_candidates(ground, constraints, options);
}

} // namespace earshot::test
