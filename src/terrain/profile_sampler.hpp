#pragma once

#include "earshot/terrain/profile.hpp"
#include "terrain/grid_line.hpp"

namespace earshot::terrain {

/// Takes many profiles over one grid without allocating or preparing anew for each. Refers to the
/// grid, which must outlive it, but has its own PROJ state: one sampler per thread.
class ProfileSampler {
public:
    explicit ProfileSampler(const HeightGrid& grid, const GroundLayers& layers = {})
        : grid_(&grid), layers_(layers), line_(grid.georeference) {}

    /// Profile along the WGS 84 geodesic that leaves `from` at `bearing_deg`: a point every
    /// `step_m` from there, and one at the end, half a step to one and a half beyond the last.
    /// Counting from the transmitter rather than dividing the length puts the points of every path
    /// along one bearing at the same places, so that a receiver a little farther off is predicted
    /// over the same ground. Heights are bilinear; points off the grid or in a void are NaN. Throws
    /// Error(Fault::usage) unless `step_m` is positive.
    void sample(geo::LatLon from, double bearing_deg, double length_m, double step_m,
                Profile& profile);

private:
    const HeightGrid* grid_;
    GroundLayers layers_;
    GridLine line_;
};

} // namespace earshot::terrain
