#include "geo/units.hpp"
#include "link/quality.hpp"
#include "report/draw/page_style.hpp"
#include "report/draw/pages.hpp"
#include "report/say/numbers.hpp"
#include "report/say/phrases.hpp"
#include "report/say/plan_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace earshot::report {
namespace {

using namespace page_style;

/// Colour of bars that stand for decibels: no class of margin has it.
const Rgb& bar_colour() {
    static const Rgb colour = from_oklch(0.55, 0.07, 240.0);
    return colour;
}

/// What the ladder climbs: the margin of one path, places, or the range on foot.
enum class Measure { margin, places, range };

Measure measure_of(const plan::LadderAnswer& answer) {
    if (answer.start.margin_db) {
        return Measure::margin;
    }
    return answer.start.range ? Measure::range : Measure::places;
}

/// The unit of the axis of ranges.
double metres_of_axis() {
    return geo::units() == geo::Units::imperial ? geo::metres_per_mile : 1000.0;
}

double value_of(const plan::Rung& rung, Measure measure) {
    switch (measure) {
    case Measure::margin:
        return rung.margin_db.value_or(std::numeric_limits<double>::quiet_NaN());
    case Measure::range:
        return rung.range ? rung.range->typical_m / metres_of_axis() : 0.0;
    default:
        return static_cast<double>(rung.places);
    }
}

std::string reached_text(const plan::Rung& rung, Measure measure) {
    switch (measure) {
    case Measure::margin: {
        const double margin_db = value_of(rung, measure);
        return fmt::format("{}, {}", typeset(margin_text(margin_db, 1)),
                           link::readability(margin_db).name);
    }
    case Measure::range:
        return rung.range ? fmt::format("half of directions {}, {}",
                                        geo::format_distance(rung.range->typical_m),
                                        area_text(rung.range->area_km2, "\u00b2"))
                          : std::string();
    default:
        return fmt::format("{} {} reached", rung.places, rung.places == 1 ? "place" : "places");
    }
}

std::string axis_text(Measure measure) {
    switch (measure) {
    case Measure::margin:
        return "margin of the weaker direction, dB";
    case Measure::range:
        return geo::units() == geo::Units::imperial ? "range that half of the directions reach, mi"
                                                    : "range that half of the directions reach, km";
    default:
        return "places reached both ways";
    }
}

/// Small squares, one for each unit of effort.
void draw_effort(const Pen& pen, double x, double middle, double effort) {
    constexpr double side = 4.4;
    constexpr int row = 5;
    const int count = std::max(1, static_cast<int>(std::lround(effort)));
    const int rows = (count + row - 1) / row;
    for (int k = 0; k < count; ++k) {
        const int across = k % row;
        const int down = k / row;
        const double left = x + across * (side + 1.6);
        const double top = middle - rows * (side + 1.6) / 2.0 + down * (side + 1.6) + 0.8;
        pen.fill({left, top, side, side}, quiet_ink);
    }
}

struct Columns {
    double label, label_width;
    double effort;
    double bar, bar_width;
    double reached, reached_width;
};

Columns columns_of(const Box& area) {
    Columns columns{};
    columns.label = area.x + 18.0;
    columns.label_width = 0.34 * area.width - 24.0;
    columns.effort = area.x + 0.34 * area.width;
    columns.bar = columns.effort + 46.0;
    columns.reached_width = 0.27 * area.width;
    columns.reached = area.right() - columns.reached_width;
    columns.bar_width = columns.reached - 62.0 - columns.bar;
    return columns;
}

void draw_rank(const Pen& pen, double x, double middle, const std::string& rank) {
    const TextStyle style{8.0, true, paper};
    pen.fill_disc(x, middle, 6.5, ink);
    pen.text(x, middle - pen.line_height(style) / 2.0, rank, style, Anchor::middle);
}

void draw_middle(const Pen& pen, double x, double middle, double width, const std::string& text,
                 const TextStyle& style) {
    const double height = pen.paragraph_height(text, style, width, 2);
    pen.paragraph(x, middle - height / 2.0, text, style, width, 2);
}

double greatest_gain(const plan::LadderAnswer& answer) {
    double greatest = 1.0;
    for (const plan::Rung& rung : answer.alone) {
        greatest = std::max(greatest, std::abs(rung.gain_db.value_or(0.0)));
    }
    return greatest;
}

/// Each lever by itself. Returns the y under it.
double draw_alone(const Pen& pen, const Box& area, const plan::LadderAnswer& answer) {
    const Measure measure = measure_of(answer);
    const Columns columns = columns_of(area);
    double y = area.y;
    pen.text(area.x, y, "Each by itself, the most decibels for the effort first", heading);
    y += pen.line_height(heading) + 3.0;
    pen.text(columns.effort, y, "effort", small);
    pen.text(columns.bar, y, "adds to the margin", small);
    pen.text(columns.reached, y, "and then it reaches", small);
    y += pen.line_height(small) + 1.0;
    const double row =
        std::clamp((area.bottom() - y) / static_cast<double>(answer.alone.size()), 15.0, 27.0);
    const double scale = columns.bar_width / greatest_gain(answer);
    for (std::size_t k = 0; k < answer.alone.size(); ++k) {
        const plan::Rung& rung = answer.alone[k];
        if (k % 2 == 0) {
            pen.fill({area.x, y, area.width, row}, band);
        }
        const double middle = y + row / 2.0;
        draw_rank(pen, area.x + 8.0, middle, fmt::format("{}", k + 1));
        draw_middle(pen, columns.label, middle, columns.label_width, rung_words(rung), body);
        draw_effort(pen, columns.effort, middle, rung.effort);
        if (rung.gain_db) {
            const double width = std::max(0.0, *rung.gain_db) * scale;
            pen.fill({columns.bar, middle - 4.0, width, 8.0}, bar_colour());
            pen.line(columns.bar, middle - 6.0, columns.bar, middle + 6.0, {0.6, ink});
            pen.text(columns.bar + width + 4.0, middle - pen.line_height(body_bold) / 2.0,
                     typeset(gain_text(*rung.gain_db)), body_bold);
        } else {
            pen.text(columns.bar, middle - pen.line_height(small) / 2.0, "moves the whole range",
                     small);
        }
        draw_middle(pen, columns.reached, middle, columns.reached_width,
                    reached_text(rung, measure), body);
        y += row;
    }
    return y;
}

/// The stair of levers one on top of another, from the start at the bottom upward.
class Stair {
public:
    Stair(const Pen& pen, const Box& area, const plan::LadderAnswer& answer,
          double wanted_margin_db)
        : pen_(pen), area_(area), measure_(measure_of(answer)), wanted_db_(wanted_margin_db) {
        rungs_.push_back(&answer.start);
        for (const plan::Rung& rung : answer.stacked) {
            rungs_.push_back(&rung);
        }
        const Columns columns = columns_of(area);
        const double left = columns.effort;
        plot_ = {left, area.y, area.right() - left - 6.0, area.height - 26.0};
        for (const plan::Rung* rung : rungs_) {
            words_width_ = std::max(words_width_, pen.text_width(words_of(*rung), body) + 14.0);
        }
        set_scale();
    }

