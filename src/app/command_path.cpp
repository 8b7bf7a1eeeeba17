#include "app/commands.hpp"
#include "app/shared_arguments.hpp"
#include "app/terminal_task.hpp"
#include "base/output_file.hpp"
#include "earshot/base/error.hpp"
#include "geo/units.hpp"
#include "plan/mast.hpp"
#include "report/say/path_report.hpp"
#include "report/say/phrases.hpp"
#include "report/say/plan_report.hpp"

#include <fmt/format.h>

#include <tuple>

/// The commands about one path.

namespace earshot::app {
namespace {

/// Both stations and all that their path depends on.
struct PathArguments {
    SharedArguments shared;
    RadioArguments both, at_from, at_to;
    std::string from, to, from_name = "A", to_name = "B";

    void add_ends_to(const Options& options);
    void add_others_to(const Options& options);
};

void PathArguments::add_ends_to(const Options& options) {
    for (const auto& [name, value, which] :
         {std::tuple("--from", &from, "first"), {"--to", &to, "second"}}) {
        options
            .add(name, *value,
                 fmt::format("The {} station: a position, for example 36.6,-84.2, or a name in the "
                             "scenario",
                             which),
                 "POSITION")
            .required();
    }
    for (const auto& [name, value, which] :
         {std::tuple("--from-name", &from_name, "first"), {"--to-name", &to_name, "second"}}) {
        options.add(name, *value,
                    fmt::format("Name of the {} station, if it is given by position", which),
                    "TEXT");
    }
}

void PathArguments::add_others_to(const Options& options) {
    shared.add_to(options);
    both.add_to(options, "", "each station's", "Radio of both stations");
    at_from.add_to(options, "from-", "the first station's",
                   "Radio of the first station, where it differs");
    at_to.add_to(options, "to-", "the second station's",
                 "Radio of the second station, where it differs");
}

/// What the options for a path come to.
struct PathInputs {
    SharedInputs inputs;
    link::Station a, b;
    double length_m = 0.0;
    plan::Circle around; ///< the middle, and the ends: this holds the whole geodesic
    propagation::Conditions conditions;

    explicit PathInputs(const PathArguments& path)
        : inputs(path.shared), a(inputs.station("--from", path.from, path.from_name)),
          b(inputs.station("--to", path.to, path.to_name)) {
        const geo::GeodesicPath line = geo::geodesic_between(a.position, b.position);
        length_m = line.distance_m;
        around = {geo::geodesic_destination(a.position, line.bearing_deg, length_m / 2.0),
                  length_m / 2.0};
        conditions = inputs.settings(around.centre);
        inputs.equip(a, path.at_from, conditions.frequency_mhz, path.both);
        inputs.equip(b, path.at_to, conditions.frequency_mhz, path.both);
    }
};

struct PathCommand {
    PathArguments path;
    std::string profile;
    bool json = false;
    bool explain = false;

    void add_to(const Options& options);
    void run() const;
};

void PathCommand::run() const {
    const PathInputs ends(path);
    if (explain && !from_p1812(ends.conditions.method)) {
        throw_usage("--explain prints the terms of method p1812; leave out --method");
    }
    TerminalTask task;
    const GroundRead ground(ends.inputs, ends.inputs.open({profile}), ends.around, task);
    task.end();
    link::Setting setting;
    setting.conditions = ends.conditions;
    ground.lay(setting, ends.length_m);
    const link::TwoWayPath found = link::two_way_path(setting, ends.a, ends.b);
    if (!profile.empty()) {
        write_text_file(profile, report::profile_csv(found));
    }
    const std::vector<std::string> notes = ground.notes({ends.a.position, ends.b.position});
    const double wanted_db = ends.inputs.wanted_margin_db("", "");
    fmt::print("{}", json ? report::path_json(found, notes, explain, wanted_db)
                          : report::path_text(found, notes, explain, wanted_db));
}

void PathCommand::add_to(const Options& options) {
    path.add_ends_to(options);
    path.add_others_to(options);
    options.add("--profile", profile, "Write the ground profile as CSV", "FILE.csv");
    options.flag("--explain", explain,
                 "Print every intermediate value of method p1812 with its equation number");
    add_json_flag(options, json);
    add_footer(options,
               "earshot path --terrain dem-samples/cumberland_3arcsec.tif --frequency 146MHz \\\n"
               "    --from 36.60,-84.20 --to 36.68,-84.10 --power 5W --from-antenna-height 20ft");
}

struct MastCommand {
    PathArguments path;
    std::string end = "both", margin;
    std::string lowest = "1m", limit = "30m", height_step = "0.5m", table;
    bool json = false;

