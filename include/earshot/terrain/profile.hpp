#pragma once

#include "earshot/geo/geodesic.hpp"
#include "earshot/terrain/ground_cover.hpp"
#include "earshot/terrain/height_grid.hpp"
#include "terrain/grid_line.hpp"

#include <cstddef>
#include <cstdint>
#include <vector>

namespace earshot::terrain {

/// Ground along one geodesic, from the transmitter (first point) to the receiver (last point).
/// All vectors have the same length, at least 2; `distance_km` starts at 0 and increases.
struct Profile {
    std::vector<double> distance_km;
    std::vector<double> ground_m; ///< above sea level; NaN where the terrain has a void
    std::vector<double> cover_m;  ///< height of ground cover above the ground, 0 if none
    /// Not 0 where the cover is woodland; empty if no cover was given.
    std::vector<std::uint8_t> woodland;
    /// Radio-climatic zone codes of ITU-R profile files (1 sea, 3 coastal land, 4 inland); empty if
    /// none were given: all inland.
    std::vector<std::uint8_t> zone;
    /// Latitude of the middle of the path, on a sphere; the climate changes with it.
    double centre_latitude_deg = 0.0;

    [[nodiscard]] double length_km() const { return distance_km.back(); }
    [[nodiscard]] std::size_t size() const { return distance_km.size(); }
    [[nodiscard]] bool has_void() const;
};

/// What lies on the ground, cell by cell of its height grid. Either may be absent.
struct GroundLayers {
    const GroundCover* cover = nullptr;
    /// Radio-climatic zones, read as cover with the table zone_table(): the class code is the zone.
    const GroundCover* zones = nullptr;
};

/// Table for a raster of radio-climatic zones: 1 sea, 3 coastal land, 4 inland (the codes of ITU-R
/// profile files; Recommendation ITU-R P.1812-8 section 3.6).
[[nodiscard]] const CoverTable& zone_table();

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

/// The profile from `from` to `to`, as ProfileSampler takes it. `from` and `to` that coincide
/// give a profile of two points at distance 0 apart only by rounding: the caller checks for that.
[[nodiscard]] Profile sample_profile(const HeightGrid& grid, geo::LatLon from, geo::LatLon to,
                                     double step_m, const GroundLayers& layers = {});

/// The same ground from the other end.
[[nodiscard]] Profile reversed(const Profile& profile);

/// The step that resolves a grid at a position: the smaller side of a cell, in metres.
[[nodiscard]] double natural_step_m(const HeightGrid& grid, geo::LatLon at);

} // namespace earshot::terrain
