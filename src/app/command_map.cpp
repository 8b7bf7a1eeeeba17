#include "arguments.hpp"
#include "commands.hpp"
#include "earshot/base/error.hpp"
#include "earshot/base/output_file.hpp"
#include "earshot/base/parallel.hpp"
#include "earshot/geo/position.hpp"
#include "earshot/geo/units.hpp"
#include "earshot/link/quality.hpp"
#include "earshot/report/coverage_geotiff.hpp"
#include "earshot/report/map_picture.hpp"
#include "earshot/report/path_report.hpp"
#include "earshot/sweep/sweep.hpp"
#include "earshot/terrain/profile.hpp"
#include "terminal_progress.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>
#include <fmt/ranges.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <ctime>
#include <limits>
#include <memory>

namespace earshot::app {
namespace {

using Metadata = std::vector<std::pair<std::string, std::string>>;

struct MapCommand {
    TerrainArguments terrain;
    CoverArguments cover;
    PropagationArguments propagation;
    NoiseArguments noise;
    RadioArguments at_station, at_receiver;
    std::string at, name = "station", range = "20km", cell, grid, step, output, picture;
    std::string engine = "carried";
    std::vector<std::string> bands{"margin"};
    unsigned threads = default_thread_count();
    bool json = false;

    void run() const;
};

/// A map's inputs and what came of them, for the summary and the metadata.
struct MapJob {
    link::Station station;
    link::Radio receiver;
    double receiver_height_m;
    propagation::PathSettings settings;
    double range_m;
    double step_m;
    std::string terrain_label;
    std::string cover_label;
    std::string engine;
    std::vector<std::string> warnings;
};

Metadata metadata_of(const MapJob& job, const std::string& version) {
    const auto number = [](double value) { return fmt::format("{:.10g}", value); };
    const propagation::MethodInfo& method = propagation::method_info(job.settings.method);
    return {
        {"PROGRAM", "earshot " + version},
        {"CREATED", fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", fmt::gmtime(std::time(nullptr)))},
        {"STATION_NAME", job.station.name},
        {"STATION_LATITUDE", fmt::format("{:.8f}", job.station.position.lat_deg)},
        {"STATION_LONGITUDE", fmt::format("{:.8f}", job.station.position.lon_deg)},
        {"STATION_ANTENNA_HEIGHT_M", number(job.station.antenna_height_m)},
        {"STATION_POWER_DBM", number(job.station.radio.power_dbm)},
        {"STATION_FEEDER_LOSS_DB", number(job.station.radio.feeder_loss_db)},
        {"STATION_ANTENNA_GAIN_DBI", number(job.station.radio.antenna_gain_dbi)},
        {"STATION_BODY_LOSS_DB", number(job.station.radio.body_loss_db)},
        {"RECEIVER_ANTENNA_HEIGHT_M", number(job.receiver_height_m)},
        {"RECEIVER_ANTENNA_GAIN_DBI", number(job.receiver.antenna_gain_dbi)},
        {"RECEIVER_FEEDER_LOSS_DB", number(job.receiver.feeder_loss_db)},
        {"RECEIVER_BODY_LOSS_DB", number(job.receiver.body_loss_db)},
        {"RECEIVER_THRESHOLD_DBM", number(job.receiver.threshold_dbm)},
        {"FREQUENCY_MHZ", number(job.settings.frequency_mhz)},
        {"METHOD", std::string(method.name)},
        {"METHOD_SOURCE", std::string(method.source)},
        {"KNIFE_EDGE",
         job.settings.knife_edge == propagation::KnifeEdgeForm::exact ? "exact" : "itu"},
        {"EFFECTIVE_RADIUS_KM", number(propagation::radius_km(job.settings))},
        {"TIME_PERCENT", number(job.settings.p1812.time_percent)},
        {"PLACES_PERCENT", number(job.settings.p1812.location_percent)},
        {"POLARIZATION", job.settings.p1812.polarization == propagation::Polarization::vertical
                             ? "vertical"
                             : "horizontal"},
        {"INDOORS", job.settings.p1812.building_entry ? "yes" : "no"},
        {"DELTA_N", number(job.settings.p1812.refractivity.delta_n)},
        {"N0", number(job.settings.p1812.refractivity.n0)},
        {"RANGE_M", number(job.range_m)},
        {"PROFILE_STEP_M", number(job.step_m)},
        {"ENGINE", job.engine},
        {"TERRAIN", job.terrain_label},
        {"GROUND_COVER", job.cover_label},
        {"WARNINGS",
         job.warnings.empty() ? "none" : fmt::format("{}", fmt::join(job.warnings, "; "))},
        {"CAUTION", report::cautions()},
    };
}

std::vector<float> sight_values(const std::vector<sweep::SightClass>& sight) {
    std::vector<float> values(sight.size());
    std::ranges::transform(sight, values.begin(), [](sweep::SightClass value) {
        return value == sweep::SightClass::unknown ? std::numeric_limits<float>::quiet_NaN()
                                                   : static_cast<float>(value);
    });
    return values;
}

std::vector<float> minus_loss(const std::vector<float>& loss_db, double from) {
    std::vector<float> values(loss_db.size());
    std::ranges::transform(loss_db, values.begin(), [from](float loss) {
        return static_cast<float>(from - static_cast<double>(loss));
    });
    return values;
}

constexpr std::array band_names{"margin", "chance", "readability", "received", "loss", "sight"};

void check_bands(const std::vector<std::string>& bands) {
    for (const std::string& band : bands) {
        if (std::ranges::find(band_names, band) == band_names.end()) {
            throw_usage(fmt::format("--bands '{}' is not known; choose from {}", band,
                                    fmt::join(band_names, ", ")));
        }
        if (std::ranges::count(bands, band) > 1) {
            throw_usage(fmt::format("--bands names '{}' twice", band));
        }
    }
}

/// Chance of contact in each cell. The deviation over the year comes from a second sweep for 10 %
/// of the time, that among places from the standard.
std::vector<float> chance_values(const std::vector<float>& margin_db,
                                 const std::vector<float>& median_loss_db,
                                 const std::vector<float>& seldom_loss_db, double place_db,
                                 double prediction_db) {
    std::vector<float> values(margin_db.size(), std::numeric_limits<float>::quiet_NaN());
    for (std::size_t i = 0; i < values.size(); ++i) {
        if (std::isnan(margin_db[i]) || std::isnan(seldom_loss_db[i])) {
            continue;
        }
        link::Deviations deviations;
        deviations.place_db = place_db;
        deviations.prediction_db = prediction_db;
        deviations.time_db = link::time_deviation_db(
            static_cast<double>(median_loss_db[i]),
            static_cast<double>(std::min(median_loss_db[i], seldom_loss_db[i])));
        values[i] = static_cast<float>(
            link::chance_percent(static_cast<double>(margin_db[i]), deviations.combined_db()));
    }
    return values;
}

/// Deviation of the loss among places around the receivers, dB.
double place_deviation_db(const MapJob& job) {
    if (job.settings.method != propagation::Method::p1812) {
        return link::location_deviation_p1546_db(link::Surroundings::rural,
                                                 std::min(job.settings.frequency_mhz, 4000.0));
    }
    propagation::PathGeometry near;
    near.distance_km = 1.0;
    near.transmitter_horizon_km = near.receiver_horizon_km = 0.5;
    near.above_ground_m = {job.station.antenna_height_m, job.receiver_height_m};
    near.radii = propagation::effective_radii(job.settings.p1812.refractivity.delta_n);
    propagation::P1812Inputs inputs = job.settings.p1812;
    inputs.frequency_mhz = job.settings.frequency_mhz;
    return propagation::p1812_loss(near, inputs).location_deviation_db;
}

/// Makes the bands asked for from what the sweeps found.
class Bands {
public:
    Bands(const MapJob& job, const sweep::SweepResult& result)
        : job_(job), result_(result),
          received_dbm_(link::received_without_path_dbm(job.station.radio, job.receiver)) {}

    /// `median` and `seldom` are the losses of 50 and 10 % of the time.
    void set_spread(std::vector<float> median, std::vector<float> seldom) {
        median_loss_db_ = std::move(median);
        seldom_loss_db_ = std::move(seldom);
    }

    [[nodiscard]] sweep::Band make(const std::string& name) const {
        if (name == "margin") {
            return {"margin", "dB", margin()};
        }
        if (name == "chance") {
            return {"chance of contact", "%",
                    chance_values(margin(), median_loss_db_, seldom_loss_db_,
                                  place_deviation_db(job_), job_.settings.prediction_deviation_db)};
        }
        if (name == "readability") {
            return {"readability (0 nothing heard to 5 clear)", "1", readability()};
        }
        if (name == "received") {
            return {"received power", "dBm", minus_loss(result_.loss_db, received_dbm_)};
        }
        if (name == "loss") {
            return {"path loss", "dB", result_.loss_db};
        }
        return {"line of sight (0 blocked, 1 less than 0.6 F1 clear, 2 at least 0.6 F1 clear)", "1",
                sight_values(result_.sight)};
    }

private:
    [[nodiscard]] std::vector<float> margin() const {
        return minus_loss(result_.loss_db, received_dbm_ - job_.receiver.threshold_dbm);
    }
    [[nodiscard]] std::vector<float> readability() const {
        std::vector<float> values = margin();
        for (float& value : values) {
            if (!std::isnan(value)) {
                value =
                    static_cast<float>(link::readability(static_cast<double>(value)).readability);
            }
        }
        return values;
    }

    const MapJob& job_;
    const sweep::SweepResult& result_;
    double received_dbm_;
    std::vector<float> median_loss_db_, seldom_loss_db_;
};

/// Says where the elevation ends before the range does, if it does.
std::string coverage_note(const terrain::Georeference& georeference, int columns, int rows,
                          geo::LatLon site, double range_m) {
    constexpr int directions = 72;
    constexpr int rings = 50;
    int short_directions = 0;
    double nearest_m = range_m;
    double nearest_bearing_deg = 0.0;
    for (int k = 0; k < directions; ++k) {
        const double bearing_deg = 360.0 * k / directions;
        const geo::GeodesicLine line(site, bearing_deg);
        for (int ring = 1; ring <= rings; ++ring) {
            const double distance_m = range_m * ring / rings;
            const terrain::CellPosition cell = georeference.cell_of(line.at(distance_m));
            if (cell.column < -0.5 || cell.row < -0.5 || cell.column > columns - 0.5 ||
                cell.row > rows - 0.5) {
                ++short_directions;
                if (distance_m < nearest_m) {
                    nearest_m = distance_m;
                    nearest_bearing_deg = bearing_deg;
                }
                break;
            }
        }
    }
    if (short_directions == 0) {
        return {};
    }
    return fmt::format("the elevation ends before the range of {} in {:.0f} % of directions "
                       "(nearest about {} away, bearing {:.0f} deg); the map is blank beyond it",
                       geo::format_distance(range_m), 100.0 * short_directions / directions,
                       geo::format_distance(nearest_m), nearest_bearing_deg);
}

struct MapSummary {
    double predicted_km2 = 0.0;
    double heard_km2 = 0.0;
};

MapSummary summarize(const sweep::SweepResult& result, const MapJob& job,
                     const sweep::MapGrid& map) {
    const double least_loss_margin =
        link::received_without_path_dbm(job.station.radio, job.receiver) -
        job.receiver.threshold_dbm;
    const auto heard = std::ranges::count_if(
        result.loss_db, [&](float loss) { return static_cast<double>(loss) <= least_loss_margin; });
    const auto size = map.georeference.cell_size_at(job.station.position);
    const double cell_km2 = size.across_m * size.down_m / 1e6;
    return {static_cast<double>(result.cells_predicted) * cell_km2,
            static_cast<double>(heard) * cell_km2};
}

void MapCommand::run() const {
    check_bands(bands);
    if (threads < 1 || threads > 1024) {
        throw_usage(fmt::format("--threads {} is not possible; give 1 to 1024", threads));
    }
    if (!picture.empty() && bands.front() != "margin") {
        throw_usage("--picture shows the margin; name margin first in --bands");
    }
    if (!grid.empty() && grid != "terrain" && grid != "utm") {
        throw_usage(fmt::format("--grid '{}' is not known; use terrain or utm", grid));
    }
    const bool utm = grid == "utm" || (grid.empty() && !cell.empty());
    if (!utm && !cell.empty()) {
        throw_usage("--cell goes with --grid utm; on the terrain's own grid the cells are those of "
                    "the elevation");
    }
    if (engine != "carried" && engine != "exact") {
        throw_usage(fmt::format("--engine '{}' is not known; use carried or exact", engine));
    }
    MapJob job;
    job.station = {
        name, geo::parse_position(at), at_station.height_m(default_antenna_height_m), {}};
    job.settings = propagation.settings(job.station.position);
    job.station.radio = at_station.radio({}, job.settings.frequency_mhz);
    job.receiver = at_receiver.radio({}, job.settings.frequency_mhz);
    noise.apply(job.receiver, job.settings.frequency_mhz);
    job.receiver_height_m = at_receiver.height_m(default_antenna_height_m);
    job.range_m = geo::parse_length_m(range, "--range");
    job.warnings = propagation::validity_warnings(job.settings, job.station.antenna_height_m,
                                                  job.receiver_height_m);
    if (job.range_m <= 0.0 || job.range_m > 1e6) {
        throw_usage(
            fmt::format("--range '{}' must be more than nothing and at most 1000 km", range));
    }

    TerminalProgress progress;
    const terrain::TerrainSource source = terrain.open();
    check_outputs({output, picture}, cover.files_with(source.info().files));
    if (!picture.empty() && !picture.ends_with(".png")) {
        throw_usage(fmt::format("--picture '{}' must end in .png", picture));
    }
    terrain::HeightSummary heights;
    const terrain::HeightGrid ground =
        source.load_around(job.station.position, job.range_m, &heights, &progress);
    const Layers layers(cover, ground, &progress);
    job.cover_label = layers.label();
    job.step_m = profile_step_m(step, ground, job.station.position, job.range_m);
    job.terrain_label = fmt::format(
        "{}{}; {} x {} cells, {}", source.info().files.front(),
        source.info().files.size() > 1 ? fmt::format(" and {} more", source.info().files.size() - 1)
                                       : "",
        source.info().columns, source.info().rows, source.info().crs_label);

    double cell_m = 0.0;
    if (utm) {
        cell_m = cell.empty() ? std::round(terrain::natural_step_m(ground, job.station.position))
                              : geo::parse_length_m(cell, "--cell");
        if (!(cell_m > 0.0)) {
            throw_usage(fmt::format("--cell '{}' must be longer than nothing", cell));
        }
        if (cell_m > job.range_m) {
            throw_usage(fmt::format("--cell '{}' is larger than the range of {}; choose smaller "
                                    "cells",
                                    cell, geo::format_distance(job.range_m)));
        }
    }
    const sweep::MapGrid map =
        utm ? sweep::utm_map_grid(job.station.position, job.range_m, cell_m)
            : sweep::terrain_map_grid(ground, job.station.position, job.range_m);

    sweep::SweepRequest request;
    request.site = job.station.position;
    request.site_antenna_m = job.station.antenna_height_m;
    request.receiver_antenna_m = job.receiver_height_m;
    request.range_m = job.range_m;
    request.step_m = job.step_m;
    request.settings = job.settings;
    request.threads = threads;
    request.layers = layers.view();
    request.engine = engine == "exact" ? sweep::Engine::exact : sweep::Engine::carried;
    const auto started = std::chrono::steady_clock::now();
    const sweep::SweepResult result = sweep::sweep(ground, map, request, &progress);
    const std::chrono::duration<double> took = std::chrono::steady_clock::now() - started;
    if (result.cells_predicted == 0) {
        throw_input("no cell of the map could be predicted: the elevation holds no ground within "
                    "the range; give elevation that covers it");
    }
    const MapSummary summary = summarize(result, job, map);
    job.engine = result.engine == sweep::Engine::exact ? "exact" : "carried";

    sweep::CoverageRaster raster;
    raster.columns = map.columns;
    raster.rows = map.rows;
    raster.georeference = map.georeference;
    raster.metadata = metadata_of(job, EARSHOT_VERSION);
    Bands maker(job, result);
    if (std::ranges::find(bands, "chance") != bands.end()) {
        const auto loss_at = [&](double time_percent) {
            sweep::SweepRequest other = request;
            other.settings.p1812.time_percent = time_percent;
            return sweep::sweep(ground, map, other, &progress).loss_db;
        };
        // Only the standard's own method knows of time.
        const bool timed = job.settings.method == propagation::Method::p1812;
        maker.set_spread(timed && job.settings.p1812.time_percent != 50.0 ? loss_at(50.0)
                                                                          : result.loss_db,
                         timed ? loss_at(10.0) : result.loss_db);
    }
    for (const std::string& band : bands) {
        raster.bands.push_back(maker.make(band));
    }
    report::write_coverage_geotiff(output, raster, &progress);
    if (!picture.empty()) {
        report::MapPicture drawing;
        drawing.title = fmt::format("Where {} is heard", job.station.name);
        drawing.subtitle = fmt::format(
            "{:g} MHz, {} into {:g} dBi at {:.1f} m above ground; receiver {:g} dBi at {:.1f} "
            "m, needs {:.0f} dBm; method {}",
            job.settings.frequency_mhz, geo::format_power(job.station.radio.power_dbm),
            job.station.radio.antenna_gain_dbi, job.station.antenna_height_m,
            job.receiver.antenna_gain_dbi, job.receiver_height_m, job.receiver.threshold_dbm,
            propagation::method_info(job.settings.method).name);
        drawing.marks = {{job.station.position, job.station.name, true}};
        report::write_map_picture(picture, raster, ground, drawing);
    }
    progress.end();

    std::vector<std::string> notes = job.warnings;
    notes.insert(notes.end(), layers.notes().begin(), layers.notes().end());
    if (std::string note = coverage_note(source.georeference(), source.info().columns,
                                         source.info().rows, job.station.position, job.range_m);
        !note.empty()) {
        notes.push_back(std::move(note));
    }
    if (heights.filled_cells > 0) {
        notes.push_back(fmt::format("{} void cells of the elevation were filled by interpolation",
                                    heights.filled_cells));
    }
    if (result.cells_off_terrain + result.cells_behind_void > 0 && heights.void_cells > 0) {
        notes.push_back(fmt::format("{} cells lie in or behind voids of the elevation and are left "
                                    "blank",
                                    result.cells_off_terrain + result.cells_behind_void));
    }
    if (json) {
        const nlohmann::ordered_json document = {{"output", output},
                                                 {"columns", map.columns},
                                                 {"rows", map.rows},
                                                 {"crs", map.georeference.crs_label()},
                                                 {"cells_predicted", result.cells_predicted},
                                                 {"cells_off_terrain", result.cells_off_terrain},
                                                 {"cells_behind_void", result.cells_behind_void},
                                                 {"predicted_km2", summary.predicted_km2},
                                                 {"heard_km2", summary.heard_km2},
                                                 {"engine", job.engine},
                                                 {"sweep_seconds", took.count()},
                                                 {"notes", notes},
                                                 {"cautions", report::cautions()}};
        fmt::print("{}\n", document.dump(2));
        return;
    }
    fmt::print("{} is heard in {:.1f} km2 of {:.1f} km2 within {} ({:.0f} %).\n", job.station.name,
               summary.heard_km2, summary.predicted_km2, geo::format_distance(job.range_m),
               100.0 * summary.heard_km2 / summary.predicted_km2);
    for (const std::string& note : notes) {
        fmt::print("Note: {}.\n", note);
    }
    fmt::print("Wrote {} ({} x {} cells, {}) after {:.1f} s of prediction.\n", output, map.columns,
               map.rows, map.georeference.crs_label(), took.count());
    if (!picture.empty()) {
        fmt::print("Wrote {}.\n", picture);
    }
    fmt::print("{}\n", report::cautions());
}

} // namespace

void add_map_command(CLI::App& app) {
    auto command = std::make_shared<MapCommand>();
    CLI::App* sub = app.add_subcommand(
        "map", "Map where a station is heard: a GeoTIFF of the margin in dB, and a picture of it");
    sub->add_option("--at", command->at, "Position of the station, for example 36.6,-84.2")
        ->required()
        ->type_name("POSITION");
    sub->add_option("--name", command->name, "Name of the station")
        ->capture_default_str()
        ->type_name("TEXT");
    sub->add_option("--out", command->output, "The map to write, a GeoTIFF")
        ->required()
        ->type_name("FILE.tif");
    sub->add_option("--picture", command->picture, "Draw the map over shaded relief as well")
        ->type_name("FILE.png");
    command->terrain.add_to(*sub);
    sub->add_option("--range", command->range,
                    "How far from the station to map, for example 15km or 10mi")
        ->capture_default_str()
        ->type_name("LENGTH");
    sub->add_option("--grid", command->grid,
                    "Cells of the map: terrain (those of the elevation, the default) or utm "
                    "(squares in the local UTM zone)")
        ->type_name("NAME");
    sub->add_option("--cell", command->cell, "Side of a cell with --grid utm, for example 30m")
        ->type_name("LENGTH");
    sub->add_option("--bands", command->bands,
                    "Bands to write, in order: margin (dB), chance (of contact, %), readability (0 "
                    "to 5), received (dBm), loss (dB), sight (0 blocked, 1 less than 0.6 F1 clear, "
                    "2 at least 0.6 F1 clear)")
        ->delimiter(',')
        ->capture_default_str()
        ->type_name("BAND,...");
    command->cover.add_to(*sub);
    command->propagation.add_to(*sub);
    sub->add_option(
           "--engine", command->engine,
           "carried (terms carried along radials, fast) or exact (a fresh profile to every "
           "cell, the reference; used in any case for methods and ground cover that the "
           "carried one does not know)")
        ->capture_default_str()
        ->type_name("NAME")
        ->group("Prediction");
    command->noise.add_to(*sub);
    sub->add_option("--step", command->step,
                    "Spacing of profile points; left out, the size of a cell of the elevation")
        ->type_name("LENGTH")
        ->group("Prediction");
    command->at_station.add_to(*sub, "", "the station's", "Station", true);
    command->at_receiver.add_to(*sub, "receiver-", "each receiver's", "Receivers on the map",
                                false);
    sub->add_option("--threads", command->threads, "Processors to use, 1 to 1024")
        ->capture_default_str()
        ->type_name("N");
    sub->add_flag("--json", command->json, "Print the summary as JSON for programs");
    sub->footer(forms_of_values() +
                "Left out, a radio is a 5 W handheld held at 1.5 m with an antenna of 0 dBi and a "
                "receiver that needs -116 dBm.\n\nExample:\n  earshot map --terrain dem-samples/"
                "cumberland_3arcsec.tif --at 36.60,-84.20 --name Ridge \\\n    --frequency 146MHz "
                "--power 5W --antenna-height 20ft --range 15km --out ridge.tif --picture "
                "ridge.png\n\n" +
                report::cautions());
    sub->callback([command] { command->run(); });
}

} // namespace earshot::app
