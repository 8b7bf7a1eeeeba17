#pragma once

#include "report/draw/map_style.hpp"
#include "report/draw/pen.hpp"
#include "report/say/colour.hpp"
#include "report/say/margin_classes.hpp"

#include <string>

/// What the printed pages have in common. Sizes are in points.
namespace earshot::report::page_style {

inline constexpr Rgb ink = map_style::ink;
inline constexpr Rgb quiet_ink = map_style::quiet_ink;
inline constexpr Rgb paper = map_style::paper;
inline constexpr Rgb hairline{0.72, 0.73, 0.75};
inline constexpr Rgb band{0.945, 0.942, 0.93}; ///< behind every other row, and behind boxes

inline const TextStyle title{19.0, true, ink};
inline const TextStyle lead{10.0, false, ink};
inline const TextStyle heading{10.5, true, ink};
inline const TextStyle body{8.5, false, ink};
inline const TextStyle body_bold{8.5, true, ink};
inline const TextStyle small{7.0, false, quiet_ink};

/// The colour of a margin's class; that of the paper if no words get through or it is not known.
[[nodiscard]] inline Rgb colour_of_margin(double margin_db) {
    const MarginClass* shown = margin_class_of(margin_db);
    return shown == nullptr ? paper : shown->colour;
}

/// Ink or paper, whichever reads better on a colour (relative luminance of WCAG 2.1, 1.4.3).
[[nodiscard]] Rgb ink_on(const Rgb& colour);

/// A number in text as it is printed: with a true minus sign, and never parted from its unit.
[[nodiscard]] std::string typeset(std::string text);

/// A small square in the colour of a margin's class; empty with a stroke through it if no words get
/// through.
void draw_class_mark(const Pen& pen, double x, double y, double side, double margin_db);

/// The head of a page: a title that shrinks and then wraps to fit, words at the right of it, a rule
/// below. Returns the y under it.
double draw_page_head(const Pen& pen, const Box& area, const std::string& title,
                      const std::string& right);

/// The foot of a page, at the bottom of its area. Returns its upper edge.
double draw_page_foot(const Pen& pen, const Box& area, const std::string& words,
                      const std::string& page);

} // namespace earshot::report::page_style
