#include "app/arguments.hpp"
#include "app/commands.hpp"
#include "app/scenario_arguments.hpp"
#include "app/terminal_task.hpp"
#include "base/output_file.hpp"
#include "earshot/base/error.hpp"
#include "earshot/link/path.hpp"
#include "report/say/path_report.hpp"

#include <fmt/format.h>

namespace earshot::app {
namespace {

struct PathCommand {
    SharedArguments shared;
    RadioArguments both, at_from, at_to;
    std::string from, to, from_name = "A", to_name = "B", profile;
    bool json = false;
    bool explain = false;

    void add_to(const Options& options);
    void run() const;
};

void PathCommand::run() const {
    const SharedInputs inputs(shared);
    link::Station a = inputs.station("--from", from, from_name);
    link::Station b = inputs.station("--to", to, to_name);
    const geo::GeodesicPath line = geo::geodesic_between(a.position, b.position);
    const geo::LatLon middle =
        geo::geodesic_destination(a.position, line.bearing_deg, line.distance_m / 2.0);
    const propagation::Conditions settings = inputs.settings(middle);
    if (explain && !from_p1812(settings.method)) {
        throw_usage("--explain prints the terms of method p1812; leave out --method");
    }
    inputs.equip(a, both, at_from, settings.frequency_mhz);
    inputs.equip(b, both, at_to, settings.frequency_mhz);

    TerminalTask task;
    const terrain::TerrainSource source = inputs.open();
    inputs.check({profile}, source);
    // The circle around the middle that reaches the ends holds the whole geodesic.
    const terrain::HeightGrid ground =
        source.load_around(middle, line.distance_m / 2.0, nullptr, task);
    const LayersOver layers = inputs.layers(ground, task);
    task.end();
    link::Setting setting;
    setting.conditions = settings;
    inputs.lay(setting, ground, layers, a.position, line.distance_m);
    const link::TwoWayPath path = link::two_way_path(setting, a, b);
    if (!profile.empty()) {
        write_text_file(profile, report::profile_csv(path));
    }
    const std::vector<std::string> notes = inputs.notes(layers);
    fmt::print("{}", json ? report::path_json(path, notes, explain)
                          : report::path_text(path, notes, explain));
}

void PathCommand::add_to(const Options& options) {
    add_path_ends(options, from, to, from_name, to_name);
    shared.add_to(options);
    add_radios_of_ends(options, both, at_from, at_to);
    options.add("--profile", profile, "Write the ground profile as CSV", "FILE.csv");
    options.flag("--explain", explain,
                 "Print every intermediate value of method p1812 with its equation number");
    add_json_flag(options, json);
    add_footer(options,
               "earshot path --terrain dem-samples/cumberland_3arcsec.tif --frequency 146MHz \\\n"
               "    --from 36.60,-84.20 --to 36.68,-84.10 --power 5W --from-antenna-height 20ft");
}

} // namespace

void add_path_command(Program& program) {
    program.add<PathCommand>("path",
                             "Predict one path both ways: sight, edges, link budget, verdict");
}

} // namespace earshot::app
