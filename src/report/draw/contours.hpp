#pragma once

#include "report/draw/hillshade.hpp"
#include "report/draw/map_layout.hpp"

#include <vector>

namespace earshot::report {

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

/// The height between index contours: five intervals, or four of 5, 50 or 500 m.
[[nodiscard]] double index_interval_m(double interval_m);

/// Contours of heights that lie on cells of equal size in `box`, by GDAL. Rings too small to be
/// told from specks are left out.
[[nodiscard]] std::vector<Contour> contours(const ReliefGrid& grid, double interval_m,
                                            const Box& box);

/// Evened out for drawing: each height becomes a weighted mean of the known ones among it and its
/// eight neighbours. Contours of raw heights wriggle from cell to cell.
[[nodiscard]] ReliefGrid smoothed(const ReliefGrid& grid);

} // namespace earshot::report
