#pragma once

#include "earshot/coverage/raster.hpp"
#include "earshot/terrain/height_grid.hpp"
#include "report/draw/canvas.hpp"

namespace earshot::report {

/// A map's colours, pixel by pixel: coverage in classes over shaded relief; where nothing is known,
/// the relief veiled and hatched. `hatch_px` is the way from one line of the hatch to the next.
[[nodiscard]] Surface paint_map(const coverage::CoverageRaster& map,
                                const terrain::HeightGrid& ground, int width_px, int height_px,
                                double hatch_px);

/// The same hatch and veil on a small piece of level ground, for legends.
[[nodiscard]] Surface paint_unknown(int width_px, int height_px, double hatch_px);

} // namespace earshot::report
