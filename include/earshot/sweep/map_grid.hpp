#pragma once

#include "earshot/geo/geodesic.hpp"
#include "earshot/terrain/georeference.hpp"
#include "earshot/terrain/height_grid.hpp"

namespace earshot::sweep {

/// The raster a map is written on.
struct MapGrid {
    int columns = 0;
    int rows = 0;
    terrain::Georeference georeference;
};

/// The elevation's own cells that lie within `range_m` of the site (a rectangle around the circle,
/// clipped to the elevation). Throws Error(ExitCode::input) if none do.
[[nodiscard]] MapGrid terrain_map_grid(const terrain::HeightGrid& ground, geo::LatLon site,
                                       double range_m);

/// Square cells of `cell_m` in the WGS 84 / UTM zone of the site, a square around the circle of
/// `range_m`, cell edges on whole multiples of `cell_m`. Throws Error(ExitCode::usage) if the
/// raster would have more than 2^31 cells or the site lies where UTM is not defined.
[[nodiscard]] MapGrid utm_map_grid(geo::LatLon site, double range_m, double cell_m);

} // namespace earshot::sweep
