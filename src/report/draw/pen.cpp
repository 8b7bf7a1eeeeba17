#include "report/draw/pen.hpp"

#include "earshot/base/error.hpp"
#include "report/draw/canvas.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <numbers>
#include <string>

namespace earshot::report {
namespace {

/// Valid UTF-8 without control characters: fonts have no shapes for those.
std::string drawable(std::string_view text, bool one_line) {
    gchar* valid = g_utf8_make_valid(text.data(), static_cast<gssize>(text.size()));
    std::string kept = valid;
    g_free(valid);
    for (char& c : kept) {
        const auto code = static_cast<unsigned char>(c);
        if ((code < 0x20 && (one_line || c != '\n')) || code == 0x7f) {
            c = ' ';
        }
    }
    return kept;
}

/// "the script Arabic"; "symbols" for what belongs to no script.
std::string script_name(gunichar letter) {
    auto* scripts = static_cast<GEnumClass*>(g_type_class_ref(PANGO_TYPE_SCRIPT));
    const GEnumValue* found =
        g_enum_get_value(scripts, static_cast<int>(g_unichar_get_script(letter)));
    std::string name = found == nullptr ? "unknown" : found->value_nick;
    g_type_class_unref(scripts);
    name.front() = g_ascii_toupper(name.front());
    return name == "Common" || name == "Inherited" || name == "Unknown" ? std::string("symbols")
                                                                        : "the script " + name;
}

/// The first letter that no installed font has, or 0.
gunichar first_missing(PangoLayout* layout) {
    if (pango_layout_get_unknown_glyphs_count(layout) == 0) {
        return 0;
    }
    PangoLayoutIter* at = pango_layout_get_iter(layout);
    gunichar missing = 0;
    do {
        const PangoLayoutRun* run = pango_layout_iter_get_run_readonly(at);
        for (int k = 0; run != nullptr && missing == 0 && k < run->glyphs->num_glyphs; ++k) {
            const PangoGlyph glyph = run->glyphs->glyphs[k].glyph;
            if ((glyph & PANGO_GLYPH_UNKNOWN_FLAG) != 0) {
                missing = glyph & ~static_cast<PangoGlyph>(PANGO_GLYPH_UNKNOWN_FLAG);
            }
        }
    } while (missing == 0 && pango_layout_iter_next_run(at) != FALSE);
    pango_layout_iter_free(at);
    return missing;
}

void require_letters(PangoLayout* layout, const std::string& text) {
    if (const gunichar missing = first_missing(layout); missing != 0) {
        throw_output(fmt::format("cannot draw '{}': no font here has the letter U+{:04X} of {}; "
                                 "install one (Debian packages whose names start with fonts-noto "
                                 "have most), or write it in other letters",
                                 text, missing, script_name(missing)));
    }
}

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

Text::Text(cairo_t* canvas, std::string_view text, const TextStyle& style, double max_width_px,
           int max_lines)
    : canvas_(canvas), layout_(pango_cairo_create_layout(canvas)), colour_(style.colour) {
    // On a page a unit is large: letters must stand between whole ones.
    PangoContext* context = pango_layout_get_context(layout_.get());
    pango_context_set_round_glyph_positions(context, FALSE);
    // The same text takes the same room on every kind of canvas.
    cairo_font_options_t* options = cairo_font_options_create();
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    pango_cairo_context_set_font_options(context, options);
    cairo_font_options_destroy(options);
    pango_layout_context_changed(layout_.get());
    PangoFontDescription* font = pango_font_description_from_string("DejaVu Sans, Sans");
    pango_font_description_set_absolute_size(font, style.size_px * PANGO_SCALE);
    pango_font_description_set_weight(font, style.bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
    pango_layout_set_font_description(layout_.get(), font);
    pango_font_description_free(font);

    const bool one_line = max_lines == 1;
    const std::string shown = drawable(text, one_line);
    pango_layout_set_text(layout_.get(), shown.c_str(), -1);
    // One line stays one line whatever the text holds.
    pango_layout_set_single_paragraph_mode(layout_.get(), one_line ? TRUE : FALSE);
    if (max_width_px > 0.0) {
        pango_layout_set_width(layout_.get(), static_cast<int>(max_width_px * PANGO_SCALE));
        pango_layout_set_wrap(layout_.get(), PANGO_WRAP_WORD_CHAR);
        pango_layout_set_height(layout_.get(), -max_lines);
        pango_layout_set_ellipsize(layout_.get(), PANGO_ELLIPSIZE_END);
        // A name must not gain letters where it is broken.
        PangoAttrList* attributes = pango_attr_list_new();
        pango_attr_list_insert(attributes, pango_attr_insert_hyphens_new(FALSE));
        pango_layout_set_attributes(layout_.get(), attributes);
        pango_attr_list_unref(attributes);
    }
    require_letters(layout_.get(), shown);
    PangoRectangle box{};
    pango_layout_get_extents(layout_.get(), nullptr, &box);
    left_ = pango_units_to_double(box.x);
    width_ = pango_units_to_double(box.width);
    height_ = pango_units_to_double(box.height);
}

void Text::move_to(double x, double y) const {
    // Text that runs from the right stands at the right end of its allowed width.
    cairo_move_to(canvas_, x - left_, y);
}

void Text::draw(double x, double y) const {
    move_to(x, y);
    set_colour(canvas_, colour_);
    pango_cairo_show_layout(canvas_, layout_.get());
}

void Text::draw_with_halo(double x, double y, double rim_px) const {
    {
        const KeptState kept(canvas_);
        cairo_new_path(canvas_);
        move_to(x, y);
        pango_cairo_layout_path(canvas_, layout_.get());
        cairo_set_line_join(canvas_, CAIRO_LINE_JOIN_ROUND);
        cairo_set_line_width(canvas_, 2.0 * rim_px);
        set_colour(canvas_, {1.0, 1.0, 1.0});
        cairo_stroke(canvas_);
    }
    draw(x, y);
}

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

void Pen::figure(std::initializer_list<Point> corners, const Rgb& colour, const Stroke& rim) const {
    cairo_new_path(canvas_);
    for (const Point& corner : corners) {
        cairo_line_to(canvas_, corner.x, corner.y);
    }
    cairo_close_path(canvas_);
    set_colour(canvas_, colour);
    cairo_fill_preserve(canvas_);
    stroke_path(rim);
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
