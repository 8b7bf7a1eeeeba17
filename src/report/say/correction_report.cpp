#include "report/say/correction_report.hpp"

#include "field/comparison.hpp"
#include "field/correction_fit.hpp"
#include "field/field_log.hpp"
#include "maths/statistics.hpp"
#include "report/say/field_words.hpp"
#include "report/say/json.hpp"
#include "report/say/phrases.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <iterator>

namespace earshot::report {
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

ordered_json rows_json(const std::vector<field::BadRow>& rows) {
    ordered_json json = ordered_json::array();
    for (const field::BadRow& row : rows) {
        json.push_back({{"row", row.line}, {"reason", row.reason}});
    }
    return json;
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
                               : "It foretells stops it does not know no better than the standard "
                                 "alone: do without it.");
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
    ordered_json refused = ordered_json::array();
    for (const field::RefusedTerm& term : fit.refused) {
        refused.push_back({{"term", term_words(term)}, {"reason", refusal_words(term, fit)}});
    }
    ordered_json limits = ordered_json::array();
    for (const maths::Estimate& limit : fit.limits) {
        limits.push_back({{"value", limit.value}, {"standard_error", limit.standard_error}});
    }
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
                    {"refused", refused},
                    {"antennas_in_the_offset", fit.in_the_offset},
                    {"within_stop_db", fit.within_stop_db.value},
                    {"among_stops_db", fit.among_stops_db ? ordered_json(fit.among_stops_db->value)
                                                          : ordered_json(nullptr)},
                    {"class_limits_db", limits},
                    {"before", check_json(correction.before)},
                    {"after", check_json(correction.after)},
                    {"helps", fit.helps()},
                    {"prediction_deviation_db", correction.prediction_deviation_db},
                    {"rows_not_used", rows_json(corrected.log.bad_rows)},
                    {"rows_not_predicted", rows_json(corrected.predictions.not_predicted)},
                    {"notes", corrected.notes},
                    {"cautions", cautions()}});
}

} // namespace earshot::report
