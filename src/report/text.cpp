#include "text.hpp"

#include <cmath>

namespace earshot::report {

Text::Text(cairo_t* canvas, std::string_view text, const TextStyle& style, double max_width_px,
           int max_lines)
    : canvas_(canvas), layout_(pango_cairo_create_layout(canvas)), colour_(style.colour) {
    PangoFontDescription* font = pango_font_description_from_string("DejaVu Sans, Sans");
    pango_font_description_set_absolute_size(font, style.size_px * PANGO_SCALE);
    pango_font_description_set_weight(font, style.bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
    pango_layout_set_font_description(layout_.get(), font);
    pango_font_description_free(font);

    gchar* valid = g_utf8_make_valid(text.data(), static_cast<gssize>(text.size()));
    pango_layout_set_text(layout_.get(), valid, -1);
    g_free(valid);
    // One line stays one line whatever the text holds.
    pango_layout_set_single_paragraph_mode(layout_.get(), max_lines == 1 ? TRUE : FALSE);
    if (max_width_px > 0.0) {
        pango_layout_set_width(layout_.get(), static_cast<int>(max_width_px * PANGO_SCALE));
        pango_layout_set_wrap(layout_.get(), PANGO_WRAP_WORD_CHAR);
        pango_layout_set_height(layout_.get(), -max_lines);
        pango_layout_set_ellipsize(layout_.get(), PANGO_ELLIPSIZE_END);
    }
    pango_layout_get_pixel_extents(layout_.get(), nullptr, &box_);
}

void Text::move_to(double x, double y) const {
    // Text that runs from the right stands at the right end of its allowed width.
    cairo_move_to(canvas_, x - box_.x, y - box_.y);
}

void Text::draw(double x, double y) const {
    move_to(x, y);
    cairo_set_source_rgb(canvas_, colour_.red, colour_.green, colour_.blue);
    pango_cairo_show_layout(canvas_, layout_.get());
}

void Text::draw_with_halo(double x, double y, double rim_px) const {
    cairo_save(canvas_);
    cairo_new_path(canvas_);
    move_to(x, y);
    pango_cairo_layout_path(canvas_, layout_.get());
    cairo_set_line_join(canvas_, CAIRO_LINE_JOIN_ROUND);
    cairo_set_line_width(canvas_, 2.0 * rim_px);
    cairo_set_source_rgb(canvas_, 1.0, 1.0, 1.0);
    cairo_stroke(canvas_);
    cairo_restore(canvas_);
    draw(x, y);
}

} // namespace earshot::report
