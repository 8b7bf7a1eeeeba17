#include "app/arguments.hpp"
#include "app/commands.hpp"
#include "app/scenario_arguments.hpp"
#include "app/terminal_task.hpp"
#include "base/output_file.hpp"
#include "base/parallel.hpp"
#include "earshot/base/error.hpp"
#include "geo/units.hpp"
#include "plan/foot_range.hpp"
#include "report/say/phrases.hpp"
#include "report/say/reach_report.hpp"

#include <fmt/format.h>

namespace earshot::app {
namespace {

struct RangeCommand {
    SharedArguments shared;
    RadioArguments here, there;
    std::string at, name = "here", margin, range = "15km", table;
    int directions = 72;
    unsigned threads = default_thread_count();
    bool json = false;

    void add_to(const Options& options);
    void run() const;
};

void RangeCommand::run() const {
    const SharedInputs inputs(shared);
    link::Station station = inputs.station("--at", at, name);
    link::Station walker = inputs.listener();
    plan::FootRequest request;
    request.conditions = inputs.settings(station.position);
    inputs.equip(station, here, request.conditions.frequency_mhz);
    inputs.equip(walker, there, request.conditions.frequency_mhz);
    const double wanted_db = inputs.wanted_margin_db("--margin", margin);
    request.range_m = geo::parse_length_m(range, "--range");
    request.directions = directions;
    request.site_antenna_m = station.antenna_height_m;
    request.other_antenna_m = walker.antenna_height_m;

    TerminalTask task(threads);
    const terrain::TerrainSource source = inputs.open();
    inputs.check({table}, source);
    const terrain::HeightGrid ground =
        source.load_around(station.position, request.range_m, nullptr, task);
    const LayersOver layers = inputs.layers(ground, task);
    inputs.lay(request, ground, layers, station.position, request.range_m);
    const plan::FootLosses losses = plan::foot_losses(station.position, request, task);
    const report::FootReach reach{station.name, wanted_db, request.range_m, losses.spacing_m,
                                  plan::foot_range(losses, station.radio, walker.radio, wanted_db)};
    task.end();
    if (!table.empty()) {
        write_text_file(table, inputs.correction().stamped(report::range_csv(reach.range)));
    }
    const std::vector<std::string> notes = inputs.notes(layers);
    if (json) {
        fmt::print("{}", report::range_json(reach, notes));
        return;
    }
    fmt::print("{}", report::range_text(reach));
    print_notes(notes);
    if (!table.empty()) {
        fmt::print("Wrote {}.\n", table);
    }
    fmt::print("{}\n", report::cautions());
}

void RangeCommand::add_to(const Options& options) {
    add_station_options(options, at, name);
    options.add("--range", range, "How far to look", "LENGTH");
    options.add("--margin", margin, "Margin wanted, both ways; left out, the scenario's, or 0dB",
                "DB");
    options.add("--directions", directions, "How many directions to look in", "N").between(4, 3600);
    options.add("--table", table, "Write the reach in each direction as CSV", "FILE.csv");
    shared.add_to(options);
    here.add_to(options, "", "the station's", "Station", true);
    there.add_to(options, "there-", "the walker's", "Radio of the person who walks", true);
    add_threads_option(options, threads);
    add_json_flag(options, json);
    add_footer(options,
               "earshot range --terrain dem-samples/cumberland_3arcsec.tif --frequency 146MHz \\\n"
               "    --at 36.60,-84.20 --power 2W --there-power 2W");
}

} // namespace

void add_range_command(Program& program) {
    program.add<RangeCommand>(
        "range", "Say how far one can walk from a station before it is lost, in every direction");
}

} // namespace earshot::app
