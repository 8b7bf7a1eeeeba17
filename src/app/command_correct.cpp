#include "app/commands.hpp"
#include "app/field_arguments.hpp"
#include "app/terminal_task.hpp"
#include "base/output_file.hpp"
#include "earshot/base/error.hpp"
#include "field/correction_fit.hpp"
#include "geo/units.hpp"
#include "report/say/path_report.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <filesystem>
#include <iterator>

namespace earshot::app {
namespace {

using nlohmann::ordered_json;

struct CorrectCommand {
    FieldArguments field;
    std::string log, output, date, errors = "normal", reading_deviation = "3dB";
    bool free_limits = false;
    bool even_if_worse = false;
    bool json = false;

    void add_to(const Options& options);
    void run() const;

private:
    [[nodiscard]] field::CorrectionRequest request() const;
};

/// A log and what was made of it.
struct Corrected {
    const field::FieldLog& log;
    const field::Predictions& predictions;
    const field::CorrectionFit& fit;
    std::vector<std::string> notes;
};

field::CorrectionRequest CorrectCommand::request() const {
    field::CorrectionRequest request;
    if (errors == "logistic") {
        request.shape = maths::ErrorShape::logistic;
    } else if (errors != "normal") {
        throw_usage(fmt::format("--errors '{}' is not known; use normal or logistic", errors));
    }
    request.free_limits = free_limits;
    request.reading_deviation_db = geo::parse_loss_db(reading_deviation, "--reading-deviation");
    if (request.reading_deviation_db < 0.0) {
        throw_usage("--reading-deviation must be 0 dB or more");
    }
    return request;
}

/// The day of the first call that has one.
std::string date_of(const field::FieldLog& log) {
    constexpr std::size_t length = 10; // 2026-05-14
    for (const field::FieldCall& call : log.calls) {
        if (call.time.size() >= length && call.time[4] == '-') {
            return call.time.substr(0, length);
        }
    }
    return {};
}

scenario::CorrectionSource source_of(const field::FieldLog& log,
                                     const field::Predictions& predictions,
                                     const propagation::PathSettings& settings) {
    scenario::CorrectionSource source;
    source.log = log.file.filename().string();
    source.invented = log.invented;
    source.frequency_mhz = settings.frequency_mhz;
    source.method = settings.method;
    std::vector<link::Station> stops;
    for (const field::ComparedCall& call : predictions.calls) {
        stops.emplace_back().position = log.calls[call.call].position;
    }
    const plan::Circle circle = plan::circle_around(stops);
    source.centre = circle.centre;
    source.radius_km = circle.radius_m / 1000.0;
    return source;
}

struct Row {
    std::string name;
    std::string value;
    std::string interval;
};

std::vector<Row> rows_of(const field::CorrectionFit& fit) {
    const double factor = field::interval_factor(fit.stops);
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

std::string correct_text(const Corrected& corrected) {
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
        fmt::format_to(out, "Not fitted, {}: {}.\n", refused.term, refused.reason);
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
    for (const std::string& note : corrected.notes) {
        fmt::format_to(out, "Note: {}.\n", note);
    }
    fmt::format_to(out,
                   "A correction holds for the ground and the gear it was measured with, and for "
                   "the season of the leaves.\n{}\n",
                   report::cautions());
    return text;
}

ordered_json estimate_json(const field::CorrectionFit& fit, const maths::Estimate& estimate) {
    const double half = field::interval_factor(fit.stops) * estimate.standard_error;
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

std::string correct_json(const Corrected& corrected) {
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
        refused.push_back({{"term", term.term}, {"reason", term.reason}});
    }
    ordered_json limits = ordered_json::array();
    for (const maths::Estimate& limit : fit.limits) {
        limits.push_back({{"value", limit.value}, {"standard_error", limit.standard_error}});
    }
    const ordered_json json = {
        {"log", correction.source.log},
        {"date", correction.source.date},
        {"invented", correction.source.invented},
        {"calls", fit.calls},
        {"stops", fit.stops},
        {"levels", fit.readings},
        {"model", fit.model},
        {"offset_db", estimate_json(fit, correction.offset_db)},
        {"woodland_factor", correction.woodland_factor
                                ? estimate_json(fit, *correction.woodland_factor)
                                : ordered_json(nullptr)},
        {"antennas", antennas},
        {"refused", refused},
        {"antennas_in_the_offset", fit.in_the_offset},
        {"within_stop_db", fit.within_stop_db.value},
        {"among_stops_db",
         fit.among_stops_db ? ordered_json(fit.among_stops_db->value) : ordered_json(nullptr)},
        {"class_limits_db", limits},
        {"before", check_json(correction.before)},
        {"after", check_json(correction.after)},
        {"helps", fit.helps()},
        {"prediction_deviation_db", correction.prediction_deviation_db},
        {"rows_not_used", rows_json(corrected.log.bad_rows)},
        {"rows_not_predicted", rows_json(corrected.predictions.not_predicted)},
        {"notes", corrected.notes},
        {"cautions", report::cautions()}};
    return json.dump(2, ' ', false, ordered_json::error_handler_t::replace) + "\n";
}

void CorrectCommand::run() const {
    field::CorrectionRequest request = this->request();
    const FieldInputs inputs(field);
    const field::FieldLog calls = field::read_field_log(log);
    TerminalTask task;
    const terrain::TerrainSource source = inputs.shared().open();
    inputs.shared().check({output}, source, {log});
    const plan::Circle circle =
        field::circle_of_calls(inputs.scenario(), calls, inputs.base().name);
    const terrain::HeightGrid ground =
        source.load_around(circle.centre, circle.radius_m, nullptr, task);
    const LayersOver layers = inputs.shared().layers(ground, task);
    const field::ComparisonRequest comparison =
        inputs.request(ground, layers, 2.0 * circle.radius_m);
    const field::Predictions predictions = field::predict_calls(ground, calls, comparison, task);
    task.end();

    request.standard_deviation_db = comparison.settings.prediction_deviation_db;
    field::CorrectionFit fit = field::fit_correction(
        field::measured_calls(inputs.scenario(), predictions.calls, request.standard_deviation_db),
        request);
    scenario::CorrectionSource& from = fit.correction.source;
    from = source_of(calls, predictions, comparison.settings);
    from.date = !date.empty() ? date : date_of(calls);
    if (from.date.empty()) {
        throw_usage(fmt::format("{} does not say when the calls were made; give --date", log));
    }
    from.cover = layers.label();
    from.calls = fit.calls;
    from.stops = fit.stops;
    from.model = fit.model;
    fit.correction.file = std::filesystem::path(output).filename().string();

    Corrected corrected{calls, predictions, fit, calls.notes};
    const std::vector<std::string> notes = inputs.shared().notes(layers);
    corrected.notes.insert(corrected.notes.end(), notes.begin(), notes.end());
    fmt::print("{}", json ? correct_json(corrected) : correct_text(corrected));
    if (output.empty()) {
        return;
    }
    if (!fit.helps() && !even_if_worse) {
        throw_input(fmt::format("{} was not written: the correction foretells no better than the "
                                "standard alone; --even-if-worse writes it all the same",
                                output));
    }
    write_text_file(output, scenario::correction_toml(fit.correction));
    if (!json) {
        fmt::print("Wrote {}.\n", output);
    }
}

void CorrectCommand::add_to(const Options& options) {
    options
        .add("log,--log", log, "The log: CSV as earshot walk writes it, or GPX waypoints", "FILE")
        .required();
    options.add("--out", output, "The correction to write, for --correction of other commands",
                "FILE.toml");
    options.add("--date", date, "When the calls were made, if the log does not say", "DATE");
    field.add_to(options);
    // A correction is one of the standard, not of another correction.
    field.shared.scenario.correction.leave_out();
    options.remove("--correction");
    options.add("--errors", errors,
                "Distribution of what predictions are off by: normal or logistic", "NAME");
    options.add("--reading-deviation", reading_deviation,
                "How far off a level is that was read from a radio (standard deviation)", "DB");
    options.flag("--free-limits", free_limits,
                 "Let the scores begin at the margins where the log has them, instead of those "
                 "that maps use");
    options.flag("--even-if-worse", even_if_worse,
                 "Write the correction even if it foretells no better than the standard alone");
    add_json_flag(options, json);
    add_footer(options,
               "earshot correct walk.csv --scenario net.toml --out walk-correction.toml\n"
               "  earshot map --scenario net.toml --at Camp --correction walk-correction.toml "
               "--out camp.tif",
               "Only what the log can tell is fitted; the rest stays as the standard has it.");
}

} // namespace

void add_correct_command(Program& program) {
    program.add<CorrectCommand>(
        "correct", "Fit a field correction to a log of calls: what predictions are off by");
}

} // namespace earshot::app
