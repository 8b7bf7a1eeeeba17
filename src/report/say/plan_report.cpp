#include "report/say/plan_report.hpp"

#include "base/csv.hpp"
#include "earshot/geo/position.hpp"
#include "geo/units.hpp"
#include "report/say/json.hpp"
#include "report/say/numbers.hpp"
#include "report/say/phrases.hpp"
#include "report/say/plan_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>

namespace earshot::report {

// ---- Masts --------------------------------------------------------------------------------------

namespace {

ordered_json mast_json(const RaisedMast& mast, double wanted_margin_db) {
    const plan::MastAnswer& answer = mast.answer;
    const auto fall_json = [](const plan::MarginFall& fall) -> ordered_json {
        return {{"from_m", fall.from_m}, {"to_m", fall.to_m}, {"fall_db", fall.fall_db}};
    };
    const auto row_json = [](const plan::MastRow& row) -> ordered_json {
        return {{"height_m", row.height_m},
                {"margin_out_db", row.margins.out_db},
                {"margin_back_db", row.margins.back_db}};
    };
    return {{"raised", mast.station},
            {"least_height_m", number_or_null(answer.least_height_m)},
            {"safe_from_m", number_or_null(answer.safe_from_m)},
            {"best_height_m", answer.best.height_m},
            {"best_margin_db", answer.best.margins.least_db()},
            {"second_height_m", number_or_null(answer.second_height_m)},
            {"words", mast_words(answer, mast.station, wanted_margin_db)},
            {"falls", json_list(answer.falls, fall_json)},
            {"table", json_list(answer.table, row_json)}};
}

/// Rows of the table to print, all of which span the heights evenly.
std::vector<const plan::MastRow*> printed_rows(const plan::MastAnswer& answer) {
    constexpr std::size_t lines = 20;
    const std::size_t every = 1 + (answer.table.size() - 1) / (lines + 1);
    std::vector<const plan::MastRow*> rows;
    for (std::size_t k = 0; k < answer.table.size(); k += every) {
        rows.push_back(&answer.table[k]);
    }
    if (rows.back() != &answer.table.back()) {
        rows.push_back(&answer.table.back());
    }
    return rows;
}

/// A table of the margin against height, and beside it a curve: a bar from the least margin of the
/// table, and a mark where the margin wanted is.
std::string margin_chart(const plan::MastAnswer& answer, double wanted_db) {
    constexpr double width = 36.0;
    const std::vector<const plan::MastRow*> rows = printed_rows(answer);
    double low_db = wanted_db;
    double high_db = wanted_db;
    for (const plan::MastRow* row : rows) {
        low_db = std::min(low_db, row->margins.least_db());
        high_db = std::max(high_db, row->margins.least_db());
    }
    const double span_db = std::max(high_db - low_db, 1.0);
    const auto column = [&](double margin_db) {
        return static_cast<std::size_t>(std::lround((margin_db - low_db) / span_db * width));
    };
    std::string text =
        fmt::format("  {:>9}  {:>11}  {:>11}\n", "height", "margin out", "margin back");
    const plan::MastRow* before = nullptr;
    for (const plan::MastRow* row : rows) {
        std::string bar(column(row->margins.least_db()) + 1, '=');
        bar.resize(std::max(bar.size(), column(wanted_db) + 1), ' ');
        bar[column(wanted_db)] = '|';
        const bool falls =
            before != nullptr && row->margins.least_db() < before->margins.least_db() - 0.05;
        text += fmt::format("  {:>9}  {:>11}  {:>11}  {}{}\n", height_text(row->height_m, 1),
                            margin_text(row->margins.out_db, 1, wanted_db),
                            margin_text(row->margins.back_db, 1, wanted_db), bar,
                            falls ? "  lower than below" : "");
        before = row;
    }
    return text +
           fmt::format("  The bar is the weaker way; | marks the {:g} dB wanted.\n", wanted_db);
}

} // namespace

std::string mast_text(std::span<const RaisedMast> masts, double wanted_margin_db,
                      const plan::LadderAnswer& first) {
    std::string text;
    if (const std::string words = before_mast_words(first); !words.empty()) {
        text += fmt::format("{}\n", sentence(words));
    }
    for (const RaisedMast& mast : masts) {
        text += fmt::format("{}\n{}\n",
                            sentence(mast_words(mast.answer, mast.station, wanted_margin_db)),
                            margin_chart(mast.answer, wanted_margin_db));
    }
    return text;
}

std::string mast_json(std::span<const RaisedMast> masts, double wanted_margin_db,
                      const plan::LadderAnswer& first, const std::vector<std::string>& notes) {
    const auto one = [&](const RaisedMast& mast) { return mast_json(mast, wanted_margin_db); };
    return text_of({{"wanted_margin_db", wanted_margin_db},
                    {"first", before_mast_words(first)},
                    {"masts", json_list(masts, one)},
                    {"notes", notes},
                    {"cautions", cautions()}});
}

std::string mast_csv(std::span<const RaisedMast> masts) {
    std::string csv = "raised,height_m,margin_out_db,margin_back_db\n";
    for (const RaisedMast& mast : masts) {
        for (const plan::MastRow& row : mast.answer.table) {
            csv += fmt::format("{},{:.2f},{:.2f},{:.2f}\n", csv_field(mast.station), row.height_m,
                               row.margins.out_db, row.margins.back_db);
        }
    }
    return csv;
}

// ---- The range on foot, and the ladder ----------------------------------------------------------

namespace {

/// Toward each of eight sides how far there is contact without a gap in every direction, and the
/// farthest contact in any, as bars.
std::string compass_chart(const plan::FootRange& range) {
    constexpr double width = 40.0;
    constexpr int sides = 8;
    double longest_m = 1.0;
    for (const plan::Reach& reach : range.reaches) {
        longest_m = std::max(longest_m, reach.farthest_m);
    }
    const auto letters = [&](double metres) {
        return static_cast<std::size_t>(std::lround(metres / longest_m * width));
    };
    std::string text =
        fmt::format("  {:<10}  {:>11}  {:>8}\n", "toward", "without gap", "farthest");
    for (int side = 0; side < sides; ++side) {
        const std::string_view word = geo::compass_word(360.0 * side / sides);
        std::optional<double> unbroken_m;
        double farthest_m = 0.0;
        for (const plan::Reach& reach : range.reaches) {
            if (geo::compass_word(reach.bearing_deg) == word) {
                unbroken_m = std::min(unbroken_m.value_or(reach.unbroken_m), reach.unbroken_m);
                farthest_m = std::max(farthest_m, reach.farthest_m);
            }
        }
        if (unbroken_m) {
            std::string bar(letters(farthest_m), '-');
            std::fill_n(bar.begin(), std::min(bar.size(), letters(*unbroken_m)), '=');
            text += fmt::format("  {:<10}  {:>11}  {:>8}  {}\n", word,
                                geo::format_distance(*unbroken_m), geo::format_distance(farthest_m),
                                bar);
        }
    }
    return text + "  = contact in every direction of that side, - in some or with gaps\n";
}

std::string reach_words(const plan::Rung& rung, std::size_t places) {
    if (rung.range) {
        return fmt::format("half of directions {}, {}", geo::format_distance(rung.range->typical_m),
                           area_text(rung.range->area_km2));
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
        text += fmt::format("  {:<{}}  {:>8}  {}\n", rung_words(rung), width, gain_of(rung),
                            reach_words(rung, places));
    }
    return text;
}

ordered_json range_json(const plan::FootRange& range) {
    return {{"words", range_words(range)},
            {"typical_m", range.typical_m},
            {"typical_unbroken_m", range.typical_unbroken_m},
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
        json["to_try"] = rung.in_doubt;
    }
    if (rung.margin_db) {
        json["margin_db"] = *rung.margin_db;
    }
    if (rung.range) {
        json.update(range_json(*rung.range));
    }
    return json;
}

} // namespace

std::string range_text(const FootReach& reach) {
    const plan::FootRange& range = reach.range;
    return fmt::format("Around {}, both ways with {:g} dB or more: {}.\n"
                       "Three quarters of directions reach {}, one quarter {}. There is contact on "
                       "{} within {}.\n{}",
                       reach.station, reach.wanted_margin_db, range_words(range),
                       geo::format_distance(range.quarter_m),
                       geo::format_distance(range.three_quarters_m), area_text(range.area_km2),
                       geo::format_distance(reach.range_m), compass_chart(range));
}

std::string range_json(const FootReach& reach, const std::vector<std::string>& notes) {
    ordered_json document = range_json(reach.range);
    document["station"] = reach.station;
    document["wanted_margin_db"] = reach.wanted_margin_db;
    document["looked_at_m"] = reach.range_m;
    document["spacing_m"] = reach.spacing_m;
    document["directions"] = json_list(reach.range.reaches, [](const plan::Reach& way) {
        return ordered_json{{"bearing_deg", way.bearing_deg},
                            {"reach_m", way.reach_m},
                            {"unbroken_m", way.unbroken_m},
                            {"farthest_m", way.farthest_m},
                            {"to_the_end", way.to_the_end}};
    });
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
    std::string text = fmt::format("In short: {}.\n", ladder_words(answer));
    if (answer.start.range) {
        text += fmt::format("Range on foot around {}: {}.\n", station,
                            range_words(*answer.start.range));
    }
    if (!answer.alone.empty()) {
        text += rungs_text("Each by itself, the most decibels for the effort first:", answer.alone,
                           places) +
                rungs_text("One on top of another:", answer.stacked, places);
    }
    return text + notes_text(notes) + cautions() + "\n";
}

std::string ladder_json(const plan::LadderAnswer& answer, std::size_t places,
                        const std::vector<std::string>& notes) {
    const auto of = [&](const plan::Rung& rung) { return rung_json(rung, places > 0); };
    ordered_json help = nullptr;
    if (answer.help) {
        const auto label = [](const plan::Pull& pull) { return pull_words(pull); };
        help = {{"steps", json_list(answer.help->pulls, label)},
                {"reached", answer.help->reached},
                {"margin_db", number_or_null(answer.help->then.margin_db)}};
    }
    return text_of({{"start", of(answer.start)},
                    {"help", help},
                    {"alone", json_list(answer.alone, of)},
                    {"stacked", json_list(answer.stacked, of)},
                    {"words", ladder_words(answer)},
                    {"notes", notes},
                    {"cautions", cautions()}});
}

// ---- Relays -------------------------------------------------------------------------------------

namespace {

ordered_json site_properties(const RelayResult& result, std::size_t k) {
    const plan::RelaySite& site = result.answer.sites[k];
    return {{"name", site.station.name},
            {"rank", k + 1},
            {"ground_m", site.candidate.ground_m},
            {"antenna_height_m", site.station.antenna_height_m},
            {"serves", site.alone},
            {"adds", site.added},
            {"reason", site_words(result.answer, k, result.places)}};
}

ordered_json site_json(const RelayResult& result, std::size_t k) {
    const plan::RelaySite& site = result.answer.sites[k];
    ordered_json json = site_properties(result, k);
    json["latitude"] = site.station.position.lat_deg;
    json["longitude"] = site.station.position.lon_deg;
    json["places"] = ordered_json::array();
    for (const plan::PlaceService& service : site.services) {
        json["places"].push_back({{"name", result.places[service.place].station.name},
                                  {"served", !service.miss},
                                  {"to_place_db", number_or_null(service.margins.out_db)},
                                  {"to_relay_db", number_or_null(service.margins.back_db)},
                                  {"distance_m", service.margins.distance_m},
                                  {"apart_db", number_or_null(service.margins.apart_db)},
                                  {"try_first", service.try_first},
                                  {"why", service.miss ? miss_words(*service.miss) : ""}});
    }
    if (site.weakest) {
        json["weakest"] = {{"name", result.places[site.weakest->place].station.name},
                           {"margin_db", site.weakest->margin_db},
                           {"chance_percent", site.weakest->chance_percent}};
    }
    if (site.share_to_try) {
        json["share_to_try"] = *site.share_to_try;
    }
    json["links"] = ordered_json::array();
    for (const plan::BackboneLink& link : site.links) {
        json["links"].push_back({{"with", link.with},
                                 {"margin_db", link.margins.least_db()},
                                 {"apart_db", number_or_null(link.margins.apart_db)},
                                 {"try_first", link.try_first}});
    }
    return json;
}

constexpr std::array unit_names{"places", "km2", "people"};

std::string headline(const RelayResult& result) {
    const plan::RelayAnswer& answer = result.answer;
    if (answer.sites.empty()) {
        return fmt::format("No candidate serves anything{}.\n",
                           answer.cover.coverable > 0.0 ? " and is linked as asked" : "");
    }
    const std::string who = answer.sites.size() == 1
                                ? "One relay serves"
                                : fmt::format("{} relays serve", answer.sites.size());
    if (result.of_area()) {
        // Rounded down, so that 100 % is all of it.
        return fmt::format("{} {:.0f} % of the {} ({:.1f} of {:.1f}{}).\n", who,
                           std::floor(100.0 * answer.served / answer.total),
                           answer.unit == plan::ServedUnit::people ? "people" : "area",
                           answer.served, answer.total,
                           answer.unit == plan::ServedUnit::people ? "" : " km2");
    }
    // What just reaches the margin is not what people call being heard.
    const link::ReadabilityClass& wanted = link::readability(result.wanted_margin_db);
    const link::ReadabilityClass& easy =
        link::readability_classes()[static_cast<std::size_t>(link::Readability::easy)];
    return fmt::format(
        "{} {}{} with a margin of {:g} dB or more, both ways{}.\n", who,
        served_words(answer.places_served, answer.places, answer.served, answer.total),
        answer.places == 1 ? " place" : " places", result.wanted_margin_db,
        result.wanted_margin_db < easy.least_margin_db
            ? fmt::format(": \"{}\" at the least; for \"{}\" ask with --margin {:g}dB", wanted.name,
                          easy.name, easy.least_margin_db)
            : "");
}

} // namespace

std::string relay_text(const RelayResult& result) {
    const plan::RelayAnswer& answer = result.answer;
    std::string text;
    const auto out = std::back_inserter(text);
    if (answer.stopped) {
        fmt::format_to(out, "Stopped: this is the best that was found until then.\n");
    }
    for (const std::string& words : plan::removal_words(result.candidates)) {
        fmt::format_to(out, "Constraint {}.\n", words);
    }
    text += headline(result);
    fmt::format_to(out, "Relays are taken to have {}.\n", equipment_words(result.relay));
    for (std::size_t k = 0; k < answer.sites.size(); ++k) {
        const plan::RelaySite& site = answer.sites[k];
        fmt::format_to(
            out, "{}. {} at {} ({}), ground {}: {}.\n", k + 1, site.station.name,
            geo::format_decimal(site.station.position), geo::format_mgrs(site.station.position),
            height_text(site.candidate.ground_m, 0), site_words(answer, k, result.places));
    }
    if (answer.ranking.size() > 1) {
        fmt::format_to(out, "Single sites that serve the most, {} or more apart:\n",
                       geo::format_distance(result.apart_m));
        for (const plan::RankedCandidate& single : answer.ranking) {
            const plan::Candidate& candidate = result.candidates.candidates[single.candidate];
            fmt::format_to(out, "  {}{}, ground {}: {}\n",
                           candidate.name.empty() ? "" : candidate.name + " at ",
                           geo::format_decimal(candidate.position),
                           height_text(candidate.ground_m, 0),
                           result.of_area() ? fmt::format("covers {:.0f} %",
                                                          100.0 * single.weight / answer.total)
                                            : site_words(answer, single, result.places));
        }
    }
    if (!answer.sites.empty() && answer.sites.size() < result.sites_asked &&
        answer.served >= answer.cover.coverable - 1e-9 * answer.total) {
        fmt::format_to(out, "A further relay would add nothing.\n");
    }
    fmt::format_to(out, "Of {} candidates, chosen by {}.\n", answer.candidates,
                   relay_words(answer));
    return text + notes_text(result.notes);
}

std::string relay_json(const RelayResult& result) {
    const plan::RelayAnswer& answer = result.answer;
    ordered_json sites = ordered_json::array();
    for (std::size_t k = 0; k < answer.sites.size(); ++k) {
        sites.push_back(site_json(result, k));
    }
    const auto single_json = [&](const plan::RankedCandidate& single) -> ordered_json {
        const plan::Candidate& candidate = result.candidates.candidates[single.candidate];
        return {{"name", candidate.name},
                {"latitude", candidate.position.lat_deg},
                {"longitude", candidate.position.lon_deg},
                {"ground_m", candidate.ground_m},
                {"serves", single.weight},
                {"reason", site_words(answer, single, result.places)}};
    };
    return text_of(
        {{"wanted_margin_db", result.wanted_margin_db},
         {"relay", equipment_words(result.relay)},
         {"sites", sites},
         {"served", answer.served},
         {"total", answer.total},
         {"unit", unit_names[static_cast<std::size_t>(answer.unit)]},
         {"bound", answer.cover.bound},
         {"proven", answer.cover.proven},
         {"method", answer.cover.method == maths::CoverMethod::exact ? "exact" : "greedy"},
         {"how", relay_words(answer)},
         {"stopped", answer.stopped},
         {"candidates", answer.candidates},
         {"candidates_evaluated", answer.evaluated},
         {"constraints", plan::removal_words(result.candidates)},
         {"single_sites", json_list(answer.ranking, single_json)},
         {"single_sites_apart_m", result.apart_m},
         {"notes", result.notes},
         {"cautions", cautions()}});
}

std::string relay_geojson(const RelayResult& result) {
    const std::vector<plan::RelaySite>& sites = result.answer.sites;
    ordered_json features = ordered_json::array();
    for (std::size_t k = 0; k < sites.size(); ++k) {
        features.push_back({{"type", "Feature"},
                            {"properties", site_properties(result, k)},
                            {"geometry", point_json(sites[k].station.position)}});
    }
    return text_of(
        {{"type", "FeatureCollection"}, {"notes", result.notes}, {"features", features}});
}

} // namespace earshot::report
