#pragma once

#include "report/draw/contours.hpp"

#include <cairo.h>

#include <cstddef>
#include <vector>

namespace earshot::report {

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