    void draw() const {
        if (measure_ == Measure::margin) {
            draw_classes();
        }
        draw_axis();
        for (std::size_t k = 0; k + 1 < rungs_.size(); ++k) {
            const double from = x(value_of(*rungs_[k], measure_));
            const double to = x(value_of(*rungs_[k + 1], measure_));
            const double low = middle(k);
            const double high = middle(k + 1);
            pen_.line(from, low, from, high, {1.4, ink});
            pen_.line(from, high, to, high, {3.0, ink});
        }
        for (std::size_t k = 0; k < rungs_.size(); ++k) {
            draw_rung(k);
        }
    }

private:
    const Pen& pen_;
    Box area_;
    Box plot_;
    Measure measure_;
    double wanted_db_;
    std::vector<const plan::Rung*> rungs_;
    double low_ = 0.0;
    double high_ = 1.0;
    double words_width_ = 0.0; ///< kept free for the words beside the highest value

    void set_scale() {
        high_ = -1e9;
        double low = measure_ == Measure::margin ? wanted_db_ : 0.0;
        for (const plan::Rung* rung : rungs_) {
            const double value = value_of(*rung, measure_);
            if (std::isfinite(value)) {
                high_ = std::max(high_, value);
                low = std::min(low, value);
            }
        }
        high_ = std::max(high_, low + 1.0);
        const double room = 0.06 * (high_ - low);
        low_ = measure_ == Measure::margin ? low - room : 0.0;
        high_ += 0.2 * room;
    }

    [[nodiscard]] double x(double value) const {
        const double known = std::isfinite(value) ? value : low_;
        return plot_.x + (plot_.width - words_width_) * (known - low_) / (high_ - low_);
    }
    [[nodiscard]] double row() const { return plot_.height / static_cast<double>(rungs_.size()); }
    [[nodiscard]] double middle(std::size_t k) const {
        return plot_.bottom() - (static_cast<double>(k) + 0.5) * row();
    }

