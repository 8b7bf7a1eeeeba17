#include "report/say/reach_report.hpp"

#include "geo/units.hpp"
#include "report/say/json.hpp"
#include "report/say/numbers.hpp"
#include "report/say/phrases.hpp"
#include "report/say/plan_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace earshot::report {
namespace {

/// The middle reach of the directions around each of eight, as bars.
std::string compass_chart(const plan::FootRange& range) {
    constexpr double width = 40.0;
    constexpr int sides = 8;
    std::string text;
    const double longest_m = std::max(range.best.reach_m, 1.0);
    for (int side = 0; side < sides; ++side) {
        const double middle_deg = 360.0 * side / sides;
        std::vector<double> reaches;
        for (const plan::Reach& reach : range.reaches) {
            if (geo::compass_word(reach.bearing_deg) == geo::compass_word(middle_deg)) {
                reaches.push_back(reach.reach_m);
            }
        }
        if (reaches.empty()) {
            continue;
        }
        const auto middle = reaches.begin() + static_cast<std::ptrdiff_t>(reaches.size() / 2);
        std::nth_element(reaches.begin(), middle, reaches.end());
        text += fmt::format(
            "  {:<10}  {:>8}  {}\n", geo::compass_word(middle_deg), geo::format_distance(*middle),
            std::string(static_cast<std::size_t>(std::lround(*middle / longest_m * width)), '='));
    }
    return text;
}

std::string reach_words(const plan::Rung& rung, std::size_t places) {
    if (rung.range) {
        return fmt::format("half of directions {}, {:.1f} km2",
                           geo::format_distance(rung.range->typical_m), rung.range->area_km2);
    }
    if (rung.margin_db) {
        return "margin " + margin_text(*rung.margin_db, 1);
    }
    return fmt::format("{} of {} places", rung.places, places);
}

std::string rungs_text(const char* heading, const std::vector<plan::Rung>& rungs,
                       std::size_t places) {
    std::size_t width = 0;
    for (const plan::Rung& rung : rungs) {
        width = std::max(width, rung_words(rung).size());
    }
    std::string text = fmt::format("{}\n", heading);
    for (const plan::Rung& rung : rungs) {
        text +=
            fmt::format("  {:<{}}  {:>8}  {}\n", rung_words(rung), width,
                        rung.gain_db ? gain_text(*rung.gain_db) : "", reach_words(rung, places));
    }
    return text;
}

ordered_json range_json(const plan::FootRange& range) {
    return {{"words", range_words(range)},
            {"typical_m", range.typical_m},
            {"three_quarters_of_directions_m", range.quarter_m},
            {"one_quarter_of_directions_m", range.three_quarters_m},
            {"best_m", range.best.reach_m},
            {"best_bearing_deg", range.best.bearing_deg},
            {"worst_m", range.worst.reach_m},
            {"worst_bearing_deg", range.worst.bearing_deg},
            {"area_km2", range.area_km2}};
}

ordered_json rung_json(const plan::Rung& rung, bool of_places) {
    ordered_json json = {{"label", rung_words(rung)}, {"effort", rung.effort}};
    json["gain_db"] = number_or_null(rung.gain_db);
    if (of_places) {
        json["places"] = rung.places;
        json["weight"] = rung.weight;
    }
    if (rung.margin_db) {
        json["margin_db"] = *rung.margin_db;
    }
    if (rung.range) {
        json.update(range_json(*rung.range));
    }
    return json;
}

ordered_json rungs_json(const std::vector<plan::Rung>& rungs, bool of_places) {
    ordered_json list = ordered_json::array();
    for (const plan::Rung& rung : rungs) {
        list.push_back(rung_json(rung, of_places));
    }
    return list;
}

} // namespace

std::string range_text(const FootReach& reach) {
    const plan::FootRange& range = reach.range;
    return fmt::format("Around {}, both ways with {:g} dB or more: {}.\n"
                       "Three quarters of directions reach {}, one quarter {}. There is contact on "
                       "{:.1f} km2 within {}.\n{}",
                       reach.station, reach.wanted_margin_db, range_words(range),
                       geo::format_distance(range.quarter_m),
                       geo::format_distance(range.three_quarters_m), range.area_km2,
                       geo::format_distance(reach.range_m), compass_chart(range));
}

std::string range_json(const FootReach& reach, const std::vector<std::string>& notes) {
    ordered_json document = range_json(reach.range);
    document["station"] = reach.station;
    document["wanted_margin_db"] = reach.wanted_margin_db;
    document["looked_at_m"] = reach.range_m;
    document["spacing_m"] = reach.spacing_m;
    document["directions"] = ordered_json::array();
    for (const plan::Reach& way : reach.range.reaches) {
        document["directions"].push_back({{"bearing_deg", way.bearing_deg},
                                          {"reach_m", way.reach_m},
                                          {"unbroken_m", way.unbroken_m},
                                          {"farthest_m", way.farthest_m},
                                          {"to_the_end", way.to_the_end}});
    }
    document["notes"] = notes;
    document["cautions"] = cautions();
    return text_of(document);
}

std::string range_csv(const plan::FootRange& range) {
    std::string csv = "bearing_deg,reach_m,unbroken_m,farthest_m,to_the_end\n";
    for (const plan::Reach& reach : range.reaches) {
        csv += fmt::format("{:.2f},{:.0f},{:.0f},{:.0f},{}\n", reach.bearing_deg, reach.reach_m,
                           reach.unbroken_m, reach.farthest_m, yes_or_no(reach.to_the_end));
    }
    return csv;
}

std::string ladder_text(const plan::LadderAnswer& answer, const std::string& station,
                        std::size_t places, const std::vector<std::string>& notes) {
    return (answer.start.range
                ? fmt::format("Range on foot around {}: {}.\n", station,
                              range_words(*answer.start.range))
                : fmt::format("As it is: {}.\n", reach_words(answer.start, places))) +
           rungs_text("Each by itself, the most decibels for the effort first:", answer.alone,
                      places) +
           rungs_text("One on top of another:", answer.stacked, places) + notes_text(notes) +
           fmt::format("In short: {}.\n{}\n", ladder_words(answer), cautions());
}

std::string ladder_json(const plan::LadderAnswer& answer, std::size_t places,
                        const std::vector<std::string>& notes) {
    return text_of({{"start", rung_json(answer.start, places > 0)},
                    {"alone", rungs_json(answer.alone, places > 0)},
                    {"stacked", rungs_json(answer.stacked, places > 0)},
                    {"words", ladder_words(answer)},
                    {"notes", notes},
                    {"cautions", cautions()}});
}

} // namespace earshot::report
