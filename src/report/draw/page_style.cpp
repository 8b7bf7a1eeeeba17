#include "report/draw/page_style.hpp"

#include <algorithm>
#include <cmath>

namespace earshot::report::page_style {
namespace {

double luminance(const Rgb& colour) {
    const auto part = [](double value) {
        return value <= 0.04045 ? value / 12.92 : std::pow((value + 0.055) / 1.055, 2.4);
    };
    return 0.2126 * part(colour.red) + 0.7152 * part(colour.green) + 0.0722 * part(colour.blue);
}

double contrast(const Rgb& a, const Rgb& b) {
    const double high = std::max(luminance(a), luminance(b));
    const double low = std::min(luminance(a), luminance(b));
    return (high + 0.05) / (low + 0.05);
}

} // namespace

Rgb ink_on(const Rgb& colour) {
    return contrast(paper, colour) > contrast(ink, colour) ? paper : ink;
}

std::string typeset(std::string text) {
    for (std::size_t at = text.size(); at-- > 0;) {
        if (text[at] == ' ') {
            text.replace(at, 1, "\u00a0");
        } else if (text[at] == '-') {
            text.replace(at, 1, "\u2212");
        }
    }
    return text;
}

void draw_class_mark(const Pen& pen, double x, double y, double side, double margin_db) {
    const Box box{x, y, side, side};
    pen.fill(box, colour_of_margin(margin_db));
    pen.frame(box, {0.6, ink});
    if (margin_class_of(margin_db) == nullptr) {
        pen.line(x, y + side, x + side, y, {0.6, ink});
    }
}

double draw_page_head(const Pen& pen, const Box& area, const std::string& title_text,
                      const std::string& right) {
    const double right_width = right.empty() ? 0.0 : 0.32 * area.width;
    const double gap = 14.0;
    const TextStyle right_style{8.5, false, quiet_ink};
    const double width = area.width - right_width - (right.empty() ? 0.0 : gap);
    const TextStyle style = fitted(pen, title_text, title, width, 13.0);
    const double height = pen.paragraph(area.x, area.y, title_text, style, width, 2);
    if (!right.empty()) {
        const Text set(pen.canvas(), right, right_style, right_width, 2);
        set.draw(area.right() - set.width_px(), area.y + std::max(0.0, height - set.height_px()));
    }
    // A heavy stub and a fine line: the mark of every page.
    const double y = area.y + height + 4.0;
    pen.line(area.x, y, area.x + 46.0, y, {3.0, ink});
    pen.line(area.x + 46.0, y, area.right(), y, {0.6, ink});
    return y + 10.0;
}

double draw_page_foot(const Pen& pen, const Box& area, const std::string& words,
                      const std::string& page) {
    const double page_width = page.empty() ? 0.0 : pen.text_width(page, small) + 12.0;
    const double width = area.width - page_width;
    const double height = pen.paragraph_height(words, small, width, 3);
    const double y = area.bottom() - height;
    pen.line(area.x, y - 4.0, area.right(), y - 4.0, {0.5, hairline});
    pen.paragraph(area.x, y, words, small, width, 3);
    pen.text(area.right(), y, page, small, Anchor::right);
    return y - 8.0;
}

} // namespace earshot::report::page_style
