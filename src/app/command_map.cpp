#include "app/commands.hpp"
#include "app/shared_arguments.hpp"
#include "app/terminal_task.hpp"
#include "base/parallel.hpp"
#include "earshot/base/error.hpp"
#include "earshot/geo/position.hpp"
#include "earshot/report/files/coverage_geotiff.hpp"
#include "geo/units.hpp"
#include "report/draw/map_sheet.hpp"
#include "report/say/coverage_report.hpp"
#include "report/say/numbers.hpp"
#include "report/say/phrases.hpp"

#include <fmt/format.h>

#include <optional>

namespace earshot::app {
namespace {

struct MapCommand {
    SharedArguments shared;
    RadioArguments at_station, at_receiver;
    std::vector<std::string> at, names;
    GridArguments grid;
    std::string range = "20km", output, picture;
    std::string engine = "carried";
    std::vector<std::string> bands{"margin"};
    unsigned threads = default_thread_count();
    bool preview = false;
    bool json = false;

    void add_to(const Options& options);
    void run() const;

private:
    void check() const;
    /// As --at has them; left out, all of the scenario.
    [[nodiscard]] std::vector<std::string> stations(const SharedInputs& inputs) const;
    [[nodiscard]] coverage::Job job(const SharedInputs& inputs) const;
    void report(const coverage::Job& job, const coverage::Result& result,
                const std::vector<std::string>& notes) const;
};

report::MapSheet picture_of(const coverage::Job& job, const coverage::CoverageRaster& map,
                            const std::string& correction) {
    report::MapSheet drawing;
    drawing.title =
        report::map_title(job.stations, job.bands.front() == coverage::BandKind::both_ways);
    // Of several stations, the facts beside the map say what each one has.
    const std::string radio =
        job.stations.size() > 1 ? fmt::format("{} stations", job.stations.size())
                                : fmt::format("{} into {:g} dBi at {} above ground",
                                              geo::format_power(job.first().radio.power_dbm),
                                              job.first().radio.antenna_gain_dbi,
                                              report::height_text(job.first().antenna_height_m, 1));
    drawing.subtitle =
        fmt::format("{:g} MHz, {}; receiver {:g} dBi at {}, needs {:.0f} dBm; method {}",
                    job.conditions.frequency_mhz, radio, job.receiver.antenna_gain_dbi,
                    report::height_text(job.receiver_height_m, 1), job.receiver.threshold_dbm,
                    propagation::method_info(job.conditions.method).name);
    if (!correction.empty()) {
        drawing.subtitle += "; " + correction;
    }
    drawing.facts = report::map_facts(map);
    for (const link::Station& station : job.stations) {
        drawing.marks.push_back({station.position, station.name, true});
    }
    return drawing;
}

void MapCommand::check() const {
    if (names.size() > at.size()) {
        throw_usage(fmt::format("--name is given {} times for {} positions; give at most one for "
                                "each --at",
                                names.size(), at.size()));
    }
    if (threads < 1 || threads > 1024) {
        throw_usage(fmt::format("--threads {} is not possible; give 1 to 1024", threads));
    }
    if (!picture.empty() && bands.front() != "margin" && bands.front() != "both-ways") {
        throw_usage("--picture shows a margin; name margin or both-ways first in --bands");
    }
    grid.check();
}

std::vector<std::string> MapCommand::stations(const SharedInputs& inputs) const {
    if (!at.empty()) {
        return at;
    }
    if (!inputs.scenario()) {
        throw_usage("--at is missing; give the position of the station, or a --scenario, whose "
                    "stations are then mapped");
    }
    std::vector<std::string> all;
    for (const link::Station& station : inputs.scenario()->stations) {
        all.push_back(station.name);
    }
    return all;
}

coverage::Job MapCommand::job(const SharedInputs& inputs) const {
    const std::vector<std::string> at = stations(inputs);
    using enum coverage::Engine;
    coverage::Job job;
    job.engine =
        meaning<coverage::Engine>("--engine", engine, {{"carried", carried}, {"exact", exact}});
    job.bands = parse_bands(bands, at.size() > 1);
    for (std::size_t k = 0; k < at.size(); ++k) {
        const std::string fallback = at.size() == 1 ? "station" : fmt::format("station {}", k + 1);
        job.stations.push_back(
            inputs.station("--at", at[k], k < names.size() ? names[k] : fallback));
    }
    job.conditions = inputs.settings(job.first().position);
    for (link::Station& station : job.stations) {
        inputs.equip(station, at_station, job.conditions.frequency_mhz);
    }
    link::Station listener = inputs.listener();
    inputs.equip(listener, at_receiver, job.conditions.frequency_mhz);
    job.receiver = listener.radio;
    job.receiver_height_m = listener.antenna_height_m;
    job.radials_per_rim_cell = preview ? 0.5 : 0.0;
    job.range_m = map_range_m(range);
    job.grid = grid.choice(job.range_m);
    return job;
}

void MapCommand::run() const {
    check();
    const SharedInputs inputs(shared);
    coverage::Job job = this->job(inputs);
    TerminalTask task(threads);
    const terrain::TerrainSource source = inputs.open({output, picture});
    if (!picture.empty() && !picture.ends_with(".png")) {
        throw_usage(fmt::format("--picture '{}' must end in .png", picture));
    }
    terrain::HeightSummary heights;
    std::optional<GroundRead> ground;
    ground.emplace(inputs, source, plan::Circle{job.first().position, job.reach_m()}, task,
                   &heights);
    ground->lay(job, job.range_m);

    coverage::Result result = coverage::run(job, task);
    put_metadata(result.raster,
                 coverage::metadata_of(job, result.engine,
                                       {report::terrain_words(source.info()), ground->cover_words(),
                                        inputs.correction_words()}));
    std::vector<std::string> notes = ground->notes();
    if (picture.empty()) {
        ground.reset(); // the writer may want the memory
    }
    report::write_coverage_geotiff(output, result.raster, task);
    if (!picture.empty()) {
        report::write_map_picture(picture, result.raster, ground->heights(),
                                  picture_of(job, result.raster, inputs.correction_words()));
    }
    task.end();

    const std::vector<std::string> more = report::coverage_notes(job, result, heights);
    notes.insert(notes.end(), more.begin(), more.end());
    if (preview) {
        notes.emplace_back("this is a preview: fewer radials than the ground asks for");
    }
    report(job, result, notes);
}

void MapCommand::report(const coverage::Job& job, const coverage::Result& result,
                        const std::vector<std::string>& notes) const {
    if (json) {
        fmt::print("{}", report::coverage_json(job, result, output, notes));
        return;
    }
    const coverage::CoverageRaster& map = result.raster;
    fmt::print("{}\n", report::coverage_words(job, result));
    fmt::print("{}", report::notes_text(notes));
    fmt::print("Wrote {} ({} x {} cells, {}) after {:.1f} s of prediction.\n", output, map.columns,
               map.rows, map.georeference.crs_label(), result.seconds);
    if (!picture.empty()) {
        fmt::print("Wrote {}.\n", picture);
    }
    fmt::print("{}\n", report::cautions());
}

void MapCommand::add_to(const Options& options) {
    options
        .add("--at", at,
             "The station: a position, for example 36.6,-84.2, or a name in the scenario; given "
             "several times, the map shows the best of several stations; left out, all stations of "
             "the scenario",
             "POSITION")
        .one_each();
    options.add("--name", names, "Name of the station, one for each position", "TEXT").one_each();
    options.add("--out", output, "The map to write, a GeoTIFF", "FILE.tif").required();
    options.add("--picture", picture, "Draw the map over shaded relief as well", "FILE.png");
    shared.add_all_but_step(options);
    options.add("--range", range, "How far from the station to map, for example 15km or 10mi",
                "LENGTH");
    grid.add_to(options);
    options
        .add("--bands", bands,
             "Bands to write, in order: margin (dB), chance (of contact, %), readability (0 to 5), "
             "received (dBm), loss (dB), doubt (by how many dB a second model "
             "differs; of one station), sight (0 blocked, 1 less than 0.6 F1 clear, 2 at least "
             "0.6 F1 clear), in-sight (0 hidden, 1 in sight; quick if nothing else is asked for); "
             "both-ways (margin of the weaker way: hears and is heard, dB), each (a band of the "
             "margin with each station); of several stations heard (how many are) and serving "
             "(which best). Plain margin is right for most",
             "BAND,...")
        .separated_by_commas();
    options.under("Prediction")
        .add("--engine", engine,
             "carried (terms carried along radials, fast) or exact (a fresh profile to every cell, "
             "the reference; used in any case for methods and ground cover that the carried one "
             "does not know)",
             "NAME");
    shared.add_step(options);
    at_station.add_to(options, "", "the station's", "Station");
    at_receiver.add_to(options, "receiver-", "each receiver's", "Receivers on the map");
    options.add("--threads", threads, "Processors to use, 1 to 1024", "N");
    options.flag("--preview", preview, "Fewer radials than the ground asks for: a quick look");
    options.flag("--json", json, "Print the summary as JSON for programs");
    add_footer(options,
               "earshot map --terrain dem-samples/cumberland_3arcsec.tif --at 36.60,-84.20 --name "
               "Ridge \\\n    --frequency 146MHz --power 5W --antenna-height 20ft --range 15km "
               "--out ridge.tif --picture ridge.png");
}

} // namespace

void add_map_command(Program& program) {
    program.add<MapCommand>(
        "map", "Map where a station is heard: a GeoTIFF of the margin in dB, and a picture of it");
}

} // namespace earshot::app
