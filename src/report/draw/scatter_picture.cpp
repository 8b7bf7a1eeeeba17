#include "earshot/base/error.hpp"
#include "link/quality.hpp"
#include "report/draw/canvas.hpp"
#include "report/draw/layout.hpp"
#include "report/draw/page_style.hpp"
#include "report/draw/pages.hpp"
#include "report/draw/pdf_document.hpp"
#include "report/draw/pen.hpp"
#include "report/say/comparison_report.hpp"
#include "report/say/field_words.hpp"
#include "report/say/numbers.hpp"
#include "report/say/phrases.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <utility>
#include <vector>

namespace earshot::report {
namespace {

namespace style = page_style;

constexpr int scores = 6;
constexpr double mark_radius = 3.1;
constexpr Rgb open_colour{0.11, 0.36, 0.56};  // blue, dark enough for grey printing
constexpr Rgb woods_colour{0.80, 0.42, 0.05}; // orange

/// A call as a mark.
struct Mark {
    double margin_db = 0.0;
    int row = 0;
    bool sight = false;
    bool woods = false;
};

Mark mark_of(const field::ComparedCall& call) {
    const double heard_db = call.level_dbm ? *call.level_dbm - call.needed_dbm : 0.0;
    const int row =
        call.score ? *call.score : static_cast<int>(link::readability(heard_db).readability);
    return {call.median_margin_db, row, call.line_of_sight, call.in_woods};
}

/// The field of the diagram and what its axes span.
class ScoreAxes {
public:
    ScoreAxes(const Box& field, const std::vector<Mark>& marks) : field_(field) {
        constexpr double step_db = 10.0;
        double low = -step_db;
        double high = 2.0 * step_db;
        for (const Mark& mark : marks) {
            low = std::min(low, mark.margin_db);
            high = std::max(high, mark.margin_db);
        }
        low_db_ = step_db * std::floor((low - 1.0) / step_db);
        high_db_ = step_db * std::ceil((high + 1.0) / step_db);
    }

