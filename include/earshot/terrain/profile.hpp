#pragma once

#include "earshot/geo/geodesic.hpp"
#include "earshot/terrain/ground_cover.hpp"
#include "earshot/terrain/height_grid.hpp"

#include <cstddef>
#include <cstdint>
#include <vector>

/// The ground along a path. The promise: it is the same ground from either end, and no ridge of the
/// elevation is missed.
///
///     const terrain::Profile profile = terrain::sample_profile(ground, ridge, camp);

namespace earshot::terrain {

/// Ground along one geodesic, from the transmitter (first point) to the receiver (last point).
/// All vectors have the same length, at least 2; `distance_km` starts at 0 and increases.
struct Profile {
    std::vector<double> distance_km;
    std::vector<double> ground_m; ///< above sea level; NaN where the terrain has a void
    std::vector<double> cover_m;  ///< height of ground cover above the ground, 0 if none
    /// The ground holds its cover: `cover_m` says what stands there, and adds nothing to the
    /// height.
    bool surface = false;
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

/// The profile from `from` to `to`: a point wherever the geodesic crosses the lines that join the
/// centres of the grid's cells, along which the ground between them has its ridges, and both ends.
/// With a `step_m` above 0, equal parts of about that length instead, which may miss a ridge.
/// `from` and `to` that coincide give a profile of two points at distance 0 apart only by rounding:
/// the caller checks for that. Throws Error(Fault::usage) if the step is below 0 or not a number.
[[nodiscard]] Profile sample_profile(const HeightGrid& grid, geo::LatLon from, geo::LatLon to,
                                     double step_m = 0.0, const GroundLayers& layers = {});

/// The same ground from the other end.
[[nodiscard]] Profile reversed(const Profile& profile);

/// The smaller side of a cell at a position, in metres.
[[nodiscard]] double natural_step_m(const HeightGrid& grid, geo::LatLon at);

} // namespace earshot::terrain