    void add_to(const Options& options);
    void run() const;
};

void MastCommand::run() const {
    using enum plan::PathEnd;
    const auto raised = meaning<std::vector<plan::PathEnd>>(
        "--end", end, {{"from", {first}}, {"to", {second}}, {"both", {first, second}}});
    const PathInputs ends(path);
    plan::MastRequest request;
    request.conditions = ends.conditions;
    request.wanted_margin_db = ends.inputs.wanted_margin_db("--margin", margin);
    request.lowest_m = geo::parse_length_m(lowest, "--lowest");
    request.highest_m = geo::parse_length_m(limit, "--limit");
    request.height_step_m = geo::parse_length_m(height_step, "--height-step");

    TerminalTask task;
    const GroundRead ground(ends.inputs, ends.inputs.open({table}), ends.around, task);
    task.end();
    ground.lay(request, ends.length_m);
    std::vector<report::RaisedMast> masts;
    for (const plan::PathEnd which : raised) {
        request.end = which;
        masts.push_back({(which == first ? ends.a : ends.b).name,
                         plan::least_mast(ends.a, ends.b, request, task)});
    }
    auto question = link::made_in<plan::LadderQuestion>(request);
    question.here = ends.a;
    question.there = {{ends.b, 1.0}};
    question.wanted_margin_db = request.wanted_margin_db;
    question.antennas = antennas_at_hand(ends.inputs, request.conditions.frequency_mhz);
    question.raised_m = 0.0; // that is what the mast is for
    const plan::LadderAnswer first_of_all = plan::climb_ladder(question, task);
    ends.inputs.write_table(table, report::mast_csv(masts));
    const std::vector<std::string> notes = ground.notes({ends.a.position, ends.b.position});
    if (json) {
        fmt::print("{}", report::mast_json(masts, request.wanted_margin_db, first_of_all, notes));
    } else {
        print_answer(report::mast_text(masts, request.wanted_margin_db, first_of_all), notes,
                     table);
    }
}

void MastCommand::add_to(const Options& options) {
    path.add_ends_to(options);
    options.add("--end", end, "Whose antenna is raised: from, to or both in turn", "NAME");
    options.add("--margin", margin, "Margin wanted, both ways; left out, the scenario's, or 0dB",
                "DB");
    options.add("--lowest", lowest, "Least height above the ground to look at", "LENGTH");
    options.add("--limit", limit, "Greatest height to look at", "LENGTH");
    options.add("--height-step", height_step, "Between the heights looked at", "LENGTH");
    options.add("--table", table, "Write the margin against height as CSV", "FILE.csv");
    path.add_others_to(options);
    add_json_flag(options, json);
    add_footer(options,
               "earshot mast --terrain dem-samples/cumberland_3arcsec.tif --frequency 146MHz \\\n"
               "    --from 36.60,-84.20 --to 36.68,-84.10 --margin 10dB --limit 100ft");
}

} // namespace

void add_path_command(Program& program) {
    program.add<PathCommand>("path",
                             "Predict one path both ways: sight, edges, link budget, verdict");
}

void add_mast_command(Program& program) {
    program.add<MastCommand>("mast",
                             "Find the least antenna height at either end that makes a path work");
}

} // namespace earshot::app
