#pragma once

#include "earshot/geo/geodesic.hpp"
#include "earshot/terrain/georeference.hpp"
#include "earshot/terrain/height_grid.hpp"

#include <cstddef>
#include <span>

/// The cells of a map.
///
///     const coverage::MapGrid map = coverage::utm_map_grid(ridge, 2000.0, 50.0);
///     const geo::LatLon first = map.georeference.position_of({0.0, 0.0});

namespace earshot::coverage {

/// The raster a map is written on.
struct MapGrid {
    int columns = 0;
    int rows = 0;
    terrain::Georeference georeference;

    /// The centre of a cell by its place in the rows, one after the other.
    [[nodiscard]] geo::LatLon centre_of(std::size_t cell) const;
};

/// The elevation's own cells that lie within `range_m` of any of the sites (a rectangle around the
/// circles, clipped to the elevation). Throws Error(Fault::input) if none do.
[[nodiscard]] MapGrid terrain_map_grid(const terrain::HeightGrid& ground,
                                       std::span<const geo::LatLon> sites, double range_m);
[[nodiscard]] MapGrid terrain_map_grid(const terrain::HeightGrid& ground, geo::LatLon site,
                                       double range_m);

/// Square cells of `cell_m` in the WGS 84 / UTM zone of the first site, a rectangle around the
/// circles of `range_m`, cell edges on whole multiples of `cell_m`. Throws Error(Fault::usage)
/// if the raster would have more than 2^31 cells or the site lies where UTM is not defined.
[[nodiscard]] MapGrid utm_map_grid(std::span<const geo::LatLon> sites, double range_m,
                                   double cell_m);
[[nodiscard]] MapGrid utm_map_grid(geo::LatLon site, double range_m, double cell_m);

} // namespace earshot::coverage
