#include "map_layout.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace earshot::report {
namespace {

Box moved_inside(Box box, const Box& frame) {
    box.x = std::max(std::min(box.x, frame.right() - box.width), frame.x);
    box.y = std::max(std::min(box.y, frame.bottom() - box.height), frame.y);
    return box;
}

} // namespace

double overlap_area(const Box& a, const Box& b) {
    const double width = std::min(a.right(), b.right()) - std::max(a.x, b.x);
    const double height = std::min(a.bottom(), b.bottom()) - std::max(a.y, b.y);
    return width > 0.0 && height > 0.0 ? width * height : 0.0;
}

PictureColumns picture_columns(int width_px, double aspect) {
    constexpr double tallest = 1.5; // in widths of the map area: more would not fit a screen
    PictureColumns columns;
    // Letters of narrow pictures shrink less than the picture: they must stay readable.
    columns.unit = std::max(width_px / 1600.0, 0.7);
    columns.margin = std::round(30.0 * columns.unit);
    columns.panel_width = std::round(370.0 * columns.unit);
    columns.map_area_width = width_px - 3.0 * columns.margin - columns.panel_width;
    const double width =
        std::min(columns.map_area_width, tallest * columns.map_area_width / aspect);
    columns.map_width = std::max(2, static_cast<int>(std::lround(width)));
    columns.map_height = std::max(2, static_cast<int>(std::lround(width * aspect)));
    return columns;
}

PictureLayout lay_out_picture(int width_px, const PictureColumns& columns,
                              const SetHeights& heights) {
    const double margin = columns.margin;
    const double inner_width = width_px - 2.0 * margin;
    const double body_height = std::max<double>(columns.map_height, heights.panel);
    PictureLayout layout;
    layout.width = width_px;
    layout.header = {margin, margin, inner_width, heights.header};
    const double body_top = std::ceil(layout.header.bottom() + 0.7 * margin);
    layout.map = {margin + std::floor((columns.map_area_width - columns.map_width) / 2.0), body_top,
                  static_cast<double>(columns.map_width), static_cast<double>(columns.map_height)};
    layout.panel = {2.0 * margin + columns.map_area_width, body_top, columns.panel_width,
                    body_height};
    layout.footer = {margin, body_top + body_height + 0.6 * margin, inner_width, heights.footer};
    layout.height = static_cast<int>(std::ceil(layout.footer.bottom() + 0.7 * margin));
    return layout;
}

double round_length(double most) {
    const double power = std::pow(10.0, std::floor(std::log10(most)));
    for (const double step : {5.0, 2.0}) {
        if (step * power <= most) {
            return step * power;
        }
    }
    return power;
}

Box place_label(const Box& frame, const Box& mark, double width, double height, double gap,
                const std::vector<Box>& taken) {
    const double middle_x = mark.x + mark.width / 2.0;
    const double middle_y = mark.y + mark.height / 2.0;
    const double right = mark.right() + gap;
    const double left = mark.x - gap - width;
    const double above = mark.y - gap - height;
    const double below = mark.bottom() + gap;
    const std::array<Box, 8> places{{{right, middle_y - height / 2.0, width, height},
                                     {left, middle_y - height / 2.0, width, height},
                                     {middle_x - width / 2.0, above, width, height},
                                     {middle_x - width / 2.0, below, width, height},
                                     {right, above, width, height},
                                     {right, below, width, height},
                                     {left, above, width, height},
                                     {left, below, width, height}}};
    Box best;
    double least = std::numeric_limits<double>::infinity();
    for (const Box& place : places) {
        const Box inside = moved_inside(place, frame);
        double covered = overlap_area(inside, mark);
        for (const Box& other : taken) {
            covered += overlap_area(inside, other);
        }
        if (covered < least) {
            least = covered;
            best = inside;
        }
    }
    return best;
}

} // namespace earshot::report
