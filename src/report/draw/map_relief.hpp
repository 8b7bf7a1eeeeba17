#pragma once

#include "earshot/coverage/raster.hpp"
#include "earshot/terrain/height_grid.hpp"
#include "report/draw/hillshade.hpp"

#include <vector>

namespace earshot::report {

/// Heights under the map, as fine as a picture of `width_px` by `height_px` but no finer than the
/// ground itself: slopes between interpolated heights would show the seams of the interpolation.
/// The cells cover the map from edge to edge; NaN where the ground is not known.
[[nodiscard]] ReliefGrid heights_under(const coverage::CoverageRaster& map,
                                       const terrain::HeightGrid& ground, int width_px,
                                       int height_px);

/// Brightness of the ground (see `hillshade`) for each pixel of a picture of `map` that is
/// `width_px` by `height_px`, row-major; NaN where the ground is not known.
[[nodiscard]] std::vector<float> relief_under(const coverage::CoverageRaster& map,
                                              const terrain::HeightGrid& ground, int width_px,
                                              int height_px);

} // namespace earshot::report
