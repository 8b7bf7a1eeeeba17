#pragma once

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

} // namespace earshot::report
