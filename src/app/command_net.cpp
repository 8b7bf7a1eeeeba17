#include "app/arguments.hpp"
#include "app/commands.hpp"
#include "app/terminal_task.hpp"
#include "base/output_file.hpp"
#include "base/parallel.hpp"
#include "earshot/base/error.hpp"
#include "geo/units.hpp"
#include "plan/hearing.hpp"
#include "plan/ladder.hpp"
#include "report/say/coverage_report.hpp"
#include "report/say/net_report.hpp"
#include "report/say/phrases.hpp"
#include "scenario/scenario.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <string>
#include <vector>

/// The commands about a scenario: who hears whom in its net, and a file to start from.

namespace earshot::app {
namespace {

struct NetCommand {
    std::string scenario, csv, geojson;
    CorrectionArguments correction;
    unsigned threads = default_thread_count();
    bool json = false;

    void add_to(const Options& options);
    void run() const;
};

void NetCommand::run() const {
    scenario::Scenario net = scenario::read_scenario(scenario);
    geo::set_units(net.units);
    correction.put_into(net);
    if (net.stations.size() < 2) {
        throw_usage(fmt::format("{} has one station; a net needs two or more", scenario));
    }
    TerminalTask task(threads);
    const plan::Circle circle = plan::circle_around(net.stations);
    const terrain::TerrainSource source = scenario::open_elevation(net.ground);
    check_outputs({csv, geojson});
    const terrain::HeightGrid ground =
        source.load_around(circle.centre, circle.radius_m, nullptr, task);
    net.ground.ground_kind = ground.kind;
    const scenario::Layers layers = scenario::load_layers(net.ground, ground, task);

    plan::HearingRequest request;
    request.conditions = net.conditions;
    request.wanted_margin_db = net.wanted_margin_db;
    request.step_m = net.step_m.value_or(0.0);
    request.layers = layers.view();
    request.ground = &ground;
    request.field_reach = scenario::field_reach(net);
    const std::vector<std::string> of_unit = report::height_unit_notes(source.info());
    net.notes.insert(net.notes.end(), of_unit.begin(), of_unit.end());
    if (net.correction) {
        std::vector<geo::LatLon> ends;
        for (const link::Station& station : net.stations) {
            ends.push_back(station.position);
        }
        const std::vector<std::string> notes = scenario::reach_notes(
            *net.correction, ends, scenario::ground_facts(ground, request.layers));
        net.notes.insert(net.notes.end(), notes.begin(), notes.end());
    }
    const std::vector<plan::Pair> pairs = plan::hear_net(net, request, task);
    const std::vector<std::optional<plan::Help>> helps =
        plan::help_stations(net, pairs, request, task);
    task.end();
    const plan::NetStructure structure = plan::net_structure(net.stations.size(), pairs);

    const report::NetResult result{net, pairs, structure, helps};
    if (!csv.empty()) {
        write_text_file(csv, report::net_csv(result));
    }
    if (!geojson.empty()) {
        write_text_file(geojson, report::net_geojson(result));
    }
    fmt::print("{}", json ? report::net_json(result) : report::net_text(result));
}

void NetCommand::add_to(const Options& options) {
    options.add("scenario,--scenario", scenario, "The scenario file with the stations", "FILE.toml")
        .required();
    correction.add_to(options);
    options.add("--csv", csv, "Write a table of all pairs, both ways, as well", "FILE.csv");
    options.add("--geojson", geojson, "Write stations and the lines between them for a map as well",
                "FILE.geojson");
    add_threads_option(options, threads);
    add_json_flag(options, json);
    options.footer("Example:\n  earshot start net.toml        (then fill it in)\n  earshot net "
                   "net.toml\n\n" +
                   report::cautions());
}

struct StartCommand {
    std::string output;

    void add_to(const Options& options) {
        options
            .add("file", output, "The file to write; one that exists is never changed", "FILE.toml")
            .required();
    }
    void run() const;
};

void StartCommand::run() const {
    std::error_code ignored;
    if (std::filesystem::exists(std::filesystem::symlink_status(output, ignored))) {
        throw_output(fmt::format("{} exists and is left as it is; name another file", output));
    }
    write_text_file(output, std::string(scenario::starter_scenario()));
    fmt::print("Wrote {}. Fill it in with an editor, then run: earshot net --scenario {}\n", output,
               output);
}

} // namespace

void add_net_command(Program& program) {
    program.add<NetCommand>(
        "net", "Say who hears whom in a net of stations, and who must pass messages on");
}

void add_start_command(Program& program) {
    program.add<StartCommand>("start", "Write a scenario file with remarks, to be filled in");
}

} // namespace earshot::app
