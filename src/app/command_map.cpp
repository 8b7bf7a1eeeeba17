#include "arguments.hpp"
#include "commands.hpp"
#include "earshot/base/error.hpp"
#include "earshot/base/parallel.hpp"
#include "earshot/geo/position.hpp"
#include "earshot/geo/units.hpp"
#include "earshot/link/quality.hpp"
#include "earshot/report/coverage_geotiff.hpp"
#include "earshot/report/map_picture.hpp"
#include "earshot/report/path_report.hpp"
#include "earshot/sweep/compose.hpp"
#include "earshot/sweep/sweep.hpp"
#include "earshot/terrain/profile.hpp"
#include "scenario_arguments.hpp"
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
#include <optional>
#include <span>

namespace earshot::app {
namespace {

using Metadata = std::vector<std::pair<std::string, std::string>>;

/// A map's inputs.
struct MapJob {
    std::vector<link::Station> stations; ///< at least one
    link::Radio receiver;
    double receiver_height_m = 0.0;
    propagation::PathSettings settings;
    double range_m = 0.0;
    double step_m = 0.0;
    std::string terrain_label;
    std::string cover_label;
    std::string engine;
    std::vector<std::string> warnings;

    [[nodiscard]] const link::Station& first() const { return stations.front(); }
    [[nodiscard]] double received_without_path_dbm() const {
        return link::received_without_path_dbm(first().radio, receiver);
    }
    [[nodiscard]] std::vector<geo::LatLon> sites() const {
        std::vector<geo::LatLon> list;
        for (const link::Station& station : stations) {
            list.push_back(station.position);
        }
        return list;
    }
};

/// What came of the sweeps.
struct MapOutcome {
    std::uint64_t predicted = 0, off_terrain = 0, behind_void = 0;
    double predicted_km2 = 0.0;
    double heard_km2 = 0.0;
    double seconds = 0.0;
};

struct MapCommand {
    CLI::App* command = nullptr; ///< to tell which options are on the command line
    ScenarioArguments scenario;
    TerrainArguments terrain;
    CoverArguments cover;
    PropagationArguments propagation;
    NoiseArguments noise;
    RadioArguments at_station, at_receiver;
    std::vector<std::string> at, names;
    std::string range = "20km", cell, grid, step, output, picture;
    std::string engine = "carried";
    std::vector<std::string> bands{"margin"};
    unsigned threads = default_thread_count();
    bool preview = false;
    bool json = false;

