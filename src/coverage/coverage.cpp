#include "earshot/coverage/coverage.hpp"

#include "base/parallel.hpp"
#include "coverage/areas.hpp"
#include "coverage/chance.hpp"
#include "coverage/compose.hpp"
#include "coverage/doubt.hpp"
#include "earshot/base/error.hpp"
#include "earshot/coverage/map_grid.hpp"
#include "earshot/geo/geodesic.hpp"
#include "geo/units.hpp"
#include "link/quality.hpp"
#include "propagation/second_opinion.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <limits>
#include <span>

namespace earshot::coverage {
namespace {

MapGrid grid_of(const Job& job) {
    std::vector<geo::LatLon> sites;
    for (const link::Station& station : job.stations) {
        sites.push_back(station.position);
    }
    if (!job.grid.utm) {
        return terrain_map_grid(*job.ground, sites, job.range_m);
    }
    const double cell_m = job.grid.cell_m > 0.0
                              ? job.grid.cell_m
                              : std::round(terrain::natural_step_m(*job.ground, sites.front()));
    if (cell_m > job.range_m) {
        throw_usage(fmt::format("cells of {:g} m are larger than the range of {}; choose smaller "
                                "cells",
                                cell_m, geo::format_distance(job.range_m)));
    }
    return utm_map_grid(sites, job.range_m, cell_m);
}

ShortGround short_ground(const terrain::HeightGrid& ground, geo::LatLon site, double range_m) {
    constexpr int directions = 72;
    constexpr int rings = 50;
    ShortGround found{0.0, range_m, 0.0};
    for (int k = 0; k < directions; ++k) {
        const double bearing_deg = 360.0 * k / directions;
        const geo::GeodesicLine line(site, bearing_deg);
        for (int ring = 1; ring <= rings; ++ring) {
            const double distance_m = range_m * ring / rings;
            if (!ground.covers(ground.georeference.cell_of(line.at(distance_m)))) {
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

/// Turns losses into what is left of a level.
void subtract_from(double level, std::vector<float>& losses) {
    for (float& value : losses) {
        value = static_cast<float>(level - static_cast<double>(value));
    }
}

/// Turns margins into readability; what is not known stays so.
void read_margins(std::vector<float>& margins) {
    for (float& value : margins) {
        if (!std::isnan(value)) {
            value = static_cast<float>(link::readability(static_cast<double>(value)).readability);
        }
    }
}

std::vector<float> sight_values(const std::vector<SightClass>& sight, bool plain) {
    std::vector<float> values(sight.size(), std::numeric_limits<float>::quiet_NaN());
    for (std::size_t i = 0; i < sight.size(); ++i) {
        if (sight[i] != SightClass::unknown) {
            const auto value = static_cast<float>(sight[i]);
            values[i] = plain ? std::min(value, 1.0F) : value;
        }
    }
    return values;
}

bool needs(std::span<const BandKind> bands, BandSource source) {
    return std::any_of(bands.begin(), bands.end(),
                       [source](BandKind kind) { return band_info(kind).source == source; });
}

/// Which cells are within range of a station.
std::vector<std::uint8_t> cells_in_range(const Job& job, const MapGrid& map, unsigned threads) {
    const auto columns = static_cast<std::size_t>(map.columns);
    std::vector<std::uint8_t> in_range(columns * static_cast<std::size_t>(map.rows));
    const std::vector<MapGrid> maps(threads, map); // georeferences are not to be shared
    parallel_for(static_cast<std::size_t>(map.rows), threads, [&](std::size_t row, unsigned k) {
        const link::Station* last = &job.first(); // most likely that of the next cell too
        for (std::size_t column = 0; column < columns; ++column) {
            const geo::LatLon here = maps[k].centre_of(row * columns + column);
            const auto reaches = [&](const link::Station& station) {
                return geo::geodesic_between(station.position, here).distance_m <= job.range_m;
            };
            if (!reaches(*last)) {
                const auto found = std::find_if(job.stations.begin(), job.stations.end(), reaches);
                if (found == job.stations.end()) {
                    continue;
                }
                last = &*found;
            }
            in_range[row * columns + column] = 1;
        }
    });
    return in_range;
}

/// What the sweeps from all stations make together, as far as the bands ask for it.
class Work {
public:
    Work(const Job& job, Result& result, Task& task)
        : job_(job), map_(grid_of(job)), result_(result), task_(task),
          with_losses_(std::any_of(
              job.bands.begin(), job.bands.end(),
              [](BandKind kind) { return band_info(kind).source != BandSource::sight; })),
          request_(link::made_in<SweepRequest>(job)) {
        request_.receiver_antenna_m = job.receiver_height_m;
        request_.range_m = job.range_m;
        if (job.stations.size() > 1) {
            // A cell near one station may hear another that is farther away than the range.
            in_range_ = cells_in_range(job, map_, task.threads());
            for (const link::Station& station : job.stations) {
                request_.range_m = std::max(request_.range_m, corners_m(station.position));
            }
        }
        request_.engine = job.engine;
        request_.radials_per_rim_cell = job.radials_per_rim_cell;
        request_.with_sight = asks_for(BandSource::fresnel) || asks_for(BandSource::sight);
        // Over cover only the exact engine does sight alone; the sweep of losses is faster.
        request_.sight_only = !with_losses_ && job.layers.cover == nullptr;
    }

    void add(const link::Station& station) {
        SweepResult swept =
            sweep_from(station, job_.conditions.time_percent, job_.conditions.location_percent);
        result_.cells_predicted += swept.cells_predicted;
        result_.cells_off_terrain += swept.cells_off_terrain;
        result_.cells_behind_void += swept.cells_behind_void;
        result_.engine = swept.engine;
        keep_best(sight_, std::move(swept.sight));
        if (!with_losses_) {
            return;
        }
        if (asks_for(BandSource::losses)) {
            loss_db_ = swept.loss_db;
        }
        if (asks_for(BandSource::doubts) || (asks_for(BandSource::chances) && widens_chances())) {
            doubt_db_ = doubt_values(map_, request_, swept.loss_db, task_);
        }
        if (asks_for(BandSource::chances)) {
            keep_best(chance_percent_, chance_of(station, swept.loss_db));
        }
        if (asks_for(BandSource::weaker_margins)) {
            std::vector<float> weaker_db = swept.loss_db;
            subtract_from(weaker_without_path_db(station), weaker_db);
            keep_best(weaker_margin_db_, std::move(weaker_db));
        }
        subtract_from(margin_without_path_db(station), swept.loss_db);
        if (asks_for(BandSource::each_margin)) {
            margins_db_.push_back(swept.loss_db);
        }
        composition_.add(std::move(swept.loss_db), job_.wanted_margin_db,
                         asks_for(BandSource::stations_heard) ||
                             asks_for(BandSource::best_station));
    }

    void finish() {
        if (asks_for(BandSource::sight)) {
            const Areas areas = measure_areas(sight_values(sight_, true), 1.0, map_);
            result_.predicted_km2 = areas.known_km2;
            result_.in_sight_km2 = areas.reached_km2;
        }
        if (with_losses_) {
            const Areas areas =
                measure_areas(composition_.best_margin_db, job_.wanted_margin_db, map_);
            result_.predicted_km2 = areas.known_km2;
            result_.heard_km2 = areas.reached_km2;
        }
        result_.raster.columns = map_.columns;
        result_.raster.rows = map_.rows;
        result_.raster.georeference = map_.georeference;
        make_bands();
    }

private:
    [[nodiscard]] bool asks_for(BandSource source) const { return needs(job_.bands, source); }

    /// To the farthest corner of the map.
    [[nodiscard]] double corners_m(geo::LatLon from) const {
        double farthest_m = 0.0;
        for (const double column : {-0.5, map_.columns - 0.5}) {
            for (const double row : {-0.5, map_.rows - 0.5}) {
                const geo::LatLon corner = map_.georeference.position_of({column, row});
                farthest_m = std::max(farthest_m, geo::geodesic_between(from, corner).distance_m);
            }
        }
        return farthest_m;
    }

    [[nodiscard]] double received_without_path_dbm(const link::Station& station) const {
        return link::received_without_path_dbm(station.radio, job_.receiver);
    }

    [[nodiscard]] double out_without_path_db(const link::Station& station) const {
        return received_without_path_dbm(station) - job_.receiver.threshold_dbm;
    }

    [[nodiscard]] double weaker_without_path_db(const link::Station& station) const {
        return std::min(out_without_path_db(station),
                        link::received_without_path_dbm(job_.receiver, station.radio) -
                            station.radio.threshold_dbm);
    }

    [[nodiscard]] double margin_without_path_db(const link::Station& station) const {
        return job_.both_ways ? weaker_without_path_db(station) : out_without_path_db(station);
    }

    [[nodiscard]] SweepResult sweep_from(const link::Station& station, double time_percent,
                                         double location_percent) {
        request_.site = station.position;
        request_.site_antenna_m = station.antenna_height_m;
        request_.conditions.time_percent = time_percent;
        request_.conditions.location_percent = location_percent;
        SweepResult swept = sweep(map_, request_, task_);
        for (std::size_t i = 0; i < in_range_.size(); ++i) {
            if (in_range_[i] == 0) {
                if (!swept.loss_db.empty()) {
                    swept.loss_db[i] = std::numeric_limits<float>::quiet_NaN();
                }
                if (!swept.sight.empty()) {
                    swept.sight[i] = SightClass::unknown;
                }
            }
        }
        return swept;
    }

    /// Whether what a second model says moves the chance: not where somebody knows the deviation.
    [[nodiscard]] bool widens_chances() const {
        return !job_.conditions.prediction_deviation_db || job_.conditions.deviation_share < 1.0 ||
               job_.field_reach != nullptr;
    }

    /// Chance of contact with a station in each cell, as link::PathPredictor has it for a path:
    /// from the losses of half of the time and places, whatever the job asks for.
    [[nodiscard]] std::vector<float> chance_of(const link::Station& station,
                                               const std::vector<float>& loss_db) {
        const propagation::Conditions& asked = job_.conditions;
        const bool timed = propagation::knows_shares(asked.method);
        const bool median = asked.time_percent == 50.0 && asked.location_percent == 50.0;
        const std::vector<float> often_db =
            timed && !median ? sweep_from(station, 50.0, 50.0).loss_db : loss_db;
        const std::vector<float> seldom_db =
            timed ? sweep_from(station, 10.0, 50.0).loss_db : loss_db;
        return chance_values(job_, map_, station, margin_without_path_db(station), often_db,
                             seldom_db, doubt_db_, task_);
    }

    /// The bands in order. What a band is made from is given up for the last one that needs it: on
    /// a large map there may not be room for it twice.
    void make_bands() {
        for (std::size_t k = 0; k < job_.bands.size(); ++k) {
            const BandInfo& info = band_info(job_.bands[k]);
            const std::string unit(info.unit);
            if (info.source == BandSource::each_margin) {
                for (std::size_t n = 0; n < margins_db_.size(); ++n) {
                    result_.raster.bands.push_back(
                        {fmt::format("{}{}", info.title, job_.stations[n].name), unit,
                         std::move(margins_db_[n])});
                }
                continue;
            }
            const bool last = !needs(std::span(job_.bands).subspan(k + 1), info.source);
            result_.raster.bands.push_back({std::string(info.title), unit, values_of(info, last)});
        }
    }

    [[nodiscard]] std::vector<float> values_of(const BandInfo& info, bool last) {
        const auto take = [last](std::vector<float>& from) {
            return last ? std::move(from) : from;
        };
        std::vector<float> values;
        switch (info.source) {
        case BandSource::margins:
            values = take(composition_.best_margin_db);
            if (info.kind == BandKind::readability) {
                read_margins(values);
            }
            return values;
        case BandSource::losses:
            values = take(loss_db_);
            if (info.kind == BandKind::received) {
                subtract_from(received_without_path_dbm(job_.first()), values);
            }
            return values;
        case BandSource::weaker_margins:
            return take(weaker_margin_db_);
        case BandSource::chances:
            return take(chance_percent_);
        case BandSource::doubts:
            return take(doubt_db_);
        case BandSource::stations_heard:
            return take(composition_.sites_heard);
        case BandSource::best_station:
            return take(composition_.serving_site);
        case BandSource::fresnel:
        case BandSource::sight:
            return sight_values(sight_, info.source == BandSource::sight);
        case BandSource::each_margin:
            break; // one band would not do
        }
        return values;
    }

    const Job& job_;
    MapGrid map_;
    Result& result_;
    Task& task_;
    bool with_losses_;
    SweepRequest request_;
    std::vector<std::uint8_t> in_range_; ///< of any of several stations
    Composition composition_;
    std::vector<SightClass> sight_;
    std::vector<float> loss_db_, chance_percent_, doubt_db_, weaker_margin_db_;
    std::vector<std::vector<float>> margins_db_;
};

} // namespace

double Job::reach_m() const {
    double farthest_m = 0.0;
    for (const link::Station& station : stations) {
        farthest_m = std::max(farthest_m,
                              geo::geodesic_between(first().position, station.position).distance_m);
    }
    return farthest_m + range_m;
}

Result run(const Job& job, Task& task) {
    if (needs(job.bands, BandSource::doubts) &&
        !propagation::second_method(job.conditions.method)) {
        throw_usage(fmt::format("there is no second model to doubt method {} with; choose "
                                "short-range, p1812 or irregular-terrain",
                                propagation::method_info(job.conditions.method).name));
    }
    const auto started = std::chrono::steady_clock::now();
    Result result;
    Work work(job, result, task);
    for (const link::Station& station : job.stations) {
        work.add(station);
        result.short_ground.push_back(short_ground(*job.ground, station.position, job.range_m));
    }
    if (result.cells_predicted == 0) {
        throw_input("no cell of the map could be predicted: the elevation holds no ground within "
                    "the range; give elevation that covers it");
    }
    work.finish();
    const std::chrono::duration<double> took = std::chrono::steady_clock::now() - started;
    result.seconds = took.count();
    return result;
}

} // namespace earshot::coverage
