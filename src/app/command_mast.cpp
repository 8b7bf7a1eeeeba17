#include "app/arguments.hpp"
#include "app/commands.hpp"
#include "app/scenario_arguments.hpp"
#include "app/terminal_task.hpp"
#include "base/output_file.hpp"
#include "earshot/base/error.hpp"
#include "geo/units.hpp"
#include "plan/mast.hpp"
#include "report/say/mast_report.hpp"
#include "report/say/phrases.hpp"

#include <fmt/format.h>

#include <tuple>

namespace earshot::app {
namespace {

struct MastCommand {
    SharedArguments shared;
    RadioArguments both, at_from, at_to;
    std::string from, to, from_name = "A", to_name = "B", end = "both", margin;
    std::string lowest = "1m", limit = "30m", height_step = "0.5m", table;
    bool json = false;

    void add_to(const Options& options);
    void run() const;
};

void MastCommand::run() const {
    if (end != "from" && end != "to" && end != "both") {
        throw_usage(fmt::format("--end '{}' is not known; use from, to or both", end));
    }
    const SharedInputs inputs(shared);
    link::Station a = inputs.station("--from", from, from_name);
    link::Station b = inputs.station("--to", to, to_name);
    const geo::GeodesicPath line = geo::geodesic_between(a.position, b.position);
    const geo::LatLon middle =
        geo::geodesic_destination(a.position, line.bearing_deg, line.distance_m / 2.0);
    plan::MastRequest request;
    request.conditions = inputs.settings(middle);
    request.wanted_margin_db = inputs.wanted_margin_db("--margin", margin);
    request.lowest_m = geo::parse_length_m(lowest, "--lowest");
    request.highest_m = geo::parse_length_m(limit, "--limit");
    request.height_step_m = geo::parse_length_m(height_step, "--height-step");
    inputs.equip(a, both, at_from, request.conditions.frequency_mhz);
    inputs.equip(b, both, at_to, request.conditions.frequency_mhz);

    TerminalTask task;
    const terrain::TerrainSource source = inputs.open();
    inputs.check({table}, source);
    const terrain::HeightGrid ground =
        source.load_around(middle, line.distance_m / 2.0, nullptr, task);
    const LayersOver layers = inputs.layers(ground, task);
    task.end();
    inputs.lay(request, ground, layers, a.position, line.distance_m);
    std::vector<report::RaisedMast> masts;
    for (const auto& [name, which, station] :
         {std::tuple("from", plan::PathEnd::first, &a), {"to", plan::PathEnd::second, &b}}) {
        if (end == "both" || end == name) {
            request.end = which;
            masts.push_back({station->name, plan::least_mast(a, b, request, task)});
        }
    }
    if (!table.empty()) {
        write_text_file(table, inputs.correction().stamped(report::mast_csv(masts)));
    }
    const std::vector<std::string> notes = inputs.notes(layers);
    if (json) {
        fmt::print("{}", report::mast_json(masts, request.wanted_margin_db, notes));
        return;
    }
    fmt::print("{}", report::mast_text(masts, request.wanted_margin_db));
    print_notes(notes);
    if (!table.empty()) {
        fmt::print("Wrote {}.\n", table);
    }
    fmt::print("{}\n", report::cautions());
}

void MastCommand::add_to(const Options& options) {
    add_path_ends(options, from, to, from_name, to_name);
    options.add("--end", end, "Whose antenna is raised: from, to or both in turn", "NAME");
    options.add("--margin", margin, "Margin wanted, both ways; left out, the scenario's, or 0dB",
                "DB");
    options.add("--lowest", lowest, "Least height above the ground to look at", "LENGTH");
    options.add("--limit", limit, "Greatest height to look at", "LENGTH");
    options.add("--height-step", height_step, "Between the heights looked at", "LENGTH");
    options.add("--table", table, "Write the margin against height as CSV", "FILE.csv");
    shared.add_to(options);
    add_radios_of_ends(options, both, at_from, at_to);
    add_json_flag(options, json);
    add_footer(options,
               "earshot mast --terrain dem-samples/cumberland_3arcsec.tif --frequency 146MHz \\\n"
               "    --from 36.60,-84.20 --to 36.68,-84.10 --margin 10dB --limit 100ft");
}

} // namespace

void add_mast_command(Program& program) {
    program.add<MastCommand>("mast",
                             "Find the least antenna height at either end that makes a path work");
}

} // namespace earshot::app
