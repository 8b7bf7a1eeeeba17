#pragma once

#include "earshot/geo/geodesic.hpp"
#include "earshot/terrain/georeference.hpp"
#include "earshot/terrain/height_grid.hpp"

#include <string>

namespace earshot::terrain {

/// What follows "... is off the elevation": from where to where it runs, and which slip in writing
/// the position would explain it (a sign, latitude and longitude swapped, another UTM zone).
[[nodiscard]] std::string off_ground_words(const Georeference& georeference, int columns, int rows,
                                           geo::LatLon position);

/// What follows "... is" of a position without a known height: off the elevation, or in a void.
[[nodiscard]] std::string no_height_words(const HeightGrid& ground, geo::LatLon position);

} // namespace earshot::terrain
