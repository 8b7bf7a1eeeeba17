#include "app/commands.hpp"
#include "app/field_arguments.hpp"
#include "app/terminal_task.hpp"
#include "base/output_file.hpp"
#include "earshot/base/error.hpp"
#include "field/walk_test.hpp"
#include "geo/units.hpp"
#include "report/draw/pages.hpp"
#include "report/draw/pdf_document.hpp"
#include "report/say/comparison_report.hpp"
#include "report/say/phrases.hpp"
#include "terrain/shapes.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace earshot::app {
namespace {

struct WalkCommand {
    FieldArguments field;
    std::string track, bearing, from, length = "3km", every = "50m", apart;
    std::string choose = "useful", direction = "both", title, output, sheet, paper = "a4";
    std::vector<std::string> set_ups;
    std::size_t stops = 10;
    bool json = false;

    void add_to(const Options& options);
    void run() const;

private:
    [[nodiscard]] std::vector<field::WayPoint> way(const FieldInputs& inputs) const;
    [[nodiscard]] field::WalkRequest request(const FieldInputs& inputs) const;
    void write_sheet(const field::WalkPlan& plan) const;
};

std::vector<field::WayPoint> WalkCommand::way(const FieldInputs& inputs) const {
    if (track.empty() == bearing.empty()) {
        throw_usage("give either --track, a line to walk along, or --bearing, a direction to walk "
                    "in");
    }
    const double spacing_m = geo::parse_length_m(every, "--every");
    if (!track.empty()) {
        return field::points_along(terrain::read_shapes(track).lines, spacing_m);
    }
    constexpr double full_turn_deg = 360.0;
    const geo::LatLon start = from.empty()
                                  ? inputs.base().position
                                  : inputs.shared().station("--from", from, "start").position;
    return field::points_toward(start, geo::parse_number(bearing, "--bearing", 0.0, full_turn_deg),
                                geo::parse_length_m(length, "--length"), spacing_m);
}

std::vector<field::CallDirection> directions_meant(const std::string& text) {
    if (text == "both") {
        return {field::CallDirection::from_mover, field::CallDirection::to_mover};
    }
    if (text == "from-mover") {
        return {field::CallDirection::from_mover};
    }
    if (text == "to-mover") {
        return {field::CallDirection::to_mover};
    }
    throw_usage(
        fmt::format("--direction '{}' is not known; use both, from-mover or to-mover", text));
}

field::WalkRequest WalkCommand::request(const FieldInputs& inputs) const {
    field::WalkRequest request;
    request.title = title.empty() ? fmt::format("Walk test with {}", inputs.base().name) : title;
    request.choice = field::parse_stop_choice(choose);
    request.directions = directions_meant(direction);
    request.stops = stops;
    for (const std::string& text : set_ups) {
        request.set_ups.push_back(parse_set_up(inputs.scenario(), text));
    }
    if (set_ups.empty()) {
        for (const scenario::CarriedRadio& known : inputs.scenario().set_ups) {
            request.set_ups.push_back(parse_set_up(inputs.scenario(), known.name));
        }
    }
    if (request.set_ups.empty()) {
        field::SetUp usual;
        usual.name = "usual";
        request.set_ups.push_back(usual);
    }
    request.way = way(inputs);
    // Left out: half of what stops at even distances would have between them.
    request.apart_m = apart.empty() ? 0.5 * request.way.back().along_m / static_cast<double>(stops)
                                    : geo::parse_length_m(apart, "--apart");
    return request;
}

void WalkCommand::write_sheet(const field::WalkPlan& plan) const {
    const report::Paper on = report::parse_paper(paper);
    const report::Box area = report::printed_area(on, report::Orientation::upright);
    report::PdfDocument document({plan.title, "", ""});
    const std::vector<report::PageDrawing> pages = report::log_sheet_pages(area, plan);
    for (std::size_t k = 0; k < pages.size(); ++k) {
        report::PageWords words;
        words.right = fmt::format("{:g} MHz", plan.frequency_mhz);
        words.foot = report::cautions();
        words.page = fmt::format("page {} of {}", k + 1, pages.size());
        pages[k](document.add_page(on, report::Orientation::upright, plan.title), words);
    }
    document.write(sheet);
}

void WalkCommand::run() const {
    if (!sheet.empty() && !sheet.ends_with(".pdf")) {
        throw_usage(fmt::format("--sheet '{}' must end in .pdf", sheet));
    }
    const FieldInputs inputs(field);
    field::WalkRequest request = this->request(inputs);
    TerminalTask task(field.threads);
    const terrain::TerrainSource source = inputs.shared().open();
    inputs.shared().check({output, sheet}, source, {track});
    field::FieldLog points;
    for (const field::WayPoint& point : request.way) {
        points.calls.emplace_back().position = point.position;
    }
    const plan::Circle circle =
        field::circle_of_calls(inputs.scenario(), points, inputs.base().name);
    const terrain::HeightGrid ground =
        source.load_around(circle.centre, circle.radius_m, nullptr, task);
    const LayersOver layers = inputs.shared().layers(ground, task);
    request.prediction = inputs.request(ground, layers, 2.0 * circle.radius_m);
    field::WalkPlan plan = field::plan_walk(request, task);
    task.end();
    const std::vector<std::string> notes = inputs.shared().notes(layers);
    plan.notes.insert(plan.notes.begin(), notes.begin(), notes.end());
    if (!sheet.empty()) {
        write_sheet(plan);
    }
    write_text_file(output, field::log_csv(plan));
    if (json) {
        fmt::print("{}", report::walk_json(plan));
        return;
    }
    fmt::print("{}Wrote {}: the log to fill in, one row for each call.\n", report::walk_text(plan),
               output);
    if (!sheet.empty()) {
        fmt::print("Wrote {}: sheets to take along.\n", sheet);
    }
    fmt::print("{}\n", report::cautions());
}

void WalkCommand::add_to(const Options& options) {
    options.add("--out", output, "The log to fill in", "FILE.csv").required();
    options.add("--sheet", sheet, "Sheets to print and fill in with a pencil", "FILE.pdf");
    options.add("--paper", paper, "Paper of the sheets: a4 or letter", "NAME");
    options.add("--track", track, "Walk along the lines of this GPX, GeoJSON or KML file", "FILE");
    options.add("--bearing", bearing, "Walk in this direction, degrees from true north", "DEGREES");
    options.add("--from", from,
                "Where a walk by bearing starts: a name in the scenario or a position; left out, "
                "at the base",
                "POSITION");
    options.add("--length", length, "How far a walk by bearing goes", "LENGTH");
    options.add("--every", every, "How close the points are that stops are chosen from", "LENGTH");
    options.add("--stops", stops, "How many stops to make", "N")
        .between(std::size_t{1}, std::size_t{1000});
    options.add("--apart", apart,
                "No two stops nearer to each other than this; left out, half of what even stops "
                "would have between them",
                "LENGTH");
    options.add("--choose", choose,
                "How stops are chosen: useful (scores there tell most about how far predictions "
                "are off in the open, in woods and with distance), uncertain (the score is most in "
                "doubt) or even",
                "NAME");
    options
        .add("--set-up", set_ups,
             "A set-up to try at every stop: a name in the scenario, or words such as \"5W "
             "half-wave 3m\"; may be given several times. Left out, all of the scenario's "
             "[[set_ups]]",
             "TEXT")
        .one_each();
    options.add("--direction", direction, "Who speaks: both in turn, from-mover or to-mover only",
                "NAME");
    options.add("--title", title, "Title of the plan", "TEXT");
    field.add_to(options);
    add_json_flag(options, json);
    add_footer(options,
               "earshot walk --terrain dem-samples/cumberland_3arcsec.tif --frequency 146MHz \\\n"
               "    --base 36.60,-84.20 --bearing 60 --length 6km --set-up \"2W stock\" \\\n"
               "    --set-up \"5W stock\" --set-up \"5W half-wave\" --out log.csv",
               "Fill in the scores, 0 nothing heard to 5 clear, then see earshot compare.");
}

} // namespace

void add_walk_command(Program& program) {
    program.add<WalkCommand>(
        "walk", "Plan a walk test: where to stop, what to try there, and the log to fill in");
}

} // namespace earshot::app