    void run() const;

private:
    void check() const;
    [[nodiscard]] bool utm() const { return grid == "utm" || (grid.empty() && !cell.empty()); }
    [[nodiscard]] MapJob job(const std::optional<plan::Scenario>& sc) const;
    [[nodiscard]] sweep::MapGrid map_grid(const MapJob& job,
                                          const terrain::HeightGrid& ground) const;
    [[nodiscard]] sweep::SweepRequest request(const MapJob& job, const LayersOver& layers) const;
    void report(const MapJob& job, const sweep::MapGrid& map, const MapOutcome& outcome,
                const std::vector<std::string>& notes) const;
};

Metadata metadata_of(const MapJob& job, const std::string& version) {
    const auto number = [](double value) { return fmt::format("{:.10g}", value); };
    // Several stations stand in one value, in order, parted by semicolons.
    const auto per_station = [&job](auto value) {
        std::vector<std::string> list;
        for (const link::Station& station : job.stations) {
            list.push_back(value(station));
        }
        return fmt::format("{}", fmt::join(list, "; "));
    };
    const propagation::MethodInfo& method = propagation::method_info(job.settings.method);
    return {
        {"PROGRAM", "earshot " + version},
        {"CREATED", fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", fmt::gmtime(std::time(nullptr)))},
        {"STATION_NAME", per_station([](const link::Station& s) { return s.name; })},
        {"STATION_LATITUDE", per_station([](const link::Station& s) {
             return fmt::format("{:.8f}", s.position.lat_deg);
         })},
        {"STATION_LONGITUDE", per_station([](const link::Station& s) {
             return fmt::format("{:.8f}", s.position.lon_deg);
         })},
        {"STATION_ANTENNA_HEIGHT_M",
         per_station([&](const link::Station& s) { return number(s.antenna_height_m); })},
        {"STATION_POWER_DBM",
         per_station([&](const link::Station& s) { return number(s.radio.power_dbm); })},
        {"STATION_FEEDER_LOSS_DB",
         per_station([&](const link::Station& s) { return number(s.radio.feeder_loss_db); })},
        {"STATION_ANTENNA_GAIN_DBI",
         per_station([&](const link::Station& s) { return number(s.radio.antenna_gain_dbi); })},
        {"STATION_BODY_LOSS_DB",
         per_station([&](const link::Station& s) { return number(s.radio.body_loss_db); })},
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

/// Turns losses into what is left of a level.
void subtract_from(double level, std::vector<float>& losses) {
    for (float& value : losses) {
        value = static_cast<float>(level - static_cast<double>(value));
    }
}

constexpr const char* readability_band = "readability (0 nothing heard to 5 clear)";

/// Turns margins into readability; what is not known stays so.
void read_margins(std::vector<float>& margins) {
    for (float& value : margins) {
        if (!std::isnan(value)) {
            value = static_cast<float>(link::readability(static_cast<double>(value)).readability);
        }
    }
}

report::MapPicture picture_of(const MapJob& job) {
    report::MapPicture drawing;
    drawing.title =
        job.stations.size() == 1
            ? fmt::format("Where {} is heard", job.first().name)
            : fmt::format("Where one or more of {} stations are heard", job.stations.size());
    drawing.subtitle = fmt::format(
        "{:g} MHz, {} into {:g} dBi at {:.1f} m above ground; receiver {:g} dBi at {:.1f} m, needs "
        "{:.0f} dBm; method {}",
        job.settings.frequency_mhz, geo::format_power(job.first().radio.power_dbm),
        job.first().radio.antenna_gain_dbi, job.first().antenna_height_m,
        job.receiver.antenna_gain_dbi, job.receiver_height_m, job.receiver.threshold_dbm,
        propagation::method_info(job.settings.method).name);
    for (const link::Station& station : job.stations) {
        drawing.marks.push_back({station.position, station.name, true});
    }
    return drawing;
}

constexpr std::array band_names{"margin", "chance", "readability", "received",
                                "loss",   "sight",  "heard",       "serving"};

void check_bands(const std::vector<std::string>& bands, bool several) {
    constexpr std::array of_several{"margin", "readability", "heard", "serving"};
    for (const std::string& band : bands) {
        if (std::ranges::find(band_names, band) == band_names.end()) {
            throw_usage(fmt::format("--bands '{}' is not known; choose from {}", band,
                                    fmt::join(band_names, ", ")));
        }
        const bool common = band == "margin" || band == "readability";
        const bool for_several = std::ranges::find(of_several, band) != of_several.end();
        if (!common && several != for_several) {
            throw_usage(several
                            ? fmt::format("--bands '{}' is for one station; with several choose "
                                          "from {}",
                                          band, fmt::join(of_several, ", "))
                            : fmt::format("--bands '{}' is for several stations; give --at more "
                                          "than once",
                                          band));
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
    near.above_ground_m = {job.first().antenna_height_m, job.receiver_height_m};
    near.radii = propagation::effective_radii(job.settings.p1812.refractivity.delta_n);
    propagation::P1812Inputs inputs = job.settings.p1812;
    inputs.frequency_mhz = job.settings.frequency_mhz;
    return propagation::p1812_loss(near, inputs).location_deviation_db;
}

/// Makes the bands asked for from what the sweep of one station found.
class Bands {
public:
    Bands(const MapJob& job, sweep::SweepResult result)
        : job_(job), result_(std::move(result)), received_dbm_(job.received_without_path_dbm()) {}

    [[nodiscard]] const std::vector<float>& loss_db() const { return result_.loss_db; }

    /// `median` and `seldom` are the losses of 50 and 10 % of the time.
    void set_spread(std::vector<float> median, std::vector<float> seldom) {
        median_loss_db_ = std::move(median);
        seldom_loss_db_ = std::move(seldom);
    }

    /// All bands in order. The losses are given up for the last that needs them: on a large map
    /// there may not be room for them twice.
    [[nodiscard]] std::vector<sweep::Band> make_all(const std::vector<std::string>& names) {
        std::vector<sweep::Band> bands;
        for (std::size_t k = 0; k < names.size(); ++k) {
            bands.push_back(make(names[k], k + 1 == names.size()));
        }
        return bands;
    }

private:
    [[nodiscard]] sweep::Band make(const std::string& name, bool last) {
        if (name == "sight") {
            return {"line of sight (0 blocked, 1 less than 0.6 F1 clear, 2 at least 0.6 F1 clear)",
                    "1", sight_values(result_.sight)};
        }
        std::vector<float> values = last ? std::move(result_.loss_db) : result_.loss_db;
        if (name == "loss") {
            return {"path loss", "dB", std::move(values)};
        }
        if (name == "received") {
            subtract_from(received_dbm_, values);
            return {"received power", "dBm", std::move(values)};
        }
        subtract_from(received_dbm_ - job_.receiver.threshold_dbm, values);
        if (name == "chance") {
            return {"chance of contact", "%",
                    chance_values(values, median_loss_db_, seldom_loss_db_,
                                  place_deviation_db(job_), job_.settings.prediction_deviation_db)};
        }
        if (name == "readability") {
            read_margins(values);
            return {readability_band, "1", std::move(values)};
        }
        return {"margin", "dB", std::move(values)};
    }

    const MapJob& job_;
    sweep::SweepResult result_;
    double received_dbm_;
    std::vector<float> median_loss_db_, seldom_loss_db_;
};

/// Bands of a map of several stations.
std::vector<sweep::Band> bands_of(const sweep::Composition& composition,
                                  const std::vector<std::string>& names) {
    std::vector<sweep::Band> bands;
    for (const std::string& name : names) {
        if (name == "heard") {
            bands.push_back({"number of stations heard", "1", composition.sites_heard()});
        } else if (name == "serving") {
            bands.push_back(
                {"station heard best (number in order, 0 none)", "1", composition.serving_site()});
        } else {
            std::vector<float> values = composition.best_margin_db();
            if (name == "readability") {
                read_margins(values);
                bands.push_back({readability_band, "1", std::move(values)});
            } else {
                bands.push_back({"margin", "dB", std::move(values)});
            }
        }
    }
    return bands;
}

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

/// Ground area that margins speak of, and of that the part with 0 dB or more, in km2.
void measure_areas(std::span<const float> margin_db, const sweep::MapGrid& map, geo::LatLon site,
                   MapOutcome& outcome) {
    std::size_t known = 0;
    std::size_t heard = 0;
    for (const float margin : margin_db) {
        known += std::isnan(margin) ? 0U : 1U;
        heard += margin >= 0.0F ? 1U : 0U;
    }
    const auto size = map.georeference.cell_size_at(site);
    const double cell_km2 = size.across_m * size.down_m / 1e6;
    outcome.predicted_km2 = static_cast<double>(known) * cell_km2;
    outcome.heard_km2 = static_cast<double>(heard) * cell_km2;
}

void MapCommand::check() const {
    const bool several = at.size() > 1;
    check_bands(bands, several);
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
    if (!grid.empty() && grid != "terrain" && grid != "utm") {
        throw_usage(fmt::format("--grid '{}' is not known; use terrain or utm", grid));
    }
    if (!utm() && !cell.empty()) {
        throw_usage("--cell goes with --grid utm; on the terrain's own grid the cells are those of "
                    "the elevation");
    }
    if (engine != "carried" && engine != "exact") {
        throw_usage(fmt::format("--engine '{}' is not known; use carried or exact", engine));
    }
}

MapJob MapCommand::job(const std::optional<plan::Scenario>& sc) const {
    MapJob job;
    for (std::size_t k = 0; k < at.size(); ++k) {
        const std::string fallback = at.size() == 1 ? "station" : fmt::format("station {}", k + 1);
        job.stations.push_back(
            station_meant(sc, "--at", at[k], k < names.size() ? names[k] : fallback));
    }
    job.settings = settings_over(sc, propagation, *command, job.first().position);
    const double frequency_mhz = job.settings.frequency_mhz;
    for (link::Station& station : job.stations) {
        station.radio = at_station.radio(station.radio, frequency_mhz);
        station.antenna_height_m = at_station.height_m(station.antenna_height_m);
    }
    const link::Station listener =
        sc ? sc->listener : link::Station{"", {}, default_antenna_height_m, {}};
    job.receiver = at_receiver.radio(listener.radio, frequency_mhz);
    apply_noise_over(noise, *command, frequency_mhz, job.receiver);
    job.receiver_height_m = at_receiver.height_m(listener.antenna_height_m);
    job.range_m = geo::parse_length_m(range, "--range");
    job.warnings = propagation::validity_warnings(job.settings, job.first().antenna_height_m,
                                                  job.receiver_height_m);
    if (job.range_m <= 0.0 || job.range_m > 1e6) {
        throw_usage(
            fmt::format("--range '{}' must be more than nothing and at most 1000 km", range));
    }
    return job;
}

sweep::MapGrid MapCommand::map_grid(const MapJob& job, const terrain::HeightGrid& ground) const {
    const std::vector<geo::LatLon> sites = job.sites();
    if (!utm()) {
        return sweep::terrain_map_grid(ground, sites, job.range_m);
    }
    const double cell_m = cell.empty() ? std::round(terrain::natural_step_m(ground, sites.front()))
                                       : geo::parse_length_m(cell, "--cell");
    if (!(cell_m > 0.0)) {
        throw_usage(fmt::format("--cell '{}' must be longer than nothing", cell));
    }
    if (cell_m > job.range_m) {
        throw_usage(fmt::format("--cell '{}' is larger than the range of {}; choose smaller cells",
                                cell, geo::format_distance(job.range_m)));
    }
    return sweep::utm_map_grid(sites, job.range_m, cell_m);
}

sweep::SweepRequest MapCommand::request(const MapJob& job, const LayersOver& layers) const {
    sweep::SweepRequest request;
    request.receiver_antenna_m = job.receiver_height_m;
    request.range_m = job.range_m;
    request.step_m = job.step_m;
    request.settings = job.settings;
    request.threads = threads;
    request.layers = layers.view();
    request.engine = engine == "exact" ? sweep::Engine::exact : sweep::Engine::carried;
    request.with_sight = std::ranges::find(bands, "sight") != bands.end();
    if (preview) {
        request.radials_per_rim_cell = 0.5;
    }
    return request;
}

void MapCommand::run() const {
    check();
    const std::optional<plan::Scenario> sc = scenario.read();
    MapJob job = this->job(sc);
    TerminalProgress progress;
    const terrain::TerrainSource source = open_over(sc, terrain);
    std::vector<std::string> inputs = inputs_over(sc, terrain, cover);
    inputs.insert(inputs.end(), source.info().files.begin(), source.info().files.end());
    check_outputs({output, picture}, inputs);
    if (!picture.empty() && !picture.ends_with(".png")) {
        throw_usage(fmt::format("--picture '{}' must end in .png", picture));
    }
    double farthest_m = 0.0;
    for (const link::Station& station : job.stations) {
        farthest_m = std::max(
            farthest_m, geo::geodesic_between(job.first().position, station.position).distance_m);
    }
    terrain::HeightSummary heights;
    std::optional<terrain::HeightGrid> ground =
        source.load_around(job.first().position, farthest_m + job.range_m, &heights, &progress);
    const LayersOver layers(sc, cover, *ground, &progress);
    job.cover_label = layers.label();
    job.step_m = step_over(sc, step, *ground, job.first().position, job.range_m);
    job.terrain_label = fmt::format(
        "{}{}; {} x {} cells, {}", source.info().files.front(),
        source.info().files.size() > 1 ? fmt::format(" and {} more", source.info().files.size() - 1)
                                       : "",
        source.info().columns, source.info().rows, source.info().crs_label);
    const sweep::MapGrid map = map_grid(job, *ground);

    MapOutcome outcome;
    sweep::SweepRequest sweep_request = request(job, layers);
    const auto sweep_from = [&](const link::Station& station, double time_percent) {
        sweep_request.site = station.position;
        sweep_request.site_antenna_m = station.antenna_height_m;
        sweep_request.settings.p1812.time_percent = time_percent;
        sweep::SweepResult result = sweep::sweep(*ground, map, sweep_request, &progress);
        job.engine = result.engine == sweep::Engine::exact ? "exact" : "carried";
        return result;
    };
    const auto count = [&outcome](const sweep::SweepResult& result) {
        outcome.predicted += result.cells_predicted;
        outcome.off_terrain += result.cells_off_terrain;
        outcome.behind_void += result.cells_behind_void;
    };
    const double margin_without_path_db =
        job.received_without_path_dbm() - job.receiver.threshold_dbm;
    const double time_percent = job.settings.p1812.time_percent;
    const auto started = std::chrono::steady_clock::now();

    sweep::CoverageRaster raster;
    if (job.stations.size() == 1) {
        sweep::SweepResult result = sweep_from(job.first(), time_percent);
        count(result);
        Bands maker(job, std::move(result));
        if (std::ranges::find(bands, "chance") != bands.end()) {
            // Only the standard's own method knows of time.
            const bool timed = job.settings.method == propagation::Method::p1812;
            maker.set_spread(timed && time_percent != 50.0 ? sweep_from(job.first(), 50.0).loss_db
                                                           : maker.loss_db(),
                             timed ? sweep_from(job.first(), 10.0).loss_db : maker.loss_db());
        }
        const float most_loss_db = static_cast<float>(margin_without_path_db);
        const auto heard = std::ranges::count_if(maker.loss_db(),
                                                 [&](float loss) { return loss <= most_loss_db; });
        const auto size = map.georeference.cell_size_at(job.first().position);
        const double cell_km2 = size.across_m * size.down_m / 1e6;
        outcome.predicted_km2 = static_cast<double>(outcome.predicted) * cell_km2;
        outcome.heard_km2 = static_cast<double>(heard) * cell_km2;
        raster.bands = maker.make_all(bands);
    } else {
        sweep::Composition composition(static_cast<std::size_t>(map.columns) *
                                       static_cast<std::size_t>(map.rows));
        for (const link::Station& station : job.stations) {
            sweep::SweepResult result = sweep_from(station, time_percent);
            count(result);
            subtract_from(link::received_without_path_dbm(station.radio, job.receiver) -
                              job.receiver.threshold_dbm,
                          result.loss_db);
            composition.add(result.loss_db);
        }
        measure_areas(composition.best_margin_db(), map, job.first().position, outcome);
        raster.bands = bands_of(composition, bands);
    }
    const std::chrono::duration<double> took = std::chrono::steady_clock::now() - started;
    outcome.seconds = took.count();
    if (outcome.predicted == 0) {
        throw_input("no cell of the map could be predicted: the elevation holds no ground within "
                    "the range; give elevation that covers it");
    }

    raster.columns = map.columns;
    raster.rows = map.rows;
    raster.georeference = map.georeference;
    raster.metadata = metadata_of(job, EARSHOT_VERSION);
    if (picture.empty()) {
        ground.reset(); // the writer may want the memory
    }
    report::write_coverage_geotiff(output, raster, &progress);
    if (!picture.empty()) {
        report::write_map_picture(picture, raster, *ground, picture_of(job));
    }
    progress.end();

    std::vector<std::string> notes = job.warnings;
    notes.insert(notes.end(), layers.notes().begin(), layers.notes().end());
    if (sc) {
        notes.insert(notes.begin(), sc->notes.begin(), sc->notes.end());
    }
    for (const link::Station& station : job.stations) {
        if (std::string note = coverage_note(source.georeference(), source.info().columns,
                                             source.info().rows, station.position, job.range_m);
            !note.empty()) {
            notes.push_back(job.stations.size() == 1 ? note : station.name + ": " + note);
        }
    }
    if (heights.filled_cells > 0) {
        notes.push_back(fmt::format("{} void cells of the elevation were filled by interpolation",
                                    heights.filled_cells));
    }
    if (outcome.off_terrain + outcome.behind_void > 0 && heights.void_cells > 0) {
        notes.push_back(fmt::format("{} cells lie in or behind voids of the elevation and are left "
                                    "blank",
                                    outcome.off_terrain + outcome.behind_void));
    }
    if (preview) {
        notes.emplace_back("this is a preview: fewer radials than the ground asks for");
    }
    report(job, map, outcome, notes);
}

void MapCommand::report(const MapJob& job, const sweep::MapGrid& map, const MapOutcome& outcome,
                        const std::vector<std::string>& notes) const {
    if (json) {
        const nlohmann::ordered_json document = {{"output", output},
                                                 {"columns", map.columns},
                                                 {"rows", map.rows},
                                                 {"crs", map.georeference.crs_label()},
                                                 {"stations", job.stations.size()},
                                                 {"cells_predicted", outcome.predicted},
                                                 {"cells_off_terrain", outcome.off_terrain},
                                                 {"cells_behind_void", outcome.behind_void},
                                                 {"predicted_km2", outcome.predicted_km2},
                                                 {"heard_km2", outcome.heard_km2},
                                                 {"engine", job.engine},
                                                 {"sweep_seconds", outcome.seconds},
                                                 {"notes", notes},
                                                 {"cautions", report::cautions()}};
        fmt::print("{}\n", document.dump(2));
        return;
    }
    const bool one = job.stations.size() == 1;
    fmt::print("{} is heard in {:.1f} km2 of {:.1f} km2 within {} ({:.0f} %).\n",
               one ? job.first().name
                   : fmt::format("One or more of {} stations", job.stations.size()),
               outcome.heard_km2, outcome.predicted_km2, geo::format_distance(job.range_m),
               100.0 * outcome.heard_km2 / outcome.predicted_km2);
    for (const std::string& note : notes) {
        fmt::print("Note: {}.\n", note);
    }
    fmt::print("Wrote {} ({} x {} cells, {}) after {:.1f} s of prediction.\n", output, map.columns,
               map.rows, map.georeference.crs_label(), outcome.seconds);
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
    sub->add_option(
           "--at", command->at,
           "The station: a position, for example 36.6,-84.2, or a name in the scenario; given "
           "several times, the map "
           "shows the best of several stations")
        ->required()
        ->expected(1)
        ->multi_option_policy(CLI::MultiOptionPolicy::TakeAll)
        ->type_name("POSITION");
    sub->add_option("--name", command->names, "Name of the station, one for each position")
        ->expected(1)
        ->multi_option_policy(CLI::MultiOptionPolicy::TakeAll)
        ->type_name("TEXT");
    sub->add_option("--out", command->output, "The map to write, a GeoTIFF")
        ->required()
        ->type_name("FILE.tif");
    sub->add_option("--picture", command->picture, "Draw the map over shaded relief as well")
        ->type_name("FILE.png");
    command->command = sub;
    command->scenario.add_to(*sub);
    command->terrain.add_to(*sub, false);
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
    sub->add_option(
           "--bands", command->bands,
           "Bands to write, in order: margin (dB), chance (of contact, %), readability (0 "
           "to 5), received (dBm), loss (dB), sight (0 blocked, 1 less than 0.6 F1 clear, "
           "2 at least 0.6 F1 clear); of several stations heard (how many are) and serving "
           "(which best). Plain margin is right for most")
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
    sub->add_flag("--preview", command->preview,
                  "Fewer radials than the ground asks for: a quick look");
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
