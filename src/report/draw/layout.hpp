#pragma once

#include <functional>
#include <string>

/// As cairo itself declares it: who only passes a canvas on needs no more.
using cairo_t = struct _cairo; // NOLINT(bugprone-reserved-identifier): the name cairo gave it

namespace earshot::report {

/// A position on a page or picture.
struct Point {
    double x = 0.0;
    double y = 0.0;
};

/// A rectangle on a page or picture, from its upper left corner.
struct Box {
    double x = 0.0;
    double y = 0.0;
    double width = 0.0;
    double height = 0.0;

    [[nodiscard]] double right() const { return x + width; }
    [[nodiscard]] double bottom() const { return y + height; }
    [[nodiscard]] Point middle() const { return {x + width / 2.0, y + height / 2.0}; }
    /// False for NaN.
    [[nodiscard]] bool holds(Point point) const {
        return point.x >= x && point.x <= right() && point.y >= y && point.y <= bottom();
    }
    /// Made larger by `rim` on each side.
    [[nodiscard]] Box grown(double rim) const {
        return {x - rim, y - rim, width + 2.0 * rim, height + 2.0 * rim};
    }
};

[[nodiscard]] double overlap_area(const Box& a, const Box& b);

/// Whether a straight line from a to b touches a box.
[[nodiscard]] bool crosses(Point a, Point b, const Box& box);

/// The longest of 1, 2 or 5 times a power of ten that is at most `most`.
[[nodiscard]] double round_length(double most);
/// The shortest that is at least `least`.
[[nodiscard]] double round_length_above(double least);
/// Spacing of ticks: such a length, so that at most `most` steps fit into `length`.
[[nodiscard]] inline double tick_step(double length, int most) {
    return round_length_above(length / most);
}

/// What stands at the edge of every page.
struct PageWords {
    std::string right; ///< at the right of the title: net and date, one or two short lines
    std::string foot;  ///< model, correction and cautions
    std::string page;  ///< "page 3 of 7"; may be empty
};

/// One of several pages that belong together, ready to be drawn: it fills the area that it was laid
/// out for.
using PageDrawing = std::function<void(cairo_t*, const PageWords&)>;

} // namespace earshot::report
