#pragma once

#include "earshot/geo/geodesic.hpp"

#include <string>

namespace earshot::geo {

/// A place on a grid of metres: of a UTM zone, or of the polar grids in zone 0.
struct GridPlace {
    int zone = 0;
    bool north = true;
    double x_m = 0.0;
    double y_m = 0.0;
};

/// The grid of a position's own zone, or around the pole beyond the limits of UTM.
[[nodiscard]] GridPlace grid_place(LatLon position);
/// Throws Error(Fault::usage) beyond the grid.
[[nodiscard]] LatLon position_of(const GridPlace& place);

/// The 1 m square of MGRS that holds a place.
[[nodiscard]] std::string mgrs_square(const GridPlace& place, double lat_deg);
/// The centre of a square. Throws Error(Fault::usage) with the reason.
[[nodiscard]] GridPlace mgrs_place(const std::string& square);

} // namespace earshot::geo
