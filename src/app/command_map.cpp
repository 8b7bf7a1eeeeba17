#include "app/arguments.hpp"
#include "app/commands.hpp"
#include "app/map_arguments.hpp"
#include "app/scenario_arguments.hpp"
#include "app/terminal_task.hpp"
#include "base/parallel.hpp"
#include "earshot/base/error.hpp"
#include "earshot/geo/position.hpp"
#include "earshot/report/files/coverage_geotiff.hpp"
#include "geo/units.hpp"
#include "report/draw/map_sheet.hpp"
#include "report/say/coverage_words.hpp"
#include "report/say/phrases.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <optional>

namespace earshot::app {
namespace {

struct MapCommand {
    Options command; ///< to tell which options are on the command line
    ScenarioArguments scenario;
    TerrainArguments terrain;
    CoverArguments cover;
    PropagationArguments propagation;
    NoiseArguments noise;
    RadioArguments at_station, at_receiver;
    std::vector<std::string> at, names;
    GridArguments grid;
    std::string range = "20km", step, output, picture;
    std::string engine = "carried";
    std::vector<std::string> bands{"margin"};
    unsigned threads = default_thread_count();
    bool preview = false;
    bool json = false;

    void add_to(const Options& options);
    void run() const;

private:
    void check() const;
    [[nodiscard]] coverage::Job job(const std::optional<scenario::Scenario>& sc,
                                    const CorrectionInForce& correction) const;
    void report(const coverage::Job& job, const coverage::Result& result,
                const std::vector<std::string>& notes) const;
};

report::MapSheet picture_of(const coverage::Job& job, const coverage::CoverageRaster& map,
                            const std::string& correction) {
    report::MapSheet drawing;
    drawing.title =
        job.stations.size() == 1
            ? fmt::format("Where {} is heard", job.first().name)
            : fmt::format("Where one or more of {} stations are heard", job.stations.size());
    drawing.subtitle = fmt::format(
        "{:g} MHz, {} into {:g} dBi at {:.1f} m above ground; receiver {:g} dBi at {:.1f} m, needs "
        "{:.0f} dBm; method {}",
        job.conditions.frequency_mhz, geo::format_power(job.first().radio.power_dbm),
        job.first().radio.antenna_gain_dbi, job.first().antenna_height_m,
        job.receiver.antenna_gain_dbi, job.receiver_height_m, job.receiver.threshold_dbm,
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
    if (!picture.empty() && bands.front() != "margin") {
        throw_usage("--picture shows the margin; name margin first in --bands");
    }
    grid.check();
    if (engine != "carried" && engine != "exact") {
        throw_usage(fmt::format("--engine '{}' is not known; use carried or exact", engine));
    }
}

coverage::Job MapCommand::job(const std::optional<scenario::Scenario>& sc,
                              const CorrectionInForce& correction) const {
    coverage::Job job;
    job.bands = parse_bands(bands, at.size() > 1);
    for (std::size_t k = 0; k < at.size(); ++k) {
        const std::string fallback = at.size() == 1 ? "station" : fmt::format("station {}", k + 1);
        job.stations.push_back(
            station_meant(sc, "--at", at[k], k < names.size() ? names[k] : fallback));
    }
    job.conditions = settings_over(sc, propagation, command, job.first().position);
    correction.correct(job.conditions, command);
    const double frequency_mhz = job.conditions.frequency_mhz;
    for (link::Station& station : job.stations) {
        station.radio = at_station.radio(station.radio, frequency_mhz);
        station.antenna_height_m = at_station.height_m(station.antenna_height_m);
        correction.correct(station.radio);
    }
    const link::Station listener =
        sc ? sc->listener : link::Station{"", {}, default_antenna_height_m, {}};
    job.receiver = at_receiver.radio(listener.radio, frequency_mhz);
    apply_noise_over(noise, command, frequency_mhz, job.receiver);
    correction.correct(job.receiver);
    job.receiver_height_m = at_receiver.height_m(listener.antenna_height_m);
    job.range_m = geo::parse_length_m(range, "--range");
    job.engine = engine == coverage::name_of(coverage::Engine::exact) ? coverage::Engine::exact
                                                                      : coverage::Engine::carried;
    job.radials_per_rim_cell = preview ? 0.5 : 0.0;
    if (job.range_m <= 0.0 || job.range_m > 1e6) {
        throw_usage(
            fmt::format("--range '{}' must be more than nothing and at most 1000 km", range));
    }
    job.grid = grid.choice(job.range_m);
    return job;
}

void MapCommand::run() const {
    check();
    const std::optional<scenario::Scenario> sc = scenario.read();
    const CorrectionInForce correction(sc, scenario.correction);
    coverage::Job job = this->job(sc, correction);
    TerminalTask task(threads);
    const terrain::TerrainSource source = open_over(sc, terrain);
    std::vector<std::string> inputs = inputs_over(sc, terrain, cover);
    for (const auto& further : {source.info().files, scenario.correction.inputs()}) {
        inputs.insert(inputs.end(), further.begin(), further.end());
    }
    check_outputs({output, picture}, inputs);
    if (!picture.empty() && !picture.ends_with(".png")) {
        throw_usage(fmt::format("--picture '{}' must end in .png", picture));
    }
    terrain::HeightSummary heights;
    std::optional<terrain::HeightGrid> ground =
        source.load_around(job.first().position, job.reach_m(), &heights, task);
    const LayersOver layers(sc, cover, *ground, task);
    job.ground = &*ground;
    job.layers = layers.view();
    job.step_m = step_over(sc, step, *ground, job.first().position, job.range_m);

    coverage::Result result = coverage::run(job, task);
    put_metadata(result.raster, coverage::metadata_of(job, result.engine,
                                                      {report::terrain_words(source.info()),
                                                       layers.label(), correction.words()}));
    if (picture.empty()) {
        ground.reset(); // the writer may want the memory
    }
    report::write_coverage_geotiff(output, result.raster, task);
    if (!picture.empty()) {
        report::write_map_picture(picture, result.raster, *ground,
                                  picture_of(job, result.raster, correction.words()));
    }
    task.end();

    std::vector<std::string> notes = report::coverage_notes(job, result, heights);
    notes.insert(notes.begin(), layers.notes().begin(), layers.notes().end());
    const std::vector<std::string> first = sc ? sc->notes : correction.notes();
    notes.insert(notes.begin(), first.begin(), first.end());
    if (preview) {
        notes.emplace_back("this is a preview: fewer radials than the ground asks for");
    }
    report(job, result, notes);
}

void MapCommand::report(const coverage::Job& job, const coverage::Result& result,
                        const std::vector<std::string>& notes) const {
    const coverage::CoverageRaster& map = result.raster;
    if (json) {
        nlohmann::ordered_json document = {{"output", output},
                                           {"columns", map.columns},
                                           {"rows", map.rows},
                                           {"crs", map.georeference.crs_label()},
                                           {"stations", job.stations.size()},
                                           {"cells_predicted", result.cells_predicted},
                                           {"cells_off_terrain", result.cells_off_terrain},
                                           {"cells_behind_void", result.cells_behind_void},
                                           {"predicted_km2", result.predicted_km2}};
        if (result.heard_km2) {
            document["heard_km2"] = *result.heard_km2;
        }
        if (result.in_sight_km2) {
            document["in_sight_km2"] = *result.in_sight_km2;
        }
        document.update({{"engine", coverage::name_of(result.engine)},
                         {"sweep_seconds", result.seconds},
                         {"notes", notes},
                         {"cautions", report::cautions()}});
        fmt::print("{}\n", document.dump(2));
        return;
    }
    fmt::print("{}\n", report::coverage_words(job, result));
    print_notes(notes);
    fmt::print("Wrote {} ({} x {} cells, {}) after {:.1f} s of prediction.\n", output, map.columns,
               map.rows, map.georeference.crs_label(), result.seconds);
    if (!picture.empty()) {
        fmt::print("Wrote {}.\n", picture);
    }
    fmt::print("{}\n", report::cautions());
}

void MapCommand::add_to(const Options& options) {
    command = options;
    options
        .add("--at", at,
             "The station: a position, for example 36.6,-84.2, or a name in the scenario; given "
             "several times, the map shows the best of several stations",
             "POSITION")
        .one_each()
        .required();
    options.add("--name", names, "Name of the station, one for each position", "TEXT").one_each();
    options.add("--out", output, "The map to write, a GeoTIFF", "FILE.tif").required();
    options.add("--picture", picture, "Draw the map over shaded relief as well", "FILE.png");
    scenario.add_to(options);
    terrain.add_to(options, false);
    options.add("--range", range, "How far from the station to map, for example 15km or 10mi",
                "LENGTH");
    grid.add_to(options);
    options
        .add("--bands", bands,
             "Bands to write, in order: margin (dB), chance (of contact, %), readability (0 to 5), "
             "received (dBm), loss (dB), sight (0 blocked, 1 less than 0.6 F1 clear, 2 at least "
             "0.6 F1 clear), in-sight (0 hidden, 1 in sight; quick if nothing else is asked for); "
             "of several stations heard (how many are) and serving (which best). Plain margin is "
             "right for most",
             "BAND,...")
        .separated_by_commas();
    cover.add_to(options);
    propagation.add_to(options);
    options.under("Prediction")
        .add("--engine", engine,
             "carried (terms carried along radials, fast) or exact (a fresh profile to every cell, "
             "the reference; used in any case for methods and ground cover that the carried one "
             "does not know)",
             "NAME");
    noise.add_to(options);
    add_step_option(options, step);
    at_station.add_to(options, "", "the station's", "Station", true);
    at_receiver.add_to(options, "receiver-", "each receiver's", "Receivers on the map", false);
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
