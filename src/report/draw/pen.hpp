#pragma once

#include "report/draw/layout.hpp"
#include "report/say/colour.hpp"

#include <cairo.h>
#include <pango/pangocairo.h>

#include <initializer_list>
#include <memory>
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

/// Where text stands against the x it is given.
enum class Anchor { left, middle, right };

/// A stroke: `dash_pt` of 0 is a whole line, else dashes and gaps of that length.
struct Stroke {
    double width_pt = 0.7;
    Rgb colour;
    double dash_pt = 0.0;
};

/// Draws on a page in points (1/72 inch) from its upper left corner.
class Pen {
public:
    explicit Pen(cairo_t* canvas) : canvas_(canvas) {}

    [[nodiscard]] cairo_t* canvas() const { return canvas_; }
    void line(double x1, double y1, double x2, double y2, const Stroke& stroke) const;
    void fill(const Box& box, const Rgb& colour) const;
    void frame(const Box& box, const Stroke& stroke) const;
    void fill_disc(double x, double y, double radius, const Rgb& colour) const;
    void ring(double x, double y, double radius, const Stroke& stroke) const;
    /// A closed figure, filled and rimmed.
    void figure(std::initializer_list<Point> corners, const Rgb& colour, const Stroke& rim) const;
    /// Strokes or fills the current path and forgets it.
    void stroke_path(const Stroke& stroke) const;
    void fill_path(const Rgb& colour) const;
    /// Covers the current path with thin slanting lines and forgets it.
    void hatch_path(double spacing_pt, const Stroke& stroke) const;

    /// One line of text whose upper edge is at y; what does not fit in `width` (0: any) ends in an
    /// ellipsis. Returns the width taken.
    double text(double x, double y, std::string_view text, const TextStyle& style,
                Anchor anchor = Anchor::left, double width = 0.0) const;
    /// A sentence broken into lines of `width`, `most_lines` at most; it begins at the left
    /// whatever the script of its first word. Returns the height taken.
    double paragraph(double x, double y, std::string_view text, const TextStyle& style,
                     double width, int most_lines = 50) const;
    [[nodiscard]] double text_width(std::string_view text, const TextStyle& style) const;
    [[nodiscard]] double paragraph_height(std::string_view text, const TextStyle& style,
                                          double width, int most_lines = 50) const;
    [[nodiscard]] double line_height(const TextStyle& style) const;

private:
    cairo_t* canvas_;
};

/// The largest style of `style`'s kind, at most its size and at least `least_pt`, in which text
/// takes no more than `width` on one line.
[[nodiscard]] TextStyle fitted(const Pen& pen, std::string_view text, TextStyle style, double width,
                               double least_pt);

} // namespace earshot::report