    /// The classes of margin as bands from left to right.
    void draw_classes() const {
        double right = plot_.right();
        for (const MarginClass& shown : margin_classes()) {
            const double left = std::max(plot_.x, x(shown.lower_bound_db));
            if (left < right) {
                // A tint: the stair must stand out.
                constexpr double share = 0.30;
                const auto tint = [&](double part) { return 1.0 - share * (1.0 - part); };
                pen_.fill(
                    {left, plot_.y, right - left, plot_.height},
                    {tint(shown.colour.red), tint(shown.colour.green), tint(shown.colour.blue)});
                pen_.fill({left, plot_.bottom(), right - left, 3.0}, shown.colour);
                if (right - left > pen_.text_width(shown.name, small) + 6.0) {
                    pen_.text((left + right) / 2.0, plot_.y + 2.0, shown.name, small,
                              Anchor::middle);
                }
                right = left;
            }
        }
        if (wanted_db_ > low_ && wanted_db_ < high_) {
            pen_.line(x(wanted_db_), plot_.y, x(wanted_db_), plot_.bottom(), {1.0, ink, 3.0});
        }
    }

    void draw_axis() const {
        const double step =
            std::max(tick_step(high_ - low_, 8), measure_ == Measure::places ? 1.0 : 0.0);
        const double base = plot_.bottom() + (measure_ == Measure::margin ? 3.0 : 0.0);
        pen_.line(plot_.x, base, plot_.right(), base, {0.6, ink});
        for (double value = std::ceil(low_ / step) * step; value <= high_; value += step) {
            pen_.line(x(value), base, x(value), base + 3.0, {0.6, ink});
            if (measure_ != Measure::margin) {
                pen_.line(x(value), plot_.y, x(value), base, {0.4, hairline});
            }
            pen_.text(x(value), base + 3.0, fmt::format("{:g}", value + 0.0), body, Anchor::middle);
        }
        pen_.text(plot_.right(), base + 3.0 + pen_.line_height(body), axis_text(measure_), small,
                  Anchor::right);
    }

    void draw_rung(std::size_t k) const {
        const plan::Rung& rung = *rungs_[k];
        const double y = middle(k);
        const double at = x(value_of(rung, measure_));
        pen_.fill_disc(at, y, 4.2, paper);
        pen_.fill_disc(at, y, 3.4, ink);
        const double label_width = plot_.x - area_.x - 24.0;
        draw_rank(pen_, area_.x + 8.0, y, k == 0 ? "0" : fmt::format("{}", k));
        draw_middle(pen_, area_.x + 18.0, y, label_width, (k == 0 ? "" : "+ ") + rung_words(rung),
                    k == 0 ? body_bold : body);
        const Text set(pen_.canvas(), words_of(rung), body);
        set.draw_with_halo(at + 8.0, y - set.height_px() / 2.0, 1.6);
    }

    [[nodiscard]] std::string words_of(const plan::Rung& rung) const {
        const std::string reached = reached_text(rung, measure_);
        return rung.pull && rung.gain_db
                   ? fmt::format("{}  ({})", reached, typeset(gain_text(*rung.gain_db)))
                   : reached;
    }
};

} // namespace

void draw_ladder_page(cairo_t* canvas, const Box& area, const PageWords& words,
                      const plan::LadderAnswer& answer, const std::string& of,
                      double wanted_margin_db) {
    const Pen pen(canvas);
    const double foot = draw_page_foot(pen, area, words.foot, words.page);
    double y = draw_page_head(pen, area, "What each step buys", words.right);
    y += pen.paragraph(area.x, y, of, {lead.size_px, false, quiet_ink}, area.width, 2) + 3.0;
    y += pen.paragraph(area.x, y, sentence(ladder_words(answer)), {lead.size_px, true, ink},
                       area.width, 4) +
         12.0;
    if (answer.alone.empty()) {
        return;
    }
    const double notes_height = 12.0;
    const double room = foot - notes_height - y;
    const auto levers = static_cast<double>(answer.alone.size());
    const double alone_height = std::min(0.48 * room, 30.0 + 27.0 * levers);
    y = draw_alone(pen, {area.x, y, area.width, alone_height}, answer) + 16.0;
    pen.text(area.x, y, "One on top of another, in that order", heading);
    y += pen.line_height(heading) + 4.0;
    const double stair_height = std::min(
        foot - notes_height - y, 30.0 + 34.0 * static_cast<double>(1 + answer.stacked.size()));
    Stair(pen, {area.x, y, area.width, stair_height}, answer, wanted_margin_db).draw();
    pen.text(area.x, foot - pen.line_height(small),
             "Effort: one square is a short walk; common practice, no source.", small, Anchor::left,
             area.width);
}

} // namespace earshot::report
