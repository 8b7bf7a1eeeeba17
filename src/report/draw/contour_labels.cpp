#include "report/draw/contour_labels.hpp"

#include "report/draw/canvas.hpp"
#include "report/draw/map_style.hpp"
#include "report/draw/text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

namespace earshot::report {
namespace {

const TextStyle height_style{5.6, false, map_style::ink};
constexpr double room_around = 1.6; // between the line's ends and the number

double length_between(Point a, Point b) {
    return std::hypot(b.x - a.x, b.y - a.y);
}

/// Length from the first point of a line to each of its points.
std::vector<double> lengths_along(const std::vector<Point>& line) {
    std::vector<double> along{0.0};
    for (std::size_t k = 1; k < line.size(); ++k) {
        along.push_back(along.back() + length_between(line[k - 1], line[k]));
    }
    return along;
}

Box turned_box(Point middle, double width, double height, double angle) {
    const double across = std::abs(std::cos(angle));
    const double down = std::abs(std::sin(angle));
    const double w = width * across + height * down;
    const double h = width * down + height * across;
    return {middle.x - w / 2.0, middle.y - h / 2.0, w, h};
}

/// The straightest stretch of a contour that a label can take, near the middle of a piece of it.
std::optional<ContourLabel> best_label(const Contour& contour, const std::vector<double>& along,
                                       double from, double to, double width, double height,
                                       const Box& frame, const std::vector<Box>& taken) {
    constexpr double least_straightness = 0.93; // of the chord, in lengths along the line
    constexpr double least_clear = 5.0;         // around the label
    std::optional<ContourLabel> best;
    double straightest = least_straightness;
    const double reach = width + 2.0 * room_around;
    const std::vector<Point>& line = contour.points;
    for (std::size_t first = 0; first + 1 < line.size(); ++first) {
        if (along[first] < from) {
            continue;
        }
        const auto end = std::ranges::lower_bound(along, along[first] + reach);
        if (end == along.end() || *end > to) {
            break;
        }
        const auto last = static_cast<std::size_t>(end - along.begin());
        const Point a = line[first];
        const Point b = line[last];
        const double straightness = length_between(a, b) / (along[last] - along[first]);
        if (straightness <= straightest) {
            continue;
        }
        ContourLabel label;
        label.first = first;
        label.last = last;
        label.middle = {(a.x + b.x) / 2.0, (a.y + b.y) / 2.0};
        label.angle = std::atan2(b.y - a.y, b.x - a.x);
        if (std::abs(label.angle) > std::numbers::pi / 2.0) {
            label.angle -= std::copysign(std::numbers::pi, label.angle);
        }
        label.box = turned_box(label.middle, width, height, label.angle);
        const Box clear = label.box.grown(least_clear);
        if (frame.holds({clear.x, clear.y}) && frame.holds({clear.right(), clear.bottom()}) &&
            std::ranges::none_of(
                taken, [&](const Box& other) { return overlap_area(other, clear) > 0.0; })) {
            straightest = straightness;
            best = label;
        }
    }
    return best;
}

std::string height_text(double height_m) {
    return fmt::format("{:g}", height_m);
}

} // namespace

std::vector<ContourLabel> label_contours(cairo_t* canvas, const std::vector<Contour>& contours,
                                         const Box& frame, std::vector<Box> taken) {
    constexpr double one_label_for = 260.0; // of the line's length
    constexpr double shortest = 60.0;
    std::vector<ContourLabel> labels;
    for (std::size_t k = 0; k < contours.size(); ++k) {
        const Contour& contour = contours[k];
        if (!contour.index || contour.points.size() < 3) {
            continue;
        }
        const std::vector<double> along = lengths_along(contour.points);
        if (along.back() < shortest) {
            continue;
        }
        const Text text(canvas, height_text(contour.height_m), height_style);
        const int pieces = std::max(1, static_cast<int>(along.back() / one_label_for));
        for (int piece = 0; piece < pieces; ++piece) {
            auto label = best_label(contour, along, along.back() * piece / pieces,
                                    along.back() * (piece + 1) / pieces, text.width_px(),
                                    text.height_px(), frame, taken);
            if (label) {
                label->contour = k;
                // Heights stand apart, so that they do not crowd on steep ground.
                taken.push_back(label->box.grown(14.0));
                labels.push_back(*label);
            }
        }
    }
    return labels;
}

void draw_contours(cairo_t* canvas, const std::vector<Contour>& contours,
                   const std::vector<ContourLabel>& labels) {
    constexpr double width = 0.28;
    constexpr double index_width = 0.6;
    const KeptState state(canvas);
    cairo_set_line_join(canvas, CAIRO_LINE_JOIN_ROUND);
    for (const bool index : {false, true}) {
        cairo_new_path(canvas);
        auto label = labels.begin(); // they come in the order of contours, then along them
        for (std::size_t k = 0; k < contours.size(); ++k) {
            if (contours[k].index != index) {
                continue;
            }
            bool drawing = false;
            for (std::size_t point = 0; point < contours[k].points.size(); ++point) {
                while (label != labels.end() &&
                       (label->contour < k || (label->contour == k && label->last <= point))) {
                    ++label;
                    drawing = false;
                }
                const bool hidden =
                    label != labels.end() && label->contour == k && label->first < point;
                const auto [x, y] = contours[k].points[point];
                if (hidden) {
                    continue;
                }
                drawing ? cairo_line_to(canvas, x, y) : cairo_move_to(canvas, x, y);
                drawing = true;
            }
        }
        cairo_set_line_width(canvas, index ? index_width : width);
        set_colour(canvas, map_style::contour, map_style::contour_opacity);
        cairo_stroke(canvas);
    }
    for (const ContourLabel& label : labels) {
        const Text text(canvas, height_text(contours[label.contour].height_m), height_style);
        const KeptState turned(canvas);
        cairo_translate(canvas, label.middle.x, label.middle.y);
        cairo_rotate(canvas, label.angle);
        text.draw_with_halo(-text.width_px() / 2.0, -text.height_px() / 2.0, 0.8);
    }
}

} // namespace earshot::report
