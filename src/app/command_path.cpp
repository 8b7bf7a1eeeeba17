#include "arguments.hpp"
#include "commands.hpp"
#include "earshot/base/error.hpp"
#include "earshot/base/output_file.hpp"
#include "earshot/geo/position.hpp"
#include "earshot/link/path.hpp"
#include "earshot/report/path_report.hpp"
#include "scenario_arguments.hpp"
#include "terminal_progress.hpp"

#include <fmt/format.h>

#include <memory>

namespace earshot::app {
namespace {

struct PathCommand {
    CLI::App* command = nullptr; ///< to tell which options are on the command line
    ScenarioArguments scenario;
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
    const std::optional<plan::Scenario> sc = scenario.read();
    link::Station a = station_meant(sc, "--from", from, from_name);
    link::Station b = station_meant(sc, "--to", to, to_name);
    const geo::GeodesicPath line = geo::geodesic_between(a.position, b.position);
    const geo::LatLon middle =
        geo::geodesic_destination(a.position, line.bearing_deg, line.distance_m / 2.0);
    const propagation::PathSettings settings = settings_over(sc, propagation, *command, middle);
    if (explain && settings.method != propagation::Method::p1812) {
        throw_usage("--explain prints the terms of method p1812; leave out --method");
    }
    const auto describe = [&](link::Station& station, const RadioArguments& own) {
        station.radio =
            own.radio(both.radio(station.radio, settings.frequency_mhz), settings.frequency_mhz);
        station.antenna_height_m = own.height_m(both.height_m(station.antenna_height_m));
        apply_noise_over(noise, *command, settings.frequency_mhz, station.radio);
    };
    describe(a, at_from);
    describe(b, at_to);

    TerminalProgress progress;
    const terrain::TerrainSource source = open_over(sc, terrain);
    std::vector<std::string> inputs = inputs_over(sc, terrain, cover);
    inputs.insert(inputs.end(), source.info().files.begin(), source.info().files.end());
    check_outputs({profile}, inputs);
    // The circle around the middle that reaches the ends holds the whole geodesic.
    const terrain::HeightGrid ground =
        source.load_around(middle, line.distance_m / 2.0, nullptr, &progress);
    const LayersOver layers(sc, cover, ground, &progress);
    progress.end();
    const link::TwoWayPath path =
        link::two_way_path(ground, a, b, settings,
                           step_over(sc, step, ground, a.position, line.distance_m), layers.view());
    if (!profile.empty()) {
        write_text_file(profile, report::profile_csv(path));
    }
    std::vector<std::string> notes = layers.notes();
    if (sc) {
        notes.insert(notes.begin(), sc->notes.begin(), sc->notes.end());
    }
    fmt::print("{}", json ? report::path_json(path, notes, explain)
                          : report::path_text(path, notes, explain));
}

} // namespace

void add_path_command(CLI::App& app) {
    auto command = std::make_shared<PathCommand>();
    CLI::App* sub = app.add_subcommand(
        "path", "Predict one path both ways: sight, edges, link budget, verdict");
    sub->add_option(
           "--from", command->from,
           "The first station: a position, for example 36.6,-84.2, or a name in the scenario")
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
    command->command = sub;
    command->scenario.add_to(*sub);
    command->terrain.add_to(*sub, false);
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
