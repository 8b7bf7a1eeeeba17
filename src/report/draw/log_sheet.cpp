#include "earshot/geo/position.hpp"
#include "geo/units.hpp"
#include "link/quality.hpp"
#include "report/draw/canvas.hpp"
#include "report/draw/ground_view.hpp"
#include "report/draw/page_style.hpp"
#include "report/draw/pages.hpp"
#include "report/say/field_words.hpp"
#include "report/say/phrases.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <string>
#include <utility>

namespace earshot::report {
namespace {

using namespace page_style;

constexpr double row_height = 20.0; ///< 7 mm: room for a pencil
constexpr double stop_height = 31.0;
constexpr double stop_gap = 7.0;
constexpr double box_side = 15.0;
constexpr double score_width = 6.0 * (box_side + 3.0);

const TextStyle label_style{7.5, false, quiet_ink};

std::string direction_words(const field::WalkPlan& walk, field::CallDirection direction) {
    return direction == field::CallDirection::from_mover
               ? fmt::format("you speak, {} scores", walk.base)
               : fmt::format("{} speaks, you score", walk.base);
}

/// A label and a line to write on.
void draw_field(const Pen& pen, double x, double y, double width, const std::string& label) {
    const double taken = pen.text(x, y, label, label_style);
    const double base = y + pen.line_height(label_style) - 1.0;
    pen.line(x + taken + 4.0, base, x + width - 8.0, base, {0.5, quiet_ink});
}

double draw_fields(const Pen& pen, const Box& area) {
    const double half = area.width / 2.0;
    double y = area.y + 4.0;
    for (const auto& [left, right] :
         {std::pair{"date", "weather, leaf, snow"}, std::pair{"who walks", "who stays"},
          std::pair{"radio of who walks", "radio of who stays"}}) {
        draw_field(pen, area.x, y, half, left);
        draw_field(pen, area.x + half, y, half, right);
        y += 21.0;
    }
    return y;
}

/// The scores in words, strongest first.
double draw_scores(const Pen& pen, const Box& area) {
    pen.text(area.x, area.y, "Score each call from 0 to 5", heading);
    double y = area.y + pen.line_height(heading) + 2.0;
    const auto classes = link::readability_classes();
    for (auto shown = classes.rbegin(); shown != classes.rend(); ++shown) {
        pen.text(area.x, y, fmt::format("{}", static_cast<int>(shown->readability)), body_bold);
        y += pen.paragraph(area.x + 12.0, y, fmt::format("{}: {}", shown->name, shown->meaning),
                           body, area.width - 12.0) +
             2.0;
    }
    return y + 4.0;
}

double draw_set_ups(const Pen& pen, const Box& area, const field::WalkPlan& walk) {
    pen.text(area.x, area.y, "Set-ups of who walks", heading);
    double y = area.y + pen.line_height(heading) + 2.0;
    const double name_width = 0.28 * area.width;
    for (const field::SetUp& set_up : walk.set_ups) {
        const double name = pen.paragraph(area.x, y, set_up.name, body_bold, name_width - 8.0, 2);
        const double words = pen.paragraph(area.x + name_width, y, field::set_up_words(set_up),
                                           body, area.width - name_width, 2);
        y += std::max(name, words) + 2.0;
    }
    return y + 4.0;
}

/// Where the stops are.
void draw_stops(const Pen& pen, const Box& area, const field::WalkPlan& walk,
                const terrain::HeightGrid& ground) {
    constexpr double rim = 22.0;
    std::vector<MapMark> marks{{walk.base_position, walk.base, true}};
    std::vector<geo::LatLon> positions{walk.base_position};
    for (const field::PlannedStop& stop : walk.stops) {
        marks.push_back({stop.position, stop.name, false});
        positions.push_back(stop.position);
    }
    const GroundView view(area, rim, positions);
    view.draw(pen, ground);
    draw_marks(pen.canvas(), plan_marks(pen.canvas(), view.placing(), marks));
    view.draw_scale(pen);
    pen.frame(view.frame(), {0.6, ink});
}

/// All that stands above the stops of the first sheet.
double draw_preface(const Pen& pen, const Box& area, const field::WalkPlan& walk,
                    const terrain::HeightGrid* ground) {
    double y = draw_fields(pen, area);
    y += pen.paragraph(
             area.x, y,
             fmt::format("{} stays at {} ({}). Frequency {:g} MHz. {} stops, {} calls. {} {}",
                         walk.base, geo::format_mgrs(walk.base_position),
                         geo::format_decimal(walk.base_position), walk.frequency_mhz,
                         walk.stops.size(), walk.calls(), sentence(walk_time_words(walk)),
                         sentence(order_words(walk))),
             body, area.width) +
         7.0;
    constexpr double map_share = 0.46;
    const double words_width = ground == nullptr ? area.width : (1.0 - map_share) * area.width;
    double under = draw_scores(pen, {area.x, y, words_width - 12.0, 0.0});
    under = draw_set_ups(pen, {area.x, under, words_width - 12.0, 0.0}, walk);
    if (ground != nullptr) {
        constexpr double least_height = 190.0;
        const Box map{area.x + words_width, y, area.width - words_width,
                      std::max(least_height, under - y - 6.0)};
        draw_stops(pen, map, walk, *ground);
        under = map.bottom() + 8.0;
    }
    return under;
}

/// Columns of the rows of calls.
struct CallColumns {
    double order, set_up, direction, score, note;
    double set_up_width, direction_width, note_width;
};

CallColumns call_columns(const Box& area) {
    CallColumns columns{};
    columns.order = area.x;
    columns.set_up = area.x + 18.0;
    const double room = area.width - 18.0 - score_width;
    columns.set_up_width = 0.26 * room;
    columns.direction = columns.set_up + columns.set_up_width;
    columns.direction_width = 0.41 * room;
    columns.score = columns.direction + columns.direction_width;
    columns.note = columns.score + score_width + 4.0;
    columns.note_width = area.right() - columns.note;
    return columns;
}

void draw_stop_head(const Pen& pen, const Box& area, const field::WalkPlan& walk,
                    const field::PlannedStop& stop, bool continued) {
    pen.fill({area.x, area.y, area.width, stop_height - 3.0}, band);
    const TextStyle number{13.0, true, ink};
    const double top = area.y + (stop_height - 3.0 - pen.line_height(number)) / 2.0;
    // Stops along a track are numbered; places have names.
    const bool numbered =
        std::ranges::all_of(stop.name, [](char c) { return c >= '0' && c <= '9'; });
    const double taken =
        pen.text(area.x + 5.0, top, numbered ? fmt::format("Stop {}", stop.name) : stop.name,
                 number, Anchor::left, 200.0);
    const double time_width = 92.0;
    const double x = area.x + taken + 17.0;
    const double width = area.right() - time_width - x;
    std::string where =
        fmt::format("{}   {}", geo::format_mgrs(stop.position), geo::format_decimal(stop.position));
    if (continued) {
        where += "   (continued)";
    }
    pen.text(x, area.y + 3.0, where, body_bold, Anchor::left, width);
    pen.text(x, area.y + 3.0 + pen.line_height(body_bold),
             fmt::format("{}{} from {}, bearing {:.0f}\u00b0 from there",
                         stop.along_m > 0.0
                             ? fmt::format("{} along the way; ", geo::format_distance(stop.along_m))
                             : std::string(),
                         geo::format_distance(stop.distance_m), walk.base, stop.bearing_deg),
             label_style, Anchor::left, width);
    draw_field(pen, area.right() - time_width, area.y + 9.0, time_width, "time");
}

void draw_call(const Pen& pen, const Box& area, const field::WalkPlan& walk,
               const field::PlannedCall& call, std::size_t order) {
    const CallColumns columns = call_columns(area);
    const double middle = area.y + row_height / 2.0;
    const double top = middle - pen.line_height(body) / 2.0;
    pen.text(columns.order + 12.0, top, fmt::format("{}", order), label_style, Anchor::right);
    // Every word of what is to be done, in smaller letters or on two lines if it must.
    const auto words = [&](double x, const std::string& text, const TextStyle& style,
                           double width) {
        constexpr double least_pt = 6.8;
        const TextStyle fit = fitted(pen, text, style, width, least_pt);
        const double height = pen.paragraph_height(text, fit, width, 2);
        pen.paragraph(x, middle - height / 2.0, text, fit, width, 2);
    };
    words(columns.set_up, walk.set_ups[call.set_up].name, body_bold, columns.set_up_width - 6.0);
    words(columns.direction, direction_words(walk, call.direction), body,
          columns.direction_width - 6.0);
    const TextStyle digit{9.0, false, quiet_ink};
    for (int score = 0; score <= 5; ++score) {
        const Box box{columns.score + score * (box_side + 3.0), middle - box_side / 2.0, box_side,
                      box_side};
        pen.frame(box, {0.7, ink});
        pen.text(box.x + box_side / 2.0, middle - pen.line_height(digit) / 2.0,
                 fmt::format("{}", score), digit, Anchor::middle);
    }
    pen.line(columns.note, area.y + row_height - 4.0, area.right(), area.y + row_height - 4.0,
             {0.4, quiet_ink});
}

/// Some of the calls of a stop, on a sheet.
struct StopPart {
    std::size_t stop = 0;
    std::size_t first = 0;
    std::size_t calls = 0;

