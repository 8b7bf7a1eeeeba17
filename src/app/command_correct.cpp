#include "app/commands.hpp"
#include "app/field_arguments.hpp"
#include "app/terminal_task.hpp"
#include "base/output_file.hpp"
#include "earshot/base/error.hpp"
#include "field/correction_fit.hpp"
#include "geo/units.hpp"
#include "report/say/correction_report.hpp"
#include "report/say/field_words.hpp"

#include <fmt/format.h>

#include <filesystem>

namespace earshot::app {
namespace {

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
                                     const propagation::Conditions& settings) {
    scenario::CorrectionSource source;
    source.log = log.file.filename().string();
    source.invented = log.invented;
    source.frequency_mhz = settings.frequency_mhz;
    source.method = settings.method;
    std::vector<link::Station> stops;
    for (const field::ComparedCall& call : predictions.calls) {
        stops.emplace_back().position = call.position;
    }
    const plan::Circle circle = plan::circle_around(stops);
    source.centre = circle.centre;
    source.radius_km = circle.radius_m / 1000.0;
    return source;
}

void CorrectCommand::run() const {
    field::CorrectionRequest request = this->request();
    const FieldInputs inputs(field);
    const field::FieldLog calls = field::read_field_log(log);
    TerminalTask task(field.threads);
    const terrain::TerrainSource source = inputs.shared().open();
    inputs.shared().check({output}, source, {log});
    const plan::Circle circle =
        field::circle_of_calls(inputs.scenario(), calls, inputs.base().name);
    const terrain::HeightGrid ground =
        source.load_around(circle.centre, circle.radius_m, nullptr, task);
    const LayersOver layers = inputs.shared().layers(ground, task);
    const field::ComparisonRequest comparison =
        inputs.request(ground, layers, 2.0 * circle.radius_m);
    const field::Predictions predictions = field::predict_calls(calls, comparison, task);
    task.end();

    request.standard_deviation_db = comparison.conditions.prediction_deviation_db;
    field::CorrectionFit fit = field::fit_correction(
        field::measured_calls(inputs.scenario(), predictions.calls, request.standard_deviation_db),
        request);
    scenario::CorrectionSource& from = fit.correction.source;
    from = source_of(calls, predictions, comparison.conditions);
    from.date = !date.empty() ? date : date_of(calls);
    if (from.date.empty()) {
        throw_usage(fmt::format("{} does not say when the calls were made; give --date", log));
    }
    from.cover = layers.label();
    from.calls = fit.calls;
    from.stops = fit.stops;
    from.model = report::model_words(fit, request);
    fit.correction.file = std::filesystem::path(output).filename().string();

    report::CorrectedLog corrected{calls, predictions, fit, calls.notes};
    const std::vector<std::string> notes = inputs.shared().notes(layers);
    corrected.notes.insert(corrected.notes.end(), notes.begin(), notes.end());
    fmt::print("{}",
               json ? report::correction_json(corrected) : report::correction_text(corrected));
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