    [[nodiscard]] const Box& field() const { return field_; }
    [[nodiscard]] double low_db() const { return low_db_; }
    [[nodiscard]] double high_db() const { return high_db_; }
    [[nodiscard]] double row_height() const { return field_.height / scores; }
    [[nodiscard]] double x(double margin_db) const {
        const double share = (margin_db - low_db_) / (high_db_ - low_db_);
        return field_.x + field_.width * std::clamp(share, 0.0, 1.0);
    }
    [[nodiscard]] double row_top(int row) const {
        return field_.bottom() - row_height() * (row + 1);
    }
    [[nodiscard]] double row_middle(int row) const { return row_top(row) + 0.5 * row_height(); }

private:
    Box field_;
    double low_db_ = 0.0;
    double high_db_ = 0.0;
};

void draw_rows(const Pen& pen, const ScoreAxes& axes) {
    const auto classes = link::readability_classes();
    for (int row = 0; row < scores; ++row) {
        const auto k = static_cast<std::size_t>(row);
        const double from = axes.x(std::max(classes[k].least_margin_db, axes.low_db()));
        const double to =
            row + 1 < scores ? axes.x(classes[k + 1].least_margin_db) : axes.field().right();
        pen.fill({from, axes.row_top(row), to - from, axes.row_height()}, {0.90, 0.92, 0.88});
        pen.line(axes.field().x, axes.row_top(row), axes.field().right(), axes.row_top(row),
                 {0.4, style::hairline});
        const double y = axes.row_middle(row) - 0.5 * pen.line_height(style::body_bold);
        pen.text(axes.field().x - 8.0, y, fmt::format("{}", row), style::body_bold, Anchor::right);
        pen.text(axes.field().x - 20.0, y, classes[k].name, style::body, Anchor::right);
    }
}

void draw_margin_axis(const Pen& pen, const ScoreAxes& axes) {
    constexpr double tick_db = 10.0;
    const Box& field = axes.field();
    for (double db = axes.low_db(); db <= axes.high_db(); db += tick_db) {
        const double x = axes.x(db);
        pen.line(x, field.y, x, field.bottom() + 4.0, {0.4, style::hairline});
        pen.text(x, field.bottom() + 6.0, db == 0.0 ? "0 dB" : style::typeset(margin_text(db)),
                 style::body, Anchor::middle);
    }
    pen.text(field.x + 0.5 * field.width, field.bottom() + 20.0,
             "margin predicted for half of the time and places", style::heading, Anchor::middle);
}

/// Where the wanted quality parts the diagram, and how many calls are in each quarter.
void draw_quarters(const Pen& pen, const ScoreAxes& axes, const field::Verification& verification) {
    const Box& field = axes.field();
    const double x = axes.x(verification.wanted_margin_db);
    const int wanted = static_cast<int>(verification.wanted);
    const double y = wanted > 0 ? axes.row_top(wanted - 1) : field.bottom();
    const Stroke stroke{1.2, style::ink, 4.0};
    pen.line(x, field.y, x, field.bottom(), stroke);
    pen.line(field.x, y, field.right(), y, stroke);
    const field::ContingencyTable& table = verification.all.table;
    const auto words = [&](double at_x, double at_y, Anchor anchor, std::size_t count,
                           const char* what) {
        pen.text(at_x, at_y, fmt::format("{} {}", count, what), style::body_bold, anchor);
    };
    const double low = field.bottom() - 4.0 - pen.line_height(style::body_bold);
    words(field.x + 5.0, field.y + 4.0, Anchor::left, table.misses, "heard, though not predicted");
    words(field.right() - 5.0, field.y + 4.0, Anchor::right, table.hits, "heard as predicted");
    words(field.x + 5.0, low, Anchor::left, table.silences, "not heard, as predicted");
    words(field.right() - 5.0, low, Anchor::right, table.false_alarms,
          "not heard, though predicted");
}

void draw_mark(const Pen& pen, double x, double y, const Mark& mark) {
    const Rgb& colour = mark.woods ? woods_colour : open_colour;
    const Stroke rim{1.1, colour};
    if (mark.woods) {
        const double r = 1.25 * mark_radius;
        pen.figure({{x, y - r}, {x + 0.87 * r, y + 0.5 * r}, {x - 0.87 * r, y + 0.5 * r}},
                   mark.sight ? colour : style::paper, rim);
        return;
    }
    pen.fill_disc(x, y, mark_radius, mark.sight ? colour : style::paper);
    pen.ring(x, y, mark_radius, rim);
}

/// Marks that would lie on one another are set apart, up and down from the middle of their row.
void draw_marks(const Pen& pen, const ScoreAxes& axes, std::vector<Mark> marks) {
    std::ranges::stable_sort(marks, {}, &Mark::margin_db);
    constexpr double apart = 2.0 * mark_radius + 0.8;
    std::array<std::vector<std::pair<double, double>>, scores> placed;
    const double most = 0.5 * axes.row_height() - 16.0;
    for (const Mark& mark : marks) {
        auto& row = placed[static_cast<std::size_t>(mark.row)];
        const double x = axes.x(mark.margin_db);
        double offset = 0.0;
        for (int step = 0; step < 40; ++step) {
            const int away = (step + 1) / 2;
            offset = (step % 2 == 0 ? 0.5 : -0.5) * apart * away;
            const bool clear = std::ranges::none_of(row, [&](const auto& other) {
                return std::hypot(other.first - x, other.second - offset) < apart;
            });
            if (clear && std::abs(offset) <= most) {
                break;
            }
        }
        offset = std::clamp(offset, -most, most);
        row.emplace_back(x, offset);
        draw_mark(pen, x, axes.row_middle(mark.row) + offset, mark);
    }
}

void draw_legend(const Pen& pen, double x, double y, const std::vector<Mark>& marks) {
    struct Entry {
        Mark mark;
        const char* words;
    };
    const std::array entries{
        Entry{{0.0, 0, true, false}, "in the open, line of sight"},
        Entry{{0.0, 0, false, false}, "in the open, no line of sight"},
        Entry{{0.0, 0, true, true}, "in woods, line of sight"},
        Entry{{0.0, 0, false, true}, "in woods, no line of sight"},
    };
    const double middle = 0.5 * pen.line_height(style::body);
    for (const Entry& entry : entries) {
        const bool used = std::ranges::any_of(marks, [&](const Mark& mark) {
            return mark.sight == entry.mark.sight && mark.woods == entry.mark.woods;
        });
        if (used) {
            draw_mark(pen, x + mark_radius, y + middle, entry.mark);
            x += 12.0 + pen.text(x + 12.0, y, entry.words, style::body) + 16.0;
        }
    }
    pen.fill({x, y + middle - 4.0, 16.0, 8.0}, {0.90, 0.92, 0.88});
    pen.text(x + 21.0, y, "where all calls would be if every prediction were right", style::body);
}

/// Every call at its predicted margin (for half of the time and places) in the row of its score;
/// levels without a score stand in the row of their margin's class. Shaded boxes are where calls
/// would all be if every prediction were right. Marks tell line of sight and woods.
void draw_scatter_page(cairo_t* canvas, const Box& page, const PageWords& words,
                       const std::string& title, const FieldComparison& comparison) {
    const KeptState kept(canvas);
    const Pen pen(canvas);
    std::vector<Mark> marks;
    for (const field::ComparedCall& call : comparison.predictions.calls) {
        marks.push_back(mark_of(call));
    }
    double y = style::draw_page_head(pen, page, title, words.right);
    const double bottom = style::draw_page_foot(pen, page, words.foot, words.page);
    std::string lead = comparison.log.invented ? "INVENTED LOG. " : "";
    for (const std::string& sentence : verification_words(comparison.verification)) {
        lead += report::sentence(sentence) + " ";
    }
    y += pen.paragraph(page.x, y, lead, style::lead, page.width, 4) + 8.0;
    draw_legend(pen, page.x, y, marks);
    y += 18.0;
    constexpr double left = 124.0;
    constexpr double below = 42.0;
    const ScoreAxes axes({page.x + left, y, page.width - left - 12.0, bottom - below - y}, marks);
    draw_rows(pen, axes);
    draw_margin_axis(pen, axes);
    draw_quarters(pen, axes, comparison.verification);
    draw_marks(pen, axes, std::move(marks));
    pen.frame(axes.field(), {0.9, style::ink});
    const double middle = axes.field().y + 0.5 * axes.field().height;
    cairo_translate(canvas, page.x + 10.0, middle);
    cairo_rotate(canvas, -0.5 * std::numbers::pi);
    pen.text(0.0, -8.0, "score", style::heading, Anchor::middle);
}

} // namespace

void write_scatter_picture(const std::filesystem::path& path, const PageWords& words,
                           const std::string& title, const FieldComparison& comparison) {
    const std::string ending = path.extension().string();
    const Box area = printed_area(Paper::a4, Orientation::wide);
    if (ending == ".pdf") {
        PdfDocument document({title, "", ""});
        draw_scatter_page(document.add_page(Paper::a4, Orientation::wide, title), area, words,
                          title, comparison);
        document.write(path);
        return;
    }
    if (ending != ".png") {
        throw_usage(fmt::format("{} must end in .png or .pdf", path.string()));
    }
    constexpr double pixels_per_point = 2.0;
    const PageSize size = page_size(Paper::a4, Orientation::wide);
    write_png(path, static_cast<int>(std::ceil(size.width_pt * pixels_per_point)),
              static_cast<int>(std::ceil(size.height_pt * pixels_per_point)), pixels_per_point,
              [&](cairo_t* canvas) { draw_scatter_page(canvas, area, words, title, comparison); });
}

} // namespace earshot::report
