#include "report/draw/pen.hpp"

#include "report/draw/canvas.hpp"

#include <algorithm>
#include <cmath>
#include <memory>
#include <numbers>
#include <string>

namespace earshot::report {
namespace {

/// Our sentences run from the left even where the name that they begin with does not.
std::string from_left(cairo_t* canvas, std::string_view text) {
    const std::unique_ptr<PangoLayout, void (*)(gpointer)> layout(pango_cairo_create_layout(canvas),
                                                                  g_object_unref);
    std::string shown(text);
    if (g_utf8_validate(shown.c_str(), -1, nullptr) == FALSE) {
        return shown;
    }
    pango_layout_set_text(layout.get(), shown.c_str(), -1);
    const bool from_right = pango_layout_get_direction(layout.get(), 0) == PANGO_DIRECTION_RTL;
    return from_right ? "\u200e" + shown : shown;
}

} // namespace

void Pen::stroke_path(const Stroke& stroke) const {
    cairo_set_line_width(canvas_, stroke.width_pt);
    set_colour(canvas_, stroke.colour);
    if (stroke.dash_pt > 0.0) {
        cairo_set_dash(canvas_, &stroke.dash_pt, 1, 0.0);
    }
    cairo_stroke(canvas_);
    cairo_set_dash(canvas_, nullptr, 0, 0.0);
}

void Pen::fill_path(const Rgb& colour) const {
    set_colour(canvas_, colour);
    cairo_fill(canvas_);
}

void Pen::line(double x1, double y1, double x2, double y2, const Stroke& stroke) const {
    cairo_move_to(canvas_, x1, y1);
    cairo_line_to(canvas_, x2, y2);
    stroke_path(stroke);
}

void Pen::fill(const Box& box, const Rgb& colour) const {
    cairo_rectangle(canvas_, box.x, box.y, box.width, box.height);
    fill_path(colour);
}

void Pen::frame(const Box& box, const Stroke& stroke) const {
    cairo_rectangle(canvas_, box.x, box.y, box.width, box.height);
    stroke_path(stroke);
}

void Pen::fill_disc(double x, double y, double radius, const Rgb& colour) const {
    cairo_new_sub_path(canvas_);
    cairo_arc(canvas_, x, y, radius, 0.0, 2.0 * std::numbers::pi);
    fill_path(colour);
}

void Pen::ring(double x, double y, double radius, const Stroke& stroke) const {
    cairo_new_sub_path(canvas_);
    cairo_arc(canvas_, x, y, radius, 0.0, 2.0 * std::numbers::pi);
    stroke_path(stroke);
}

void Pen::hatch_path(double spacing_pt, const Stroke& stroke) const {
    double left = 0.0;
    double top = 0.0;
    double right = 0.0;
    double bottom = 0.0;
    cairo_path_extents(canvas_, &left, &top, &right, &bottom);
    const KeptState kept(canvas_);
    cairo_clip(canvas_);
    // From a fixed origin, so that the hatches of neighbours meet.
    for (double sum = std::floor((left + top) / spacing_pt) * spacing_pt; sum < right + bottom;
         sum += spacing_pt) {
        cairo_move_to(canvas_, sum - bottom, bottom);
        cairo_line_to(canvas_, sum - top, top);
    }
    stroke_path(stroke);
}

double Pen::text(double x, double y, std::string_view text, const TextStyle& style, Anchor anchor,
                 double width) const {
    const Text set(canvas_, text, style, width);
    const double share = anchor == Anchor::left ? 0.0 : (anchor == Anchor::middle ? 0.5 : 1.0);
    set.draw(x - share * set.width_px(), y);
    return set.width_px();
}

double Pen::paragraph(double x, double y, std::string_view text, const TextStyle& style,
                      double width, int most_lines) const {
    const Text set(canvas_, from_left(canvas_, text), style, width, most_lines);
    set.draw(x, y);
    return set.height_px();
}

double Pen::text_width(std::string_view text, const TextStyle& style) const {
    return Text(canvas_, text, style).width_px();
}

double Pen::paragraph_height(std::string_view text, const TextStyle& style, double width,
                             int most_lines) const {
    return Text(canvas_, from_left(canvas_, text), style, width, most_lines).height_px();
}

double Pen::line_height(const TextStyle& style) const {
    return Text(canvas_, "Ag", style).height_px();
}

TextStyle fitted(const Pen& pen, std::string_view text, TextStyle style, double width,
                 double least_pt) {
    constexpr double step_pt = 0.5;
    while (style.size_px > least_pt && pen.text_width(text, style) > width) {
        style.size_px = std::max(least_pt, style.size_px - step_pt);
    }
    return style;
}

} // namespace earshot::report