    [[nodiscard]] double height() const {
        return stop_height + row_height * static_cast<double>(calls) + stop_gap;
    }
};

struct Sheets {
    Box area;
    field::WalkPlan walk;
    const terrain::HeightGrid* ground = nullptr;
    std::vector<std::vector<StopPart>> sheets;
};

/// Room above the head, below the foot and for the column titles of a sheet.
constexpr double frame_height = 84.0;

/// Fills sheets with stops. `first_room` is what the preface leaves of the first.
std::vector<std::vector<StopPart>> spread(const field::WalkPlan& walk, double first_room,
                                          double room) {
    std::vector<std::vector<StopPart>> sheets(1);
    double left = first_room;
    const auto next_sheet = [&] {
        sheets.emplace_back();
        left = room;
    };
    for (std::size_t stop = 0; stop < walk.stops.size(); ++stop) {
        std::size_t first = 0;
        std::size_t remaining = walk.stops[stop].calls.size();
        while (remaining > 0) {
            StopPart part{stop, first, remaining};
            if (part.height() > left && part.height() <= room) {
                next_sheet();
            } else if (part.height() > room) {
                // Longer than a sheet: as many calls as there is room for.
                const double rows = std::floor((left - stop_height - stop_gap) / row_height);
                if (rows < 1.0) {
                    next_sheet();
                    continue;
                }
                part.calls = std::min(remaining, static_cast<std::size_t>(rows));
            }
            sheets.back().push_back(part);
            left -= part.height();
            first += part.calls;
            remaining -= part.calls;
        }
    }
    return sheets;
}

void draw_column_titles(const Pen& pen, const Box& area, double y) {
    const CallColumns columns = call_columns(area);
    pen.text(columns.set_up, y, "set-up", label_style);
    pen.text(columns.direction, y, "call", label_style);
    pen.text(columns.score, y, "score: cross one", label_style);
    pen.text(columns.note, y, "note", label_style);
}

void draw_sheet(const Sheets& all, std::size_t sheet, cairo_t* canvas, const PageWords& words) {
    const Pen pen(canvas);
    const std::string page = words.page.empty()
                                 ? fmt::format("sheet {} of {}", sheet + 1, all.sheets.size())
                                 : words.page;
    draw_page_foot(pen, all.area, words.foot, page);
    const std::string title = all.walk.title.empty() ? "Walk test" : all.walk.title;
    double y = draw_page_head(pen, all.area, title, words.right);
    if (sheet == 0) {
        y = draw_preface(pen, {all.area.x, y, all.area.width, 0.0}, all.walk, all.ground);
    }
    draw_column_titles(pen, all.area, y);
    y += pen.line_height(label_style) + 3.0;
    for (const StopPart& part : all.sheets[sheet]) {
        const field::PlannedStop& stop = all.walk.stops[part.stop];
        draw_stop_head(pen, {all.area.x, y, all.area.width, stop_height}, all.walk, stop,
                       part.first > 0);
        y += stop_height;
        for (std::size_t k = 0; k < part.calls; ++k) {
            draw_call(pen, {all.area.x, y, all.area.width, row_height}, all.walk,
                      stop.calls[part.first + k], part.first + k + 1);
            y += row_height;
        }
        y += stop_gap;
    }
}

} // namespace

std::vector<PageDrawing> log_sheet_pages(const Box& area, const field::WalkPlan& walk,
                                         const terrain::HeightGrid* ground) {
    const auto all = std::make_shared<Sheets>();
    all->area = area;
    all->walk = walk;
    all->ground = ground;
    const Canvas measuring = measuring_canvas();
    const double preface =
        draw_preface(Pen(measuring.get()), {0.0, 0.0, area.width, 0.0}, all->walk, ground);
    const double room = area.height - frame_height;
    all->sheets = spread(walk, room - preface, room);
    std::vector<PageDrawing> pages;
    for (std::size_t sheet = 0; sheet < all->sheets.size(); ++sheet) {
        pages.emplace_back([all, sheet](cairo_t* canvas, const PageWords& words) {
            draw_sheet(*all, sheet, canvas, words);
        });
    }
    return pages;
}

} // namespace earshot::report
