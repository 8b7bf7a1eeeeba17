#include "report/say/comparison_report.hpp"

#include "base/csv.hpp"
#include "earshot/geo/position.hpp"
#include "geo/units.hpp"
#include "maths/statistics.hpp"
#include "report/say/field_words.hpp"
#include "report/say/json.hpp"
#include "report/say/numbers.hpp"
#include "report/say/phrases.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <map>

namespace earshot::report {

// ---- A log beside its predictions, and walk tests -----------------------------------------------

namespace {

constexpr std::string_view invented_warning =
    "This log is INVENTED: nobody made these calls. It shows what the report looks like, no more.";

std::string interval_text(const maths::Interval& interval) {
    return fmt::format("{:+.1f} to {:+.1f}", interval.low, interval.high);
}

std::string table_row(const field::CallGroup& group) {
    const field::ContingencyTable& table = group.table;
    std::string bias = "cannot tell";
    if (group.bias.bias_db) {
        bias = fmt::format("{:+5.1f} ({})", group.bias.bias_db->value,
                           interval_text(group.bias.bias_db->interval));
    }
    return fmt::format("  {:<24.24} {:>5} {:>5} {:>5} {:>6} {:>6} {:>7} {:>5.0f} %  {:<22} {:>6}\n",
                       group.label, group.stops, table.calls(), table.hits, table.misses,
                       table.false_alarms, table.silences, 100.0 * table.right(), bias,
                       group.bias.spread_db ? fmt::format("{:.1f}", *group.bias.spread_db) : "");
}

std::string table_text(const field::Verification& verification) {
    std::string text = fmt::format(
        "  {:<24} {:>5} {:>5} {:>5} {:>6} {:>6} {:>7} {:>7}  {:<22} {:>6}\n", "", "stops", "calls",
        "hits", "misses", "alarms", "neither", "right", "bias, dB (95 %)", "spread");
    text += table_row(verification.all);
    for (const field::Grouping& grouping : verification.groupings) {
        text += fmt::format("By {}\n", grouping.title);
        for (const field::CallGroup& group : grouping.groups) {
            text += table_row(group);
        }
    }
    text += fmt::format(
        "hits: predicted to be heard, and heard (score {} or more). misses: heard, though not\n"
        "predicted. alarms: predicted, but not heard. bias: + where calls came through better "
        "than\n"
        "predicted. spread: standard deviation of a single call, dB.\n",
        static_cast<int>(verification.wanted));
    return text;
}

std::string heard_text(const field::ComparedCall& call) {
    std::string text = call.score ? fmt::format("{}", *call.score) : "";
    if (call.level_dbm) {
        text += fmt::format("{}{:.0f} dBm", text.empty() ? "" : ", ", *call.level_dbm);
    }
    return text;
}

std::string calls_text(const FieldComparison& comparison) {
    std::string text =
        fmt::format("{:>5} {:<16} {:<20} {:<10} {:>9} {:>9} {:>7} {:>6}  {}\n", "line", "stop",
                    "set-up", "direction", "distance", "predicted", "chance", "class", "heard");
    const double wanted_db = comparison.verification.wanted_margin_db;
    for (const field::ComparedCall& call : comparison.predictions.calls) {
        text += fmt::format(
            "{:>5} {:<16.16} {:<20.20} {:<10} {:>9} {:>9} {:>7} {:>6}  {}\n", call.line, call.stop,
            call.set_up.name, name_of(call.direction), geo::format_distance(call.distance_m),
            margin_text(call.margin_db, 1, wanted_db), short_chance_text(call.chance_percent),
            static_cast<int>(call.readability), heard_text(call));
    }
    return text;
}

std::string rows_text(const std::string& heading, const std::vector<field::BadRow>& rows) {
    if (rows.empty()) {
        return {};
    }
    constexpr std::size_t most_shown = 20;
    std::string text = fmt::format("{}\n", heading);
    for (const field::BadRow& row : rows) {
        if (&row - rows.data() == most_shown) {
            text += fmt::format("  and {} more; --json lists all\n", rows.size() - most_shown);
            break;
        }
        text += fmt::format("  line {}: {}\n", row.line, row.reason);
    }
    return text;
}

ordered_json measured_json(const std::optional<field::Measured>& measured) {
    if (!measured) {
        return nullptr;
    }
    return {{"value", measured->value},
            {"low", measured->interval.low},
            {"high", measured->interval.high}};
}

ordered_json group_json(const field::CallGroup& group) {
    const field::ContingencyTable& table = group.table;
    return {{"label", group.label},
            {"stops", group.stops},
            {"calls", table.calls()},
            {"hits", table.hits},
            {"misses", table.misses},
            {"false_alarms", table.false_alarms},
            {"silences", table.silences},
            {"right", number_or_null(table.right())},
            {"right_low", group.right.low},
            {"right_high", group.right.high},
            {"hit_rate", number_or_null(table.hit_rate())},
            {"false_alarm_ratio", number_or_null(table.false_alarm_ratio())},
            {"heidke_skill", number_or_null(table.heidke_skill())},
            {"bias_db", measured_json(group.bias.bias_db)},
            {"spread_db", number_or_null(group.bias.spread_db)}};
}

ordered_json call_json(const field::ComparedCall& call) {
    return {{"line", call.line},
            {"stop", call.stop},
            {"latitude", call.position.lat_deg},
            {"longitude", call.position.lon_deg},
            {"base", call.base},
            {"set_up", call.set_up.name},
            {"direction", name_of(call.direction)},
            {"score", value_or_null(call.score)},
            {"level_dbm", number_or_null(call.level_dbm)},
            {"distance_m", call.distance_m},
            {"bearing_deg", call.bearing_deg},
            {"line_of_sight", call.line_of_sight},
            {"in_woods", call.in_woods},
            {"woodland_db", call.woodland_db},
            {"basic_loss_db", call.basic_loss_db},
            {"received_dbm", call.received_dbm},
            {"needed_dbm", call.needed_dbm},
            {"margin_db", call.margin_db},
            {"median_margin_db", call.median_margin_db},
            {"chance_percent", call.chance_percent},
            {"readability", static_cast<int>(call.readability)}};
}

/// `line` is what the row's number is called.
ordered_json rows_json(const std::vector<field::BadRow>& rows, const char* line) {
    return json_list(rows, [&](const field::BadRow& row) -> ordered_json {
        return {{line, row.line}, {"reason", row.reason}};
    });
}

std::string_view verdict_name(field::LeverVerdict verdict) {
    switch (verdict) {
    case field::LeverVerdict::helps:
        return "helps";
    case field::LeverVerdict::hurts:
        return "hurts";
    case field::LeverVerdict::cannot_tell:
        break;
    }
    return "cannot tell";
}

ordered_json lever_json(const field::LeverTest& lever) {
    return {{"what", change_name(lever.change)},
            {"from", lever.from},
            {"to", lever.to},
            {"stops", lever.stops},
            {"calls", lever.calls},
            {"predicted_db", lever.predicted_db},
            {"measured_db", measured_json(lever.measured_db)},
            {"verdict", verdict_name(lever.verdict)},
            {"stops_needed", value_or_null(lever.stops_needed)},
            {"words", lever_test_words(lever)}};
}

std::vector<std::string> all_notes(const FieldComparison& comparison) {
    std::vector<std::string> notes = comparison.log.notes;
    notes.insert(notes.end(), comparison.notes.begin(), comparison.notes.end());
    return notes;
}

} // namespace

std::string comparison_text(const FieldComparison& comparison, bool every_call) {
    const field::FieldLog& log = comparison.log;
    const field::Verification& verification = comparison.verification;
    std::string text;
    if (log.invented) {
        text += fmt::format("{}\n", invented_warning);
    }
    text += fmt::format("{}: {} calls at {} stops beside their predictions", log.file.string(),
                        comparison.predictions.calls.size(), verification.all.stops);
    const std::size_t unused = log.bad_rows.size() + comparison.predictions.not_predicted.size();
    text += unused > 0 ? fmt::format("; {} rows could not be used", unused) : "";
    text += log.not_tried > 0 ? fmt::format("; {} were not tried", log.not_tried) : "";
    text += ".\n\n";
    if (every_call) {
        text += calls_text(comparison) + "\n";
    }
    text += table_text(verification);
    if (!verification.levers.empty()) {
        text += "\nWhat the test says of each change of set-up, at stops where both were tried:\n";
        for (const field::LeverTest& lever : verification.levers) {
            text += fmt::format("  {}.\n", lever_test_words(lever));
        }
    }
    text += fmt::format(
        "\n{}{}", rows_text("Rows that could not be used:", log.bad_rows),
        rows_text("Calls that cannot be predicted:", comparison.predictions.not_predicted));
    text += notes_text(all_notes(comparison));
    text += fmt::format("In short: {}.\n{}\n", fmt::join(verification_words(verification), "; "),
                        cautions());
    return text;
}

std::string comparison_json(const FieldComparison& comparison) {
    const field::Verification& verification = comparison.verification;
    ordered_json groups = ordered_json::object();
    for (const field::Grouping& grouping : verification.groupings) {
        for (const field::CallGroup& group : grouping.groups) {
            groups[grouping.title].push_back(group_json(group));
        }
    }
    return text_of({{"log", comparison.log.file.string()},
                    {"invented", comparison.log.invented},
                    {"wanted_margin_db", verification.wanted_margin_db},
                    {"wanted_score", static_cast<int>(verification.wanted)},
                    {"all", group_json(verification.all)},
                    {"groups", groups},
                    {"levers", json_list(verification.levers, lever_json)},
                    {"calls", json_list(comparison.predictions.calls, call_json)},
                    {"not_tried", comparison.log.not_tried},
                    {"bad_rows", rows_json(comparison.log.bad_rows, "line")},
                    {"not_predicted", rows_json(comparison.predictions.not_predicted, "line")},
                    {"words", verification_words(verification)},
                    {"notes", all_notes(comparison)},
                    {"cautions", cautions()}});
}

std::string comparison_csv(const FieldComparison& comparison) {
    std::string csv = "line,stop,latitude,longitude,base,set_up,direction,score,level_dbm,"
                      "distance_m,bearing_deg,line_of_sight,in_woods,woodland_db,basic_loss_db,"
                      "received_dbm,needed_dbm,margin_db,median_margin_db,chance_percent,"
                      "readability,predicted_heard,heard\n";
    const double wanted_db = comparison.verification.wanted_margin_db;
    for (const field::ComparedCall& call : comparison.predictions.calls) {
        csv += fmt::format(
            "{},{},{:.6f},{:.6f},{},{},{},{},{},{:.0f},{:.1f},{},{},{:.1f},{:.1f},{:.1f},{:.1f},"
            "{:.1f},{:.1f},{:.1f},{},{},{}\n",
            call.line, csv_field(call.stop), call.position.lat_deg, call.position.lon_deg,
            csv_field(call.base), csv_field(call.set_up.name), name_of(call.direction),
            call.score ? fmt::format("{}", *call.score) : "",
            call.level_dbm ? fmt::format("{:.1f}", *call.level_dbm) : "", call.distance_m,
            call.bearing_deg, yes_or_no(call.line_of_sight), yes_or_no(call.in_woods),
            call.woodland_db, call.basic_loss_db, call.received_dbm, call.needed_dbm,
            shown_margin_db(call.margin_db, 1, wanted_db), call.median_margin_db,
            call.chance_percent, static_cast<int>(call.readability),
            yes_or_no(call.margin_db >= wanted_db), yes_or_no(field::heard(call, wanted_db)));
    }
    return csv;
}

std::string comparison_geojson(const FieldComparison& comparison) {
    struct Stop {
        const field::ComparedCall* any = nullptr;
        field::ContingencyTable table;
        double margin_sum_db = 0.0;
        std::optional<int> best, worst;
    };
    std::map<std::string, Stop> stops;
    const double wanted_db = comparison.verification.wanted_margin_db;
    for (const field::ComparedCall& call : comparison.predictions.calls) {
        Stop& stop = stops[call.stop];
        stop.any = &call;
        stop.margin_sum_db += call.margin_db;
        stop.table.add(call.margin_db >= wanted_db, field::heard(call, wanted_db));
        if (call.score) {
            stop.best = std::max(stop.best.value_or(*call.score), *call.score);
            stop.worst = std::min(stop.worst.value_or(*call.score), *call.score);
        }
    }
    ordered_json features = ordered_json::array();
    for (const auto& [name, stop] : stops) {
        const std::size_t calls = stop.table.calls();
        features.push_back({{"type", "Feature"},
                            {"geometry", point_json(stop.any->position)},
                            {"properties",
                             {{"stop", name},
                              {"invented", comparison.log.invented},
                              {"calls", calls},
                              {"heard", stop.table.hits + stop.table.misses},
                              {"hits", stop.table.hits},
                              {"misses", stop.table.misses},
                              {"false_alarms", stop.table.false_alarms},
                              {"silences", stop.table.silences},
                              {"best_score", value_or_null(stop.best)},
                              {"worst_score", value_or_null(stop.worst)},
                              {"mean_margin_db", stop.margin_sum_db / static_cast<double>(calls)},
                              {"distance_m", stop.any->distance_m},
                              {"in_woods", stop.any->in_woods},
                              {"line_of_sight", stop.any->line_of_sight}}}});
    }
    return text_of(
        {{"type", "FeatureCollection"}, {"notes", comparison.notes}, {"features", features}});
}

std::string walk_text(const field::WalkPlan& plan) {
    std::string text =
        fmt::format("{}: {} stops of {} points, {} calls with {}.\nStops: {}.\nOrder: {}.\nTime: "
                    "{}.\n",
                    plan.title, plan.stops.size(), plan.way_points, plan.calls(), plan.base,
                    stops_words(plan), order_words(plan), walk_time_words(plan));
    if (const std::string fewer = fewer_calls_words(plan); !fewer.empty()) {
        text += fmt::format("Fewer: {}.\n", fewer);
    }
    text += "\n";
    text += "Set-ups\n";
    for (std::size_t k = 0; k < plan.set_ups.size(); ++k) {
        text += fmt::format("  {}  {}: {}\n", static_cast<char>('A' + k), plan.set_ups[k].name,
                            field::set_up_words(plan.set_ups[k]));
    }
    text += fmt::format("\n{:>4}  {:<22} {:>8} {:>9} {:>8}  {:<14} {:<16} {}\n", "stop", "position",
                        "along", "from base", "bearing", "", "predicted", "order of set-ups");
    for (const field::PlannedStop& stop : plan.stops) {
        const auto [least, most] = std::ranges::minmax_element(
            stop.calls, {}, [](const field::PlannedCall& call) { return call.margin_db; });
        std::string order;
        for (const field::PlannedCall& call : stop.calls) {
            const char letter = static_cast<char>('A' + call.set_up);
            if (order.empty() || order.back() != letter) {
                order += order.empty() ? "" : " ";
                order += letter;
            }
        }
        text += fmt::format(
            "{:>4}  {:<22} {:>8} {:>9} {:>6.0f}\u00b0  {:<14} {:<16} {}\n", stop.name,
            geo::format_decimal(stop.position), geo::format_distance(stop.along_m),
            geo::format_distance(stop.distance_m), stop.bearing_deg,
            fmt::format("{}{}", stop.line_of_sight ? "in sight" : "hidden",
                        stop.in_woods ? ", woods" : ""),
            fmt::format("{} to {}", margin_number(least->margin_db), margin_text(most->margin_db)),
            order);
    }
    return text + notes_text(walk_notes(plan));
}

std::string walk_json(const field::WalkPlan& plan) {
    const auto set_up_json = [](const field::SetUp& set_up) -> ordered_json {
        return {{"name", set_up.name},
                {"power_dbm", number_or_null(set_up.power_dbm)},
                {"antenna", set_up.antenna},
                {"antenna_gain_dbi", number_or_null(set_up.antenna_gain_dbi)},
                {"antenna_height_m", number_or_null(set_up.antenna_height_m)},
                {"carried", set_up.carried}};
    };
    const auto call_json = [&](const field::PlannedCall& call) -> ordered_json {
        return {{"set_up", plan.set_ups[call.set_up].name},
                {"direction", name_of(call.direction)},
                {"margin_db", call.margin_db},
                {"chance_percent", call.chance_percent},
                {"readability", static_cast<int>(call.readability)}};
    };
    const auto stop_json = [&](const field::PlannedStop& stop) -> ordered_json {
        return {{"stop", stop.name},
                {"latitude", stop.position.lat_deg},
                {"longitude", stop.position.lon_deg},
                {"along_m", stop.along_m},
                {"distance_m", stop.distance_m},
                {"bearing_deg", stop.bearing_deg},
                {"line_of_sight", stop.line_of_sight},
                {"in_woods", stop.in_woods},
                {"calls", json_list(stop.calls, call_json)}};
    };
    return text_of({{"title", plan.title},
                    {"base", plan.base},
                    {"frequency_mhz", plan.frequency_mhz},
                    {"way_points", plan.way_points},
                    {"chosen_by", stops_words(plan)},
                    {"order", order_words(plan)},
                    {"set_ups", json_list(plan.set_ups, set_up_json)},
                    {"stops", json_list(plan.stops, stop_json)},
                    {"notes", walk_notes(plan)},
                    {"cautions", cautions()}});
}

// ---- Corrections --------------------------------------------------------------------------------

namespace {

struct Row {
    std::string name;
    std::string value;
    std::string interval;
};

std::vector<Row> rows_of(const field::CorrectionFit& fit) {
    const double factor = maths::student_factor(fit.stops);
    const auto decibels = [&](std::string name, const maths::Estimate& e) {
        const double half = factor * e.standard_error;
        return Row{std::move(name), fmt::format("{:+.1f} dB", e.value),
                   fmt::format("{:+.1f} to {:+.1f} dB", e.value - half, e.value + half)};
    };
    std::vector<Row> rows{decibels("offset", fit.correction.offset_db)};
    if (const auto& woods = fit.correction.woodland_factor) {
        const double half = factor * woods->standard_error;
        rows.push_back({"losses in woods", fmt::format("x {:.2f}", woods->value),
                        fmt::format("x {:.2f} to {:.2f}", std::max(0.0, woods->value - half),
                                    woods->value + half)});
    }
    for (const scenario::AntennaTerm& term : fit.correction.antennas) {
        rows.push_back(decibels("antenna " + term.antenna, term.gain_db));
    }
    return rows;
}

std::string spread_words(const field::CorrectionFit& fit) {
    if (!fit.among_stops_db) {
        return fmt::format("Calls are off their corrected predictions by {:.1f} dB (standard "
                           "deviation); with one call at each stop, calls and stops cannot be told "
                           "apart.",
                           fit.within_stop_db.value);
    }
    return fmt::format(
        "Calls at one stop are spread by {:.1f} dB, stops among each other by {:.1f} "
        "dB (standard deviations).",
        fit.within_stop_db.value, fit.among_stops_db->value);
}

ordered_json estimate_json(const field::CorrectionFit& fit, const maths::Estimate& estimate) {
    const double half = maths::student_factor(fit.stops) * estimate.standard_error;
    return {{"value", estimate.value},
            {"standard_error", estimate.standard_error},
            {"interval_95", {estimate.value - half, estimate.value + half}}};
}

ordered_json check_json(const scenario::OutOfSample& check) {
    return {{"log_loss", check.log_loss},
            {"hit_percent", check.hit_percent},
            {"class_error", check.class_error},
            {"deviation_db", check.deviation_db}};
}

} // namespace

std::string correction_text(const CorrectedLog& corrected) {
    const field::CorrectionFit& fit = corrected.fit;
    const scenario::Correction& correction = fit.correction;
    std::string text =
        corrected.log.invented ? "INVENTED LOG: an example, not a measurement.\n" : "";
    auto out = std::back_inserter(text);
    fmt::format_to(out, "Field correction from {} of {}: {} calls at {} stops.\n\n",
                   correction.source.log, correction.source.date, fit.calls, fit.stops);
    fmt::format_to(out, "  {:<28}{:>12}   {}\n", "term", "correction", "95 times of 100 within");
    for (const Row& row : rows_of(fit)) {
        fmt::format_to(out, "  {:<28}{:>12}   {}\n", row.name, row.value, row.interval);
    }
    for (const field::RefusedTerm& refused : fit.refused) {
        fmt::format_to(out, "Not fitted, {}: {}.\n", term_words(refused),
                       refusal_words(refused, fit));
    }
    if (!fit.in_the_offset.empty()) {
        fmt::format_to(out, "What antenna {} is off by is part of the offset.\n",
                       fmt::join(fit.in_the_offset, " and antenna "));
    }
    fmt::format_to(out, "\n{}\n", spread_words(fit));
    if (fit.limits.front().standard_error > 0.0) {
        fmt::format_to(out, "In this log the classes 1 to 5 begin at");
        for (const maths::Estimate& limit : fit.limits) {
            fmt::format_to(out, " {:+.1f}", limit.value);
        }
        fmt::format_to(out, " dB, known to about {:.1f} dB.\n",
                       std::ranges::max_element(fit.limits, {}, &maths::Estimate::standard_error)
                           ->standard_error);
    }
    const auto line = [&](const char* label, double before, double after, int decimals,
                          const char* unit) {
        fmt::format_to(out, "  {:<40}{:>9.{}f}{:<3}{:>9.{}f}{:<3}\n", label, before, decimals, unit,
                       after, decimals, unit);
    };
    const scenario::OutOfSample& before = correction.before;
    const scenario::OutOfSample& after = correction.after;
    fmt::format_to(out, "\n  {:<40}{:>9}   {:>9}\n", "each stop foretold from the others", "before",
                   "after");
    line("score foretold exactly", before.hit_percent, after.hit_percent, 0, " %");
    line("classes off by, on average", before.class_error, after.class_error, 2, "");
    line("surprise at the score (log loss)", before.log_loss, after.log_loss, 2, "");
    line("margins spread about their prediction", before.deviation_db, after.deviation_db, 1,
         " dB");
    fmt::format_to(out, "{}\n",
                   fit.helps() ? fmt::format("With it, predictions are taken to miss by {:.1f} dB "
                                             "(standard deviation).",
                                             correction.prediction_deviation_db)
                               : "No better: do not use it. At stops it was not fitted to, it "
                                 "foretells no more than predictions without it; walk more stops, "
                                 "where some calls are heard and some not, and fit again.");
    for (const field::BadRow& row : corrected.predictions.not_predicted) {
        fmt::format_to(out, "Not predicted, row {}: {}.\n", row.line, row.reason);
    }
    for (const field::BadRow& row : corrected.log.bad_rows) {
        fmt::format_to(out, "Not used, row {}: {}.\n", row.line, row.reason);
    }
    text += notes_text(corrected.notes);
    fmt::format_to(out,
                   "A correction holds for the ground and the gear it was measured with, and for "
                   "the season of the leaves.\n{}\n",
                   cautions());
    return text;
}

std::string correction_json(const CorrectedLog& corrected) {
    const field::CorrectionFit& fit = corrected.fit;
    const scenario::Correction& correction = fit.correction;
    ordered_json antennas = ordered_json::array();
    for (const scenario::AntennaTerm& term : correction.antennas) {
        ordered_json json = estimate_json(fit, term.gain_db);
        json["antenna"] = term.antenna;
        antennas.push_back(std::move(json));
    }
    const auto refused_json = [&](const field::RefusedTerm& term) -> ordered_json {
        return {{"term", term_words(term)}, {"reason", refusal_words(term, fit)}};
    };
    const auto limit_json = [](const maths::Estimate& limit) -> ordered_json {
        return {{"value", limit.value}, {"standard_error", limit.standard_error}};
    };
    return text_of({{"log", correction.source.log},
                    {"date", correction.source.date},
                    {"invented", correction.source.invented},
                    {"calls", fit.calls},
                    {"stops", fit.stops},
                    {"levels", fit.readings},
                    {"model", correction.source.model},
                    {"offset_db", estimate_json(fit, correction.offset_db)},
                    {"woodland_factor", correction.woodland_factor
                                            ? estimate_json(fit, *correction.woodland_factor)
                                            : ordered_json(nullptr)},
                    {"antennas", antennas},
                    {"refused", json_list(fit.refused, refused_json)},
                    {"antennas_in_the_offset", fit.in_the_offset},
                    {"within_stop_db", fit.within_stop_db.value},
                    {"among_stops_db", fit.among_stops_db ? ordered_json(fit.among_stops_db->value)
                                                          : ordered_json(nullptr)},
                    {"class_limits_db", json_list(fit.limits, limit_json)},
                    {"before", check_json(correction.before)},
                    {"after", check_json(correction.after)},
                    {"helps", fit.helps()},
                    {"prediction_deviation_db", correction.prediction_deviation_db},
                    {"rows_not_used", rows_json(corrected.log.bad_rows, "row")},
                    {"rows_not_predicted", rows_json(corrected.predictions.not_predicted, "row")},
                    {"notes", corrected.notes},
                    {"cautions", cautions()}});
}

} // namespace earshot::report
