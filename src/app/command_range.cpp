#include "app/arguments.hpp"
#include "app/commands.hpp"
#include "app/range_report.hpp"
#include "app/scenario_arguments.hpp"
#include "app/terminal_task.hpp"
#include "base/output_file.hpp"
#include "base/parallel.hpp"
#include "earshot/base/error.hpp"
#include "geo/units.hpp"
#include "plan/foot_range.hpp"
#include "report/say/path_report.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>

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

std::string directions_csv(const plan::FootRange& range) {
    std::string csv = "bearing_deg,reach_m,unbroken_m,farthest_m,to_the_end\n";
    for (const plan::Reach& reach : range.reaches) {
        csv += fmt::format("{:.2f},{:.0f},{:.0f},{:.0f},{}\n", reach.bearing_deg, reach.reach_m,
                           reach.unbroken_m, reach.farthest_m, reach.to_the_end ? "yes" : "no");
    }
    return csv;
}

/// The middle reach of the directions around each of eight, as bars.
std::string compass_chart(const plan::FootRange& range) {
    constexpr double width = 40.0;
    constexpr int sides = 8;
    std::string text;
    const double longest_m = std::max(range.best.reach_m, 1.0);
    for (int side = 0; side < sides; ++side) {
        const double middle_deg = 360.0 * side / sides;
        std::vector<double> reaches;
        for (const plan::Reach& reach : range.reaches) {
            if (plan::compass_word(reach.bearing_deg) == plan::compass_word(middle_deg)) {
                reaches.push_back(reach.reach_m);
            }
        }
        if (reaches.empty()) {
            continue;
        }
        const auto middle = reaches.begin() + static_cast<std::ptrdiff_t>(reaches.size() / 2);
        std::nth_element(reaches.begin(), middle, reaches.end());
        text += fmt::format(
            "  {:<10}  {:>8}  {}\n", plan::compass_word(middle_deg), geo::format_distance(*middle),
            std::string(static_cast<std::size_t>(std::lround(*middle / longest_m * width)), '='));
    }
    return text;
}

void RangeCommand::run() const {
    const SharedInputs inputs(shared);
    link::Station station = inputs.station("--at", at, name);
    link::Station walker = inputs.listener();
    plan::FootRequest request;
    request.settings = inputs.settings(station.position);
    inputs.equip(station, here, request.settings.frequency_mhz);
    inputs.equip(walker, there, request.settings.frequency_mhz);
    const double wanted_db = inputs.wanted_margin_db("--margin", margin);
    request.range_m = geo::parse_length_m(range, "--range");
    request.directions = directions;
    request.site_antenna_m = station.antenna_height_m;
    request.other_antenna_m = walker.antenna_height_m;
    request.threads = threads;

    TerminalTask task;
    const terrain::TerrainSource source = inputs.open();
    inputs.check({table}, source);
    const terrain::HeightGrid ground =
        source.load_around(station.position, request.range_m, nullptr, task);
    const LayersOver layers = inputs.layers(ground, task);
    request.layers = layers.view();
    request.step_m = inputs.step_m(ground, station.position, request.range_m);
    const plan::FootLosses losses = plan::foot_losses(ground, station.position, request, task);
    const plan::FootRange found = plan::foot_range(losses, station.radio, walker.radio, wanted_db);
    task.end();
    if (!table.empty()) {
        write_text_file(table, inputs.correction().stamped(directions_csv(found)));
    }
    const std::vector<std::string> notes = inputs.notes(layers);
    if (json) {
        nlohmann::ordered_json document = range_json(found);
        document["station"] = station.name;
        document["wanted_margin_db"] = wanted_db;
        document["looked_at_m"] = request.range_m;
        document["spacing_m"] = losses.spacing_m;
        document["directions"] = nlohmann::ordered_json::array();
        for (const plan::Reach& reach : found.reaches) {
            document["directions"].push_back({{"bearing_deg", reach.bearing_deg},
                                              {"reach_m", reach.reach_m},
                                              {"unbroken_m", reach.unbroken_m},
                                              {"farthest_m", reach.farthest_m},
                                              {"to_the_end", reach.to_the_end}});
        }
        document["notes"] = notes;
        document["cautions"] = report::cautions();
        fmt::print("{}\n", document.dump(2));
        return;
    }
    fmt::print("Around {}, both ways with {:g} dB or more: {}.\n", station.name, wanted_db,
               found.words);
    fmt::print("Three quarters of directions reach {}, one quarter {}. There is contact on {:.1f} "
               "km2 within {}.\n{}",
               geo::format_distance(found.quarter_m), geo::format_distance(found.three_quarters_m),
               found.area_km2, geo::format_distance(request.range_m), compass_chart(found));
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
