#include "app/coverage_run.hpp"

#include "coverage/compose.hpp"
#include "earshot/base/error.hpp"
#include "earshot/geo/position.hpp"
#include "geo/units.hpp"
#include "link/quality.hpp"
#include "propagation/p1812.hpp"
#include "report/say/phrases.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <ctime>
#include <limits>
#include <optional>
#include <span>
#include <string_view>
#include <utility>

namespace earshot::app {
namespace {

using Metadata = std::vector<std::pair<std::string, std::string>>;

Metadata metadata_of(const CoverageJob& job, coverage::Engine engine) {
    const auto number = [](double value) { return fmt::format("{:.10g}", value); };
    // Several stations stand in one value, in order, parted by semicolons.
    const auto per_station = [&job](auto value) {
        std::vector<std::string> list;
        for (const link::Station& station : job.stations) {
            list.push_back(value(station));
        }
        return fmt::format("{}", fmt::join(list, "; "));
    };
    const propagation::MethodInfo& method = propagation::method_info(job.conditions.method);
    return {
        {"PROGRAM", std::string("earshot ") + EARSHOT_VERSION},
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
        {"FREQUENCY_MHZ", number(job.conditions.frequency_mhz)},
        {"METHOD", std::string(method.name)},
        {"METHOD_SOURCE", std::string(method.source)},
        {"KNIFE_EDGE",
         job.conditions.knife_edge == propagation::KnifeEdgeForm::exact ? "exact" : "itu"},
        {"EFFECTIVE_RADIUS_KM", number(propagation::radius_km(job.conditions))},
        {"TIME_PERCENT", number(job.conditions.time_percent)},
        {"PLACES_PERCENT", number(job.conditions.location_percent)},
        {"POLARIZATION", job.conditions.polarization == propagation::Polarization::vertical
                             ? "vertical"
                             : "horizontal"},
        {"INDOORS", job.conditions.building_entry ? "yes" : "no"},
        {"DELTA_N", number(job.conditions.refractivity.delta_n)},
        {"N0", number(job.conditions.refractivity.n0)},
        {"RANGE_M", number(job.range_m)},
        {"PROFILE_STEP_M", number(job.step_m)},
        {"ENGINE", std::string(name_of(engine))},
        {"TERRAIN", job.terrain_label},
        {"GROUND_COVER", job.cover_label},
        {"WARNINGS",
         job.warnings.empty() ? "none" : fmt::format("{}", fmt::join(job.warnings, "; "))},
        {"FIELD_CORRECTION", job.correction.empty() ? "none" : job.correction},
        {"CAUTION", report::cautions()},
    };
}

std::vector<float> sight_values(const std::vector<coverage::SightClass>& sight) {
    std::vector<float> values(sight.size());
    std::ranges::transform(sight, values.begin(), [](coverage::SightClass value) {
        return value == coverage::SightClass::unknown ? std::numeric_limits<float>::quiet_NaN()
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

constexpr const char* chance_band = "chance of contact";
constexpr const char* readability_band = "readability (0 nothing heard to 5 clear)";

/// Turns margins into readability; what is not known stays so.
void read_margins(std::vector<float>& margins) {
    for (float& value : margins) {
        if (!std::isnan(value)) {
            value = static_cast<float>(link::readability(static_cast<double>(value)).readability);
        }
    }
}

constexpr std::array band_names{"margin", "chance", "readability", "received",
                                "loss",   "sight",  "heard",       "serving"};

/// Deviation of the loss among places around a receiver in each cell: it hangs on the cover there.
class PlaceDeviations {
public:
    PlaceDeviations(const CoverageJob& job, const coverage::MapGrid& map)
        : job_(job), map_(map), bare_db_(deviation_db(0.0, false)) {}

    [[nodiscard]] double at_db(std::size_t cell) const {
        if (job_.layers.cover == nullptr && job_.layers.zones == nullptr) {
            return bare_db_;
        }
        const auto columns = static_cast<std::size_t>(map_.columns);
        const terrain::CellPosition here =
            job_.ground->georeference.cell_of(map_.georeference.position_of(
                {static_cast<double>(cell % columns), static_cast<double>(cell / columns)}));
        const bool at_sea =
            job_.layers.zones != nullptr &&
            job_.layers.zones->at(here).code == static_cast<int>(propagation::Zone::sea);
        return deviation_db(
            job_.layers.cover != nullptr ? job_.layers.cover->at(here).height_m : 0.0, at_sea);
    }

private:
    [[nodiscard]] double deviation_db(double cover_m, bool at_sea) const {
        return link::place_deviation_db(job_.conditions, job_.receiver_height_m, cover_m, at_sea);
    }

    const CoverageJob& job_;
    const coverage::MapGrid& map_;
    double bare_db_;
};

/// Makes the bands asked for from what the sweep of one station found.
class Bands {
public:
    Bands(const CoverageJob& job, coverage::SweepResult result)
        : job_(job), result_(std::move(result)),
          received_dbm_(link::received_without_path_dbm(job.first().radio, job.receiver)) {}

    [[nodiscard]] const std::vector<float>& loss_db() const { return result_.loss_db; }

    void set_chance(std::vector<float> chance_percent) {
        chance_percent_ = std::move(chance_percent);
    }

    /// All bands in order. The losses are given up for the last that needs them: on a large map
    /// there may not be room for them twice.
    [[nodiscard]] std::vector<coverage::Band> make_all(const std::vector<std::string>& names) {
        std::vector<coverage::Band> bands;
        for (std::size_t k = 0; k < names.size(); ++k) {
            bands.push_back(make(names[k], k + 1 == names.size()));
        }
        return bands;
    }

private:
    [[nodiscard]] coverage::Band make(const std::string& name, bool last) {
        if (name == "sight") {
            return {"line of sight (0 blocked, 1 less than 0.6 F1 clear, 2 at least 0.6 F1 clear)",
                    "1", sight_values(result_.sight)};
        }
        if (name == "chance") {
            return {chance_band, "%", std::move(chance_percent_)};
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
        if (name == "readability") {
            read_margins(values);
            return {readability_band, "1", std::move(values)};
        }
        return {"margin", "dB", std::move(values)};
    }

    const CoverageJob& job_;
    coverage::SweepResult result_;
    double received_dbm_;
    std::vector<float> chance_percent_;
};

/// Bands of a map of several stations.
std::vector<coverage::Band> bands_of(const coverage::Composition& composition,
                                     std::vector<float> chance_percent,
                                     const std::vector<std::string>& names) {
    std::vector<coverage::Band> bands;
    for (const std::string& name : names) {
        if (name == "chance") {
            bands.push_back({chance_band, "%", std::exchange(chance_percent, {})});
        } else if (name == "heard") {
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

/// Where the elevation ends before the range does.
struct ShortGround {
    double share_percent = 0.0; ///< of directions
    double nearest_m = 0.0;
    double nearest_bearing_deg = 0.0;
};

ShortGround short_ground(const terrain::TerrainSource& source, geo::LatLon site, double range_m) {
    constexpr int directions = 72;
    constexpr int rings = 50;
    const auto beyond = [&](geo::LatLon position) {
        const terrain::CellPosition cell = source.georeference().cell_of(position);
        return cell.column < -0.5 || cell.row < -0.5 || cell.column > source.info().columns - 0.5 ||
               cell.row > source.info().rows - 0.5;
    };
    ShortGround found{0.0, range_m, 0.0};
    for (int k = 0; k < directions; ++k) {
        const double bearing_deg = 360.0 * k / directions;
        const geo::GeodesicLine line(site, bearing_deg);
        for (int ring = 1; ring <= rings; ++ring) {
            const double distance_m = range_m * ring / rings;
            if (beyond(line.at(distance_m))) {
                found.share_percent += 100.0 / directions;
                if (distance_m < found.nearest_m) {
                    found.nearest_m = distance_m;
                    found.nearest_bearing_deg = bearing_deg;
                }
                break;
            }
        }
    }
    return found;
}

/// Says where the elevation ends before the range does; empty if nowhere.
std::string short_ground_note(const CoverageJob& job, const terrain::TerrainSource& source) {
    std::vector<std::string> stations;
    ShortGround last;
    for (const link::Station& station : job.stations) {
        const ShortGround found = short_ground(source, station.position, job.range_m);
        if (found.share_percent > 0.0) {
            stations.push_back(
                fmt::format("{} ({:.0f} % of directions)", station.name, found.share_percent));
            last = found;
        }
    }
    if (stations.empty()) {
        return {};
    }
    if (job.stations.size() == 1) {
        return fmt::format(
            "the elevation ends before the range of {} in {:.0f} % of directions "
            "(nearest about {} away, bearing {:.0f} deg); the map is blank beyond it",
            geo::format_distance(job.range_m), last.share_percent,
            geo::format_distance(last.nearest_m), last.nearest_bearing_deg);
    }
    return fmt::format("the elevation ends before the range of {} around {}; the map is blank "
                       "beyond it",
                       geo::format_distance(job.range_m), fmt::join(stations, ", "));
}

/// Sums the area of the cells whose margin is known, and of those of 0 dB or more.
/// `margin_of(value)` makes the margin of a cell's value.
template <typename MarginOf>
void measure_areas(std::span<const float> values, const MarginOf& margin_of,
                   const coverage::MapGrid& map, CoverageOutcome& outcome) {
    const auto columns = static_cast<std::size_t>(map.columns);
    for (int row = 0; row < map.rows; ++row) {
        std::size_t known = 0;
        std::size_t heard = 0;
        for (const float value : values.subspan(static_cast<std::size_t>(row) * columns, columns)) {
            const double margin_db = margin_of(value);
            known += std::isnan(margin_db) ? 0U : 1U;
            heard += margin_db >= 0.0 ? 1U : 0U;
        }
        if (known > 0) {
            // Cells in degrees are narrower the farther they lie from the equator.
            const auto size = map.georeference.cell_size_at(
                map.georeference.position_of({map.columns / 2.0, static_cast<double>(row)}));
            const double cell_km2 = size.across_m * size.down_m / 1e6;
            outcome.predicted_km2 += static_cast<double>(known) * cell_km2;
            outcome.heard_km2 += static_cast<double>(heard) * cell_km2;
        }
    }
}

/// The sweeps of one map.
class Sweeps {
public:
    Sweeps(const coverage::MapGrid& map, const CoverageJob& job, CoverageOutcome& outcome,
           Task& task)
        : map_(map), outcome_(outcome), task_(task),
          request_(link::made_in<coverage::SweepRequest>(job)) {
        request_.receiver_antenna_m = job.receiver_height_m;
        request_.range_m = job.range_m;
        request_.engine = job.engine;
        request_.radials_per_rim_cell = job.radials_per_rim_cell;
        request_.with_sight = std::ranges::find(job.bands, "sight") != job.bands.end();
    }

    [[nodiscard]] coverage::SweepResult from(const link::Station& station, double time_percent,
                                             double location_percent) {
        request_.site = station.position;
        request_.site_antenna_m = station.antenna_height_m;
        request_.conditions.time_percent = time_percent;
        request_.conditions.location_percent = location_percent;
        coverage::SweepResult result = coverage::sweep(map_, request_, task_);
        outcome_.engine = result.engine;
        return result;
    }
    /// The same as the job asks for it, its cells counted.
    [[nodiscard]] coverage::SweepResult counted_from(const CoverageJob& job,
                                                     const link::Station& station) {
        coverage::SweepResult result =
            from(station, job.conditions.time_percent, job.conditions.location_percent);
        outcome_.predicted += result.cells_predicted;
        outcome_.off_terrain += result.cells_off_terrain;
        outcome_.behind_void += result.cells_behind_void;
        return result;
    }

private:
    const coverage::MapGrid& map_;
    CoverageOutcome& outcome_;
    Task& task_;
    coverage::SweepRequest request_;
};

double margin_without_path_db(const CoverageJob& job, const link::Station& station) {
    return link::received_without_path_dbm(station.radio, job.receiver) -
           job.receiver.threshold_dbm;
}

bool wants_chance(const CoverageJob& job) {
    return std::ranges::find(job.bands, "chance") != job.bands.end();
}

/// Chance of contact with a station in each cell, as link::PathPredictor has it for a path: from
/// the losses of half of the time and places, whatever the job asks for.
std::vector<float> chance_of(const CoverageJob& job, const coverage::MapGrid& map, Sweeps& sweeps,
                             const link::Station& station, const std::vector<float>& loss_db) {
    // Only the standard's own method knows of time and places.
    const bool timed = job.conditions.method == propagation::Method::p1812;
    const bool median =
        job.conditions.time_percent == 50.0 && job.conditions.location_percent == 50.0;
    const std::vector<float> often_db =
        timed && !median ? sweeps.from(station, 50.0, 50.0).loss_db : loss_db;
    const std::vector<float> seldom_db = timed ? sweeps.from(station, 10.0, 50.0).loss_db : loss_db;
    const double without_path_db = margin_without_path_db(job, station);
    const PlaceDeviations places(job, map);
    std::vector<float> values(often_db.size(), std::numeric_limits<float>::quiet_NaN());
    for (std::size_t i = 0; i < values.size(); ++i) {
        const auto loss = static_cast<double>(often_db[i]);
        const auto seldom = static_cast<double>(seldom_db[i]);
        if (!std::isnan(loss) && !std::isnan(seldom)) {
            values[i] = static_cast<float>(link::chance_percent(
                without_path_db - loss,
                link::deviation_db(job.conditions, places.at_db(i), loss, seldom)));
        }
    }
    return values;
}

/// Keeps the greater of two values that are known.
void keep_best(std::vector<float>& best, const std::vector<float>& values) {
    for (std::size_t i = 0; i < best.size(); ++i) {
        best[i] = std::fmax(best[i], values[i]);
    }
}

std::vector<coverage::Band> bands_of_one(const CoverageJob& job, const coverage::MapGrid& map,
                                         Sweeps& sweeps, CoverageOutcome& outcome) {
    Bands maker(job, sweeps.counted_from(job, job.first()));
    if (wants_chance(job)) {
        maker.set_chance(chance_of(job, map, sweeps, job.first(), maker.loss_db()));
    }
    const double without_path_db = margin_without_path_db(job, job.first());
    measure_areas(
        maker.loss_db(),
        [&](float loss_db) { return without_path_db - static_cast<double>(loss_db); }, map,
        outcome);
    return maker.make_all(job.bands);
}

std::vector<coverage::Band> bands_of_several(const CoverageJob& job, const coverage::MapGrid& map,
                                             Sweeps& sweeps, CoverageOutcome& outcome) {
    const std::size_t cells =
        static_cast<std::size_t>(map.columns) * static_cast<std::size_t>(map.rows);
    coverage::Composition composition(cells);
    std::vector<float> chance_percent;
    if (wants_chance(job)) {
        chance_percent.assign(cells, std::numeric_limits<float>::quiet_NaN());
    }
    for (const link::Station& station : job.stations) {
        coverage::SweepResult result = sweeps.counted_from(job, station);
        if (wants_chance(job)) {
            keep_best(chance_percent, chance_of(job, map, sweeps, station, result.loss_db));
        }
        subtract_from(margin_without_path_db(job, station), result.loss_db);
        composition.add(result.loss_db);
    }
    measure_areas(
        composition.best_margin_db(),
        [](float margin_db) { return static_cast<double>(margin_db); }, map, outcome);
    return bands_of(composition, std::move(chance_percent), job.bands);
}

} // namespace

std::vector<geo::LatLon> CoverageJob::sites() const {
    std::vector<geo::LatLon> list;
    for (const link::Station& station : stations) {
        list.push_back(station.position);
    }
    return list;
}

double CoverageJob::reach_m() const {
    double farthest_m = 0.0;
    for (const link::Station& station : stations) {
        farthest_m = std::max(farthest_m,
                              geo::geodesic_between(first().position, station.position).distance_m);
    }
    return farthest_m + range_m;
}

void GridArguments::add_to(const Options& options) {
    options.add("--grid", grid,
                "Cells of the map: terrain (those of the elevation, the default) or utm (squares "
                "in the local UTM zone)",
                "NAME");
    options.add("--cell", cell, "Side of a cell with --grid utm, for example 30m", "LENGTH");
}

void GridArguments::check() const {
    if (!grid.empty() && grid != "terrain" && grid != "utm") {
        throw_usage(fmt::format("--grid '{}' is not known; use terrain or utm", grid));
    }
    if (!utm() && !cell.empty()) {
        throw_usage("--cell goes with --grid utm; on the terrain's own grid the cells are those of "
                    "the elevation");
    }
}

coverage::MapGrid GridArguments::make(const CoverageJob& job) const {
    const terrain::HeightGrid& ground = *job.ground;
    const std::vector<geo::LatLon> sites = job.sites();
    if (!utm()) {
        return coverage::terrain_map_grid(ground, sites, job.range_m);
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
    return coverage::utm_map_grid(sites, job.range_m, cell_m);
}

std::string_view name_of(coverage::Engine engine) {
    return engine == coverage::Engine::exact ? "exact" : "carried";
}

void check_bands(const std::vector<std::string>& bands, bool several_stations) {
    constexpr std::array of_several{"margin", "chance", "readability", "heard", "serving"};
    for (const std::string& band : bands) {
        if (std::ranges::find(band_names, band) == band_names.end()) {
            throw_usage(fmt::format("--bands '{}' is not known; choose from {}", band,
                                    fmt::join(band_names, ", ")));
        }
        const bool common = band == "margin" || band == "chance" || band == "readability";
        const bool for_several = std::ranges::find(of_several, band) != of_several.end();
        if (!common && several_stations != for_several) {
            throw_usage(several_stations
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

std::string terrain_label_of(const terrain::TerrainInfo& info) {
    return fmt::format("{}{}; {} x {} cells, {}", info.files.front(),
                       info.files.size() > 1 ? fmt::format(" and {} more", info.files.size() - 1)
                                             : "",
                       info.columns, info.rows, info.crs_label);
}

coverage::CoverageRaster run_coverage(const coverage::MapGrid& map, const CoverageJob& job,
                                      CoverageOutcome& outcome, Task& task) {
    const auto started = std::chrono::steady_clock::now();
    Sweeps sweeps(map, job, outcome, task);
    coverage::CoverageRaster raster;
    raster.bands = job.stations.size() == 1 ? bands_of_one(job, map, sweeps, outcome)
                                            : bands_of_several(job, map, sweeps, outcome);
    const std::chrono::duration<double> took = std::chrono::steady_clock::now() - started;
    outcome.seconds = took.count();
    if (outcome.predicted == 0) {
        throw_input("no cell of the map could be predicted: the elevation holds no ground within "
                    "the range; give elevation that covers it");
    }
    raster.columns = map.columns;
    raster.rows = map.rows;
    raster.georeference = map.georeference;
    raster.metadata = metadata_of(job, outcome.engine);
    return raster;
}

std::vector<std::string> coverage_notes(const CoverageJob& job,
                                        const terrain::TerrainSource& source,
                                        const terrain::HeightSummary& heights,
                                        const CoverageOutcome& outcome) {
    std::vector<std::string> notes = job.warnings;
    if (std::string note = short_ground_note(job, source); !note.empty()) {
        notes.push_back(std::move(note));
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
    return notes;
}

} // namespace earshot::app
