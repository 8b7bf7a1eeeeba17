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
    /// The loss to a cell's centre, without counting it; NaN where not known.
    [[nodiscard]] double loss_db(int column, int row);
    /// Adds what this object has counted to the result's totals.
    void add_counts_to(SweepResult& result) const;

private:
    /// All NaN if the profile holds a void.
    [[nodiscard]] propagation::PathLoss path_to(const geo::GeodesicPath& line);

    const SweepRequest& request_;
    int columns_;
    terrain::Georeference map_georeference_;
    link::PathPredictor predictor_;
    std::uint64_t predicted_ = 0;
    std::uint64_t off_terrain_ = 0;
    std::uint64_t behind_void_ = 0;
};

} // namespace earshot::coverage
