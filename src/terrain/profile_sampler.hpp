#pragma once

#include "earshot/terrain/profile.hpp"
#include "terrain/crossings.hpp"
#include "terrain/grid_line.hpp"

#include <vector>

namespace earshot::terrain {

/// Takes many profiles over one grid without allocating or preparing anew for each. Refers to the
/// grid, which must outlive it, but has its own PROJ state: one sampler per thread.
class ProfileSampler {
public:
    explicit ProfileSampler(const HeightGrid& grid, const GroundLayers& layers = {})
        : grid_(&grid), layers_(layers), line_(grid.georeference) {}

    /// Two points of a profile are at least this far apart: positions along a geodesic are known to
    /// 1 cm (GridLine), so that crossings nearer to one another, or to an end, are one.
    static constexpr double least_gap_m = 0.01;

    /// Between four centres that lie in no plane the ground is curved. Where it rises by more than
    /// this above the straight line between two crossings, there is a point half way between them.
    static constexpr double least_bulge_m = 0.5;

    /// Profile along the WGS 84 geodesic from one position to another. With a step of 0 its points
    /// are where it crosses the lines between the centres of cells, and both ends: the edges of the
    /// bilinear surface, and the middles of its curves. With any other it has equal parts of about
    /// `step_m`. Either way it is the same from both ends, point for point: it is always laid from
    /// the one farther south, or west. A path shorter than `least_length_m` is made so long.
    /// Heights are bilinear, cover and zones those of the cell that a point lies in; points off the
    /// grid or in a void are NaN. Throws Error(Fault::usage) unless `step_m` is 0 or more.
    void sample(geo::LatLon from, geo::LatLon to, double step_m, Profile& profile,
                double least_length_m = 0.0);

private:
    void add(double distance_m, CellPosition cell, Profile& profile) const;
    void add_crossings(double length_m, Profile& profile);
    void add_middle(double distance_m, CellPosition cell, CellPosition after,
                    Profile& profile) const;
    void add_parts(double length_m, double step_m, Profile& profile) const;

    const HeightGrid* grid_;
    GroundLayers layers_;
    GridLine line_;
    CrossingFinder finder_;
    std::vector<Crossing> crossings_;
};

} // namespace earshot::terrain
