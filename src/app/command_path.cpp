#include "arguments.hpp"
#include "commands.hpp"
#include "earshot/base/error.hpp"
#include "earshot/base/output_file.hpp"
#include "earshot/geo/position.hpp"
#include "earshot/link/path.hpp"
#include "earshot/report/path_report.hpp"
#include "terminal_progress.hpp"

#include <fmt/format.h>

#include <memory>

namespace earshot::app {
namespace {

struct PathCommand {
    TerrainArguments terrain;
    CoverArguments cover;
    PropagationArguments propagation;
    NoiseArguments noise;
    RadioArguments both, at_from, at_to;
    std::string from, to, from_name = "A", to_name = "B", step, profile;
    bool json = false;
    bool explain = false;

    void run() const;
};

void PathCommand::run() const {
    link::Station a{from_name, geo::parse_position(from), 0.0, {}};
    link::Station b{to_name, geo::parse_position(to), 0.0, {}};
    const geo::GeodesicPath line = geo::geodesic_between(a.position, b.position);
    const geo::LatLon middle =
        geo::geodesic_destination(a.position, line.bearing_deg, line.distance_m / 2.0);
    const propagation::PathSettings settings = propagation.settings(middle);
    if (explain && settings.method != propagation::Method::p1812) {
        throw_usage("--explain prints the terms of method p1812; leave out --method");
    }
    const link::Radio shared = both.radio({}, settings.frequency_mhz);
    const double shared_height_m = both.height_m(default_antenna_height_m);
    a.radio = at_from.radio(shared, settings.frequency_mhz);
    b.radio = at_to.radio(shared, settings.frequency_mhz);
    noise.apply(a.radio, settings.frequency_mhz);
    noise.apply(b.radio, settings.frequency_mhz);
    a.antenna_height_m = at_from.height_m(shared_height_m);
    b.antenna_height_m = at_to.height_m(shared_height_m);

    TerminalProgress progress;
    const terrain::TerrainSource source = terrain.open();
    check_outputs({profile}, cover.files_with(source.info().files));
    // The circle around the middle that reaches the ends holds the whole geodesic.
    const terrain::HeightGrid ground =
        source.load_around(middle, line.distance_m / 2.0, nullptr, &progress);
    const Layers layers(cover, ground, &progress);
    progress.end();
    const link::TwoWayPath path = link::two_way_path(
        ground, a, b, settings, profile_step_m(step, ground, a.position, line.distance_m),
        layers.view());
    if (!profile.empty()) {
        write_text_file(profile, report::profile_csv(path));
    }
    fmt::print("{}", json ? report::path_json(path, layers.notes(), explain)
                          : report::path_text(path, layers.notes(), explain));
}

} // namespace

void add_path_command(CLI::App& app) {
    auto command = std::make_shared<PathCommand>();
    CLI::App* sub = app.add_subcommand(
        "path", "Predict one path both ways: sight, edges, link budget, verdict");
    sub->add_option("--from", command->from,
                    "Position of the first station, for example 36.6,-84.2")
        ->required()
        ->type_name("POSITION");
    sub->add_option("--to", command->to, "Position of the second station")
        ->required()
        ->type_name("POSITION");
    sub->add_option("--from-name", command->from_name, "Name of the first station")
        ->capture_default_str()
        ->type_name("TEXT");
    sub->add_option("--to-name", command->to_name, "Name of the second station")
        ->capture_default_str()
        ->type_name("TEXT");
    command->terrain.add_to(*sub);
    command->cover.add_to(*sub);
    command->propagation.add_to(*sub);
    command->noise.add_to(*sub);
    sub->add_option("--step", command->step,
                    "Spacing of profile points; left out, the size of a cell of the elevation")
        ->type_name("LENGTH")
        ->group("Prediction");
    command->both.add_to(*sub, "", "each station's", "Radio of both stations", true);
    command->at_from.add_to(*sub, "from-", "the first station's",
                            "Radio of the first station, where it differs", true);
    command->at_to.add_to(*sub, "to-", "the second station's",
                          "Radio of the second station, where it differs", true);
    sub->add_option("--profile", command->profile, "Write the ground profile as CSV")
        ->type_name("FILE.csv");
    sub->add_flag("--explain", command->explain,
                  "Print every intermediate value of method p1812 with its equation number");
    sub->add_flag("--json", command->json, "Print JSON for programs");
    sub->footer(
        forms_of_values() +
        "Left out, a radio is a 5 W handheld held at 1.5 m with an antenna of 0 dBi and a receiver "
        "that needs -116 dBm.\n\nExample:\n  earshot path --terrain dem-samples/"
        "cumberland_3arcsec.tif --frequency 146MHz \\\n    --from 36.60,-84.20 --to "
        "36.68,-84.10 --power 5W --from-antenna-height 20ft\n\n" +
        report::cautions());
    sub->callback([command] { command->run(); });
}

} // namespace earshot::app
