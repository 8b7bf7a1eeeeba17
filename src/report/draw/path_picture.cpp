#include "report/draw/path_picture.hpp"

#include "geo/units.hpp"
#include "link/quality.hpp"
#include "propagation/basic.hpp"
#include "propagation/p1812.hpp"
#include "report/draw/page_style.hpp"
#include "report/draw/path_drawing.hpp"
#include "report/say/briefing.hpp"
#include "report/say/numbers.hpp"
#include "report/say/path_report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace earshot::report {
namespace {

using namespace page_style;

using Facts = std::vector<std::pair<std::string, std::string>>;

Facts facts_of(const link::TwoWayPath& path) {
    Facts facts;
    facts.emplace_back("distance",
                       fmt::format("{:.2f} km ({:.2f} mi)", path.line.distance_m / 1000.0,
                                   path.line.distance_m / geo::metres_per_mile));
    facts.emplace_back("bearings", fmt::format("{:.0f}\u00b0 out, {:.0f}\u00b0 back, from true "
                                               "north",
                                               path.line.bearing_deg, path.line.back_bearing_deg));
    facts.emplace_back("frequency", fmt::format("{:g} MHz", path.conditions.frequency_mhz));
    facts.emplace_back("method",
                       std::string(propagation::method_info(path.conditions.method).source));
    if (const auto& p1812 = path.outward.loss.p1812) {
        facts.emplace_back("climate",
                           fmt::format("delta-N {:g}, N0 {:g}", p1812->inputs.refractivity.delta_n,
                                       p1812->inputs.refractivity.n0));
        facts.emplace_back("not exceeded",
                           fmt::format("in {:g}\u00a0% of the time, at {:g}\u00a0% of places",
                                       p1812->inputs.time_percent, p1812->inputs.location_percent));
    }
    facts.emplace_back("loss", fmt::format("{:.0f} dB for distance alone, {:.0f} dB more for the "
                                           "ground between",
                                           path.outward.loss.free_space_db,
                                           path.outward.loss.diffraction_db));
    return facts;
}

double draw_facts(const Pen& pen, const Box& area, const Facts& facts) {
    const double label_width = 66.0;
    const double row = pen.line_height(body) + 2.0;
    double y = area.y;
    for (const auto& [label, value] : facts) {
        pen.text(area.x, y, label, {body.size_px, false, quiet_ink});
        const double height =
            pen.paragraph(area.x + label_width, y, value, body, area.width - label_width, 2);
        y += std::max(row, height + 2.0);
    }
    return y;
}

/// One direction in words, with the colour of its class.
double draw_direction(const Pen& pen, double x, double y, double width, const std::string& listener,
                      const std::string& talker, const link::Direction& direction) {
    const double margin_db = direction.budget.margin_db;
    const link::ReadabilityClass& heard = link::readability(margin_db);
    const double side = 9.0;
    draw_class_mark(pen, x, y + 2.5, side, margin_db);
    const std::string words =
        fmt::format("{} hears {}: {} ({}), margin {}, chance of contact {}", listener, talker,
                    heard.name, heard.meaning, typeset(margin_text(margin_db, 1)),
                    typeset(chance_text(direction.chance_percent)));
    return pen.paragraph(x + side + 6.0, y, words, lead, width - side - 6.0, 2);
}

double draw_verdict(const Pen& pen, const Box& area, const link::TwoWayPath& path) {
    double y = area.y;
    y += pen.paragraph(area.x, y, path_verdict(path), {lead.size_px, true, ink}, area.width, 4) +
         4.0;
    y += draw_direction(pen, area.x, y, area.width, path.b.name, path.a.name, path.outward) + 1.0;
    y += draw_direction(pen, area.x, y, area.width, path.a.name, path.b.name, path.backward);
    return y + 10.0;
}

double draw_notes(const Pen& pen, const Box& area, const std::vector<std::string>& notes) {
    double y = area.y;
    for (const std::string& note : notes) {
        y += pen.paragraph(area.x, y, note, small, area.width, 3) + 2.0;
    }
    return y;
}

constexpr double budget_width = 236.0;
constexpr double gap = 20.0;

/// Wide paper: the budget beside the section, the facts below the budget.
void draw_wide(const Pen& pen, const Box& area, const BriefedPath& briefed,
               const std::vector<std::string>& notes) {
    const link::TwoWayPath& path = briefed.path;
    const Box side{area.right() - budget_width, area.y, budget_width, area.height};
    const double y = draw_budget(pen, side, path) + 8.0;
    const double end = draw_facts(pen, {side.x, y, side.width, area.bottom() - y}, facts_of(path));
    draw_notes(pen, {side.x, end + 2.0, side.width, area.bottom() - end}, notes);
    draw_path_section(pen, {area.x, area.y, area.width - budget_width - gap, area.height}, path);
}

/// Upright paper: budget and facts side by side under the section.
void draw_upright(const Pen& pen, const Box& area, const BriefedPath& briefed,
                  const std::vector<std::string>& notes) {
    const link::TwoWayPath& path = briefed.path;
    constexpr double below = 236.0;
    const double section_height = std::min(area.height - below, 0.86 * area.width);
    draw_path_section(pen, {area.x, area.y, area.width, section_height}, path);
    const double y = area.y + section_height + 16.0;
    draw_budget(pen, {area.x, y, budget_width + 20.0, area.bottom() - y}, path);
    const double x = area.x + budget_width + 20.0 + gap;
    const double end = draw_facts(pen, {x, y, area.right() - x, area.bottom() - y}, facts_of(path));
    draw_notes(pen, {x, end + 2.0, area.right() - x, area.bottom() - end}, notes);
}

} // namespace

void draw_path_page(cairo_t* canvas, const Box& area, const PageWords& words,
                    const BriefedPath& path, const std::vector<std::string>& notes) {
    const Pen pen(canvas);
    const double foot = draw_page_foot(pen, area, words.foot, words.page);
    const std::string title = path.title.empty()
                                  ? fmt::format("{} to {}", path.path.a.name, path.path.b.name)
                                  : path.title;
    double y = draw_page_head(pen, area, title, words.right);
    y = draw_verdict(pen, {area.x, y, area.width, 0.0}, path.path);
    const Box rest{area.x, y, area.width, foot - 6.0 - y};
    if (area.width > area.height) {
        draw_wide(pen, rest, path, notes);
    } else {
        draw_upright(pen, rest, path, notes);
    }
}

} // namespace earshot::report
