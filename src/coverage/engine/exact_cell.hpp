#pragma once

#include "earshot/coverage/sweep.hpp"
#include "earshot/terrain/profile.hpp"

#include <cstdint>

namespace earshot::coverage {

/// Predicts single cells, each over a fresh profile along the geodesic to its centre. The exact
/// engine does so for every cell, the carried one near the site, where profiles have few points.
/// One object per thread; it refers to its arguments, which must outlive it.
class ExactCell {
public:
    ExactCell(const MapGrid& map, const SweepRequest& request);
    /// Fills the cell's place in `result` if it is within `range_m`, and counts it.
    void predict(int column, int row, double range_m, SweepResult& result);
    /// Adds what this object has counted to the result's totals.
    void add_counts_to(SweepResult& result) const;

private:
    const SweepRequest& request_;
    int columns_;
    terrain::Georeference map_georeference_;
    link::PathPredictor predictor_;
    std::uint64_t predicted_ = 0;
    std::uint64_t off_terrain_ = 0;
    std::uint64_t behind_void_ = 0;
};

} // namespace earshot::coverage
