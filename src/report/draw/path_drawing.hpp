#pragma once

#include "earshot/link/path.hpp"
#include "report/draw/pen.hpp"

#include <string>
#include <vector>

namespace earshot::report {

/// Draws a path seen from the side: ground and cover over the curved earth, both antennas, the line
/// of sight, the first Fresnel zone and 0.6 of it, the edges that matter, axes in km, miles, metres
/// and feet, and what is drawn how.
void draw_path_section(const Pen& pen, const Box& area, const link::TwoWayPath& path);

/// Draws the budget of both directions line by line, at the top of `area`. Returns the y under it.
double draw_budget(const Pen& pen, const Box& area, const link::TwoWayPath& path);

/// Spacing of ticks: 1, 2 or 5 times a power of ten, so that at most `most` steps fit a length.
[[nodiscard]] inline double tick_step(double length, int most) {
    return round_length_above(length / most);
}

/// A short text on a pole over a point.
struct Flag {
    double x = 0.0;     ///< of the pole
    double width = 0.0; ///< of the text
    int row = 0;        ///< set by place_flags(): 0 is the highest
    bool left = false;  ///< set by place_flags(): the text is left of the pole, else right
};

/// Places flags in `rows` rows between `left` and `right` so that no text covers another or the
/// pole of another, as far as that can be done, with poles as short as can be. Meant for up to six:
/// every way of placing them is looked at. False if it could not be done.
bool place_flags(std::vector<Flag>& flags, int rows, double left, double right);

} // namespace earshot::report
