#include "geo/units.hpp"
#include "link/quality.hpp"
#include "propagation/p1812.hpp"
#include "report/draw/page_style.hpp"
#include "report/draw/pages.hpp"
#include "report/draw/path_section.hpp"
#include "report/say/briefing.hpp"
#include "report/say/numbers.hpp"
#include "report/say/path_report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace earshot::report {
namespace {

using namespace page_style;

using Facts = std::vector<std::pair<std::string, std::string>>;

/// The budget of both directions line by line, at the top of `area`. Returns the y under it.
double draw_budget(const Pen& pen, const Box& area, const link::TwoWayPath& path) {
    const double column = 59.0;
    const double back = area.right();
    const double out = back - column;
    const double words = area.width - 2.0 * column - 6.0;
    const double row = pen.line_height(body) + 2.6;
    double y = area.y;
    pen.text(area.x, y, "Link budget", heading);
    pen.text(out, y + 1.0, "out \u2192", body_bold, Anchor::right);
    pen.text(back, y + 1.0, "\u2190 back", body_bold, Anchor::right);
    y += pen.line_height(heading) + 3.0;
    pen.line(area.x, y, area.right(), y, {0.6, ink});
    y += 3.0;
    const auto outward = link::budget_lines(path.outward.budget);
    const auto backward = link::budget_lines(path.backward.budget);
    const auto number = [](double value, bool margin) {
        return typeset(margin ? margin_number(value, 1) : fmt::format("{:.1f}", value));
    };
    for (std::size_t k = 0; k < outward.size(); ++k) {
        const bool last = k + 1 == outward.size();
        const bool total = k + 3 == outward.size();
        if (total || last) {
            pen.line(area.x, y - 0.5, area.right(), y - 0.5, {last ? 0.6 : 0.4, ink});
            y += 2.0;
        } else if (k % 2 == 1) {
            pen.fill({area.x, y - 1.0, area.width, row}, band);
        }
        const TextStyle& style = last || total ? body_bold : body;
        pen.text(area.x, y, outward[k].label, style, Anchor::left, words);
        pen.text(out - 21.0, y, number(outward[k].value, last), style, Anchor::right);
        pen.text(out - 19.0, y, outward[k].unit, small);
        pen.text(back - 21.0, y, number(backward[k].value, last), style, Anchor::right);
        pen.text(back - 19.0, y, backward[k].unit, small);
        y += row;
    }
    return y;
}

Facts facts_of(const link::TwoWayPath& path) {
    Facts facts;
    const double km = path.line.distance_m / 1000.0;
    const double miles = path.line.distance_m / geo::metres_per_mile;
    facts.emplace_back("distance", geo::units() == geo::Units::imperial
                                       ? fmt::format("{:.2f} mi ({:.2f} km)", miles, km)
                                       : fmt::format("{:.2f} km ({:.2f} mi)", km, miles));
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

void draw_facts(const Pen& pen, const Box& area, const Facts& facts) {
    const double label_width = 66.0;
    const double row = pen.line_height(body) + 2.0;
    double y = area.y;
    for (const auto& [label, value] : facts) {
        pen.text(area.x, y, label, {body.size_px, false, quiet_ink});
        const double height =
            pen.paragraph(area.x + label_width, y, value, body, area.width - label_width, 2);
        y += std::max(row, height + 2.0);
    }
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

double draw_verdict(const Pen& pen, const Box& area, const BriefedPath& briefed) {
    const link::TwoWayPath& path = briefed.path;
    double y = area.y;
    y += pen.paragraph(area.x, y, path_verdict(path, briefed.wanted_margin_db),
                       {lead.size_px, true, ink}, area.width, 4) +
         4.0;
    y += draw_direction(pen, area.x, y, area.width, path.b.name, path.a.name, path.outward) + 1.0;
    y += draw_direction(pen, area.x, y, area.width, path.a.name, path.b.name, path.backward);
    return y + 10.0;
}

} // namespace

void draw_path_page(cairo_t* canvas, const Box& area, const PageWords& words,
                    const BriefedPath& path) {
    const Pen pen(canvas);
    const double foot = draw_page_foot(pen, area, words.foot, words.page);
    const std::string title = path.title.empty()
                                  ? fmt::format("{} to {}", path.path.a.name, path.path.b.name)
                                  : path.title;
    double y = draw_page_head(pen, area, title, words.right);
    y = draw_verdict(pen, {area.x, y, area.width, 0.0}, path);
    constexpr double budget_width = 236.0;
    constexpr double gap = 20.0;
    const Box side{area.right() - budget_width, y, budget_width, foot - 6.0 - y};
    const double under = draw_budget(pen, side, path.path) + 8.0;
    draw_facts(pen, {side.x, under, side.width, side.bottom() - under}, facts_of(path.path));
    draw_path_section(pen, {area.x, y, side.x - gap - area.x, side.height}, path.path);
}

} // namespace earshot::report
