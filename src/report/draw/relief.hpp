#pragma once

#include "earshot/coverage/raster.hpp"
#include "earshot/terrain/height_grid.hpp"
#include "report/draw/layout.hpp"

#include <cstddef>
#include <vector>

namespace earshot::report {

/// A row-major raster of heights with cells of one size, row 0 in the north.
struct ReliefGrid {
    int columns = 0;
    int rows = 0;
    double cell_across_m = 1.0;
    double cell_down_m = 1.0;
    std::vector<float> height_m; ///< NaN where not known

    [[nodiscard]] std::size_t index(int column, int row) const {
        return static_cast<std::size_t>(row) * static_cast<std::size_t>(columns) +
               static_cast<std::size_t>(column);
    }
};

/// Brightness of level ground in `hillshade`.
inline constexpr double level_shade = 0.7071067811865476; // sine of the light's height, 45 degrees

/// Brightness of each cell in [0, 1], as of a matt surface lit from 45 degrees above: mostly from
/// the north-west, the custom of mapmakers, with some light from the west and the north so that
/// slopes along the main light keep their shape. NaN where the height is not known. Slopes by
/// central differences over 3 x 3 cells (B. K. P. Horn, "Hill shading and the reflectance map",
/// Proc. IEEE 69, 14-47, 1981); heights are multiplied by `exaggeration` first.
[[nodiscard]] std::vector<float> hillshade(const ReliefGrid& grid, double exaggeration);

/// The exaggeration that brings the steep slopes of this relief (the steepest tenth begins there)
/// to 35 degrees, within [0.5, 12]: mountains do not drown in black and plains still show.
[[nodiscard]] double fitted_exaggeration(const ReliefGrid& grid);

/// Of the cell in the middle of a map.
[[nodiscard]] terrain::Georeference::CellSize middle_cell_size(const coverage::CoverageRaster& map);

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

struct Contour {
    double height_m = 0.0;
    bool index = false;        ///< drawn stronger, and labelled
    std::vector<Point> points; ///< on the page
};

/// The height between contours that suits this relief on paper, 1, 2 or 5 times a power of ten, at
/// least 1 m: the least at which contours stand far enough apart to be told from one another on
/// all but the steepest twentieth of the ground, and do not turn the map grey as a whole. 0 if the
/// ground is too level for contours, or not known. `cell_pt` is the side of a cell on paper.
[[nodiscard]] double contour_interval_m(const ReliefGrid& grid, double cell_pt);

/// The height between index contours: five intervals, or four of 5, 50 or 500.
[[nodiscard]] double index_interval(double interval);

/// Contours of heights that lie on cells of equal size in `box`, by GDAL. Rings too small to be
/// told from specks are left out.
[[nodiscard]] std::vector<Contour> contours(const ReliefGrid& grid, double interval_m,
                                            const Box& box);

/// Evened out for drawing: each height becomes a weighted mean of the known ones among it and its
/// eight neighbours. Contours of raw heights wriggle from cell to cell.
[[nodiscard]] ReliefGrid smoothed(const ReliefGrid& grid);

/// A height written along an index contour, which is left out under it.
struct ContourLabel {
    std::size_t contour = 0; ///< of those given
    std::size_t first = 0;   ///< points of the contour that it takes the place of
    std::size_t last = 0;
    Point middle;
    double angle = 0.0; ///< of the baseline, radians, read from left to right
    Box box;            ///< holds the turned label
};

/// Heights on straight stretches of index contours, off `taken` and off each other.
[[nodiscard]] std::vector<ContourLabel> label_contours(cairo_t* canvas,
                                                       const std::vector<Contour>& contours,
                                                       const Box& frame, std::vector<Box> taken);

/// Draws contours, and their labels if any.
void draw_contours(cairo_t* canvas, const std::vector<Contour>& contours,
                   const std::vector<ContourLabel>& labels);

} // namespace earshot::report
