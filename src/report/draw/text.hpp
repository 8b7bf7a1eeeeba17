#pragma once

#include "report/say/colour.hpp"

#include <pango/pangocairo.h>

#include <memory>
#include <string>
#include <string_view>

namespace earshot::report {

struct TextStyle {
    double size_px = 16.0;
    bool bold = false;
    Rgb colour;
};

/// A piece of text set for drawing. Any script, in its own direction; bytes that are no UTF-8 are
/// shown as replacement marks, control characters as spaces. Text that does not fit is broken into
/// lines, and what does not fit in `max_lines` ends in an ellipsis. Throws Error(Fault::output)
/// with the text and its script if no installed font has the letters: a page of empty boxes helps
/// nobody. Sizes are in units of the canvas: pixels of a picture, points of a page.
class Text {
public:
    /// `max_width_px` of 0 means as wide as the text is.
    Text(cairo_t* canvas, std::string_view text, const TextStyle& style, double max_width_px = 0.0,
         int max_lines = 1);

    [[nodiscard]] double width_px() const { return width_; }
    [[nodiscard]] double height_px() const { return height_; }
    /// (x, y) is the upper left corner of the text.
    void draw(double x, double y) const;
    /// The same over a white rim of `rim_px`, for text on a map.
    void draw_with_halo(double x, double y, double rim_px) const;

private:
    struct Unref {
        void operator()(PangoLayout* layout) const { g_object_unref(layout); }
    };
    void move_to(double x, double y) const;

    cairo_t* canvas_;
    std::unique_ptr<PangoLayout, Unref> layout_;
    double left_ = 0.0; ///< of what is drawn, from the left end of the allowed width
    double width_ = 0.0;
    double height_ = 0.0;
    Rgb colour_;
};

} // namespace earshot::report
