#pragma once

#include "earshot/sweep/raster.hpp"
#include "earshot/terrain/height_grid.hpp"

#include <vector>

namespace earshot::report {

/// Brightness of the ground (see `hillshade`) for each pixel of a picture of `map` that is
/// `width_px` by `height_px`, row-major; NaN where the ground is not known.
[[nodiscard]] std::vector<float> relief_under(const sweep::CoverageRaster& map,
                                              const terrain::HeightGrid& ground, int width_px,
                                              int height_px);

} // namespace earshot::report
