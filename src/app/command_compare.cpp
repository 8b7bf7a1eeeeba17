#include "app/commands.hpp"
#include "app/field_arguments.hpp"
#include "app/terminal_task.hpp"
#include "base/output_file.hpp"
#include "earshot/base/error.hpp"
#include "earshot/coverage/coverage.hpp"
#include "field/verification.hpp"
#include "geo/units.hpp"
#include "report/draw/map_sheet.hpp"
#include "report/draw/pages.hpp"
#include "report/say/comparison_report.hpp"
#include "report/say/phrases.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>

namespace earshot::app {
namespace {

struct CompareCommand {
    FieldArguments field;
    std::string log, margin, csv, geojson, scatter, map;
    bool every_call = false;
    bool json = false;

    void add_to(const Options& options);
    void run() const;

private:
    void check() const;
    void draw_map(const FieldInputs& inputs, const terrain::HeightGrid& ground,
                  const LayersOver& layers, const report::FieldComparison& comparison,
                  Task& task) const;
};

void CompareCommand::check() const {
    if (!map.empty() && !map.ends_with(".png")) {
        throw_usage(fmt::format("--map '{}' must end in .png", map));
    }
    if (!scatter.empty() && !scatter.ends_with(".png") && !scatter.ends_with(".pdf")) {
        throw_usage(fmt::format("--scatter '{}' must end in .png or .pdf", scatter));
    }
}

std::string described(const FieldInputs& inputs) {
    const propagation::Conditions& settings = inputs.scenario().conditions;
    const std::string correction = inputs.shared().correction().words();
    return fmt::format("{:g} MHz, method {}{}", settings.frequency_mhz,
                       propagation::method_info(settings.method).name,
                       correction.empty() ? "" : ", " + correction);
}

double farthest_m(const field::Predictions& predictions) {
    return std::ranges::max_element(predictions.calls, {}, &field::ComparedCall::distance_m)
        ->distance_m;
}

/// Where each stop is and how many of its calls were heard.
std::vector<report::MapMark> marks_of(const report::FieldComparison& comparison) {
    struct Stop {
        geo::LatLon position;
        std::size_t heard = 0;
        std::size_t calls = 0;
    };
    std::map<std::string, Stop> stops;
    for (const field::ComparedCall& call : comparison.predictions.calls) {
        Stop& stop = stops[call.stop];
        stop.position = call.position;
        ++stop.calls;
        stop.heard += field::heard(call, comparison.verification.wanted_margin_db) ? 1U : 0U;
    }
    std::vector<report::MapMark> marks;
    marks.reserve(stops.size() + 1);
    for (const auto& [name, stop] : stops) {
        marks.push_back({stop.position,
                         fmt::format("{}: {} of {} heard", name, stop.heard, stop.calls), false});
    }
    return marks;
}

/// How far beyond the farthest call a map goes.
constexpr double beyond = 1.15;

void CompareCommand::draw_map(const FieldInputs& inputs, const terrain::HeightGrid& ground,
                              const LayersOver& layers, const report::FieldComparison& comparison,
                              Task& task) const {
    const scenario::Scenario& scenario = inputs.scenario();
    coverage::Job job;
    job.stations = {inputs.base()};
    job.receiver = scenario.listener.radio;
    job.receiver_height_m = scenario.listener.antenna_height_m;
    job.conditions = scenario.conditions;
    job.range_m = beyond * farthest_m(comparison.predictions);
    inputs.shared().lay(job, ground, layers, inputs.base().position, job.range_m);
    const coverage::CoverageRaster raster = coverage::run(job, task).raster;
    report::MapSheet picture;
    picture.title =
        fmt::format("{}Where {} was heard and is predicted to be",
                    comparison.log.invented ? "INVENTED LOG: " : "", inputs.base().name);
    picture.subtitle =
        fmt::format("{}; calls heard at score {} or more at each stop; colours are "
                    "predicted for the listener",
                    described(inputs), static_cast<int>(comparison.verification.wanted));
    picture.marks = marks_of(comparison);
    picture.marks.push_back({inputs.base().position, inputs.base().name, true});
    picture.facts = report::map_facts(raster);
    report::write_map_picture(map, raster, ground, picture);
}

void CompareCommand::run() const {
    check();
    const FieldInputs inputs(field);
    report::FieldComparison comparison;
    comparison.log = field::read_field_log(log);
    TerminalTask task(field.threads);
    const terrain::TerrainSource source = inputs.shared().open();
    inputs.shared().check({csv, geojson, scatter, map}, source, {log});
    const plan::Circle circle =
        field::circle_of_calls(inputs.scenario(), comparison.log, inputs.base().name);
    // A map is drawn around the base, as far as the farthest call.
    const double reach_m =
        map.empty()
            ? circle.radius_m
            : circle.radius_m +
                  beyond * geo::geodesic_between(circle.centre, inputs.base().position).distance_m +
                  beyond * circle.radius_m;
    const terrain::HeightGrid ground = source.load_around(circle.centre, reach_m, nullptr, task);
    const LayersOver layers = inputs.shared().layers(ground, task);
    comparison.predictions = field::predict_calls(
        comparison.log, inputs.request(ground, layers, 2.0 * circle.radius_m), task);
    comparison.verification = field::verify(comparison.predictions.calls,
                                            inputs.shared().wanted_margin_db("--margin", margin));
    comparison.notes = inputs.shared().notes(layers);
    if (!csv.empty()) {
        write_text_file(csv,
                        inputs.shared().correction().stamped(report::comparison_csv(comparison)));
    }
    if (!geojson.empty()) {
        write_text_file(geojson, report::comparison_geojson(comparison));
    }
    if (!scatter.empty()) {
        report::PageWords words;
        words.right = described(inputs);
        words.foot = report::cautions();
        report::write_scatter_picture(
            scatter, words, fmt::format("Heard and predicted: {}", inputs.base().name), comparison);
    }
    if (!map.empty()) {
        draw_map(inputs, ground, layers, comparison, task);
    }
    task.end();
    fmt::print("{}", json ? report::comparison_json(comparison)
                          : report::comparison_text(comparison, every_call));
}

void CompareCommand::add_to(const Options& options) {
    options.add("--log", log, "The log: CSV as earshot walk writes it, or GPX waypoints", "FILE")
        .required();
    field.add_to(options);
    options.add("--margin", margin, "Margin that counts as heard; left out, the scenario's, or 0dB",
                "DB");
    options.flag("--calls", every_call, "Print every call beside its prediction");
    options.add("--csv", csv, "Write every call beside its prediction", "FILE.csv");
    options.add("--geojson", geojson, "Write the stops with what was heard there", "FILE.geojson");
    options.add("--scatter", scatter, "Draw scores over predicted margins", "FILE.png|FILE.pdf");
    options.add("--map", map, "Draw the stops on a map of what is predicted", "FILE.png");
    add_json_flag(options, json);
    add_footer(options, "earshot compare --scenario net.toml --log log.csv --scatter scatter.pdf",
               "The radios of the mover are those of the log's set-ups; what they leave open is "
               "that of the scenario's listener.");
}

} // namespace

void add_compare_command(Program& program) {
    program.add<CompareCommand>(
        "compare", "Compare a log of calls with predictions: what was right, what the test tells");
}

} // namespace earshot::app
