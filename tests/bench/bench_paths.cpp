#include "benchmarks.hpp"
#include "earshot/propagation/path_loss.hpp"
#include "earshot/terrain/profile.hpp"
#include "maps.hpp"
#include "propagation/p1812/batch.hpp"
#include "terrain/profile_sampler.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace earshot::bench {
namespace {

struct Line {
    geo::LatLon far_end;
    terrain::Profile profile;
};

/// Paths from one station, each of so many points, 10 to 24 km long.
std::vector<Line> lines_of(const Map& map, std::size_t points) {
    constexpr std::size_t count = 40;
    std::vector<Line> lines;
    for (const Cell cell : random_cells(map, 400)) {
        const geo::LatLon far_end =
            map.grid.georeference.position_of({1.0 * cell.column, 1.0 * cell.row});
        const double length_m = geo::geodesic_between(map.request.site, far_end).distance_m;
        if (length_m < 10e3 || lines.size() == count) {
            continue;
        }
        lines.push_back(
            {far_end, terrain::sample_profile(map.ground, map.request.site, far_end,
                                              length_m / static_cast<double>(points - 1))});
    }
    return lines;
}

/// Predictions per second of a function that makes one for a line.
template <typename Predict>
std::string rate(const std::vector<Line>& lines, std::size_t points, Predict predict) {
    // About as many points for every length, so that each takes long enough to be timed.
    const std::size_t rounds = std::max<std::size_t>(1, 100000 / points);
    double sum = 0.0;
    const Timing timing = time_runs([&] {
        for (std::size_t round = 0; round < rounds; ++round) {
            for (const Line& line : lines) {
                sum += predict(line);
            }
        }
    });
    if (!std::isfinite(sum)) {
        return "not predicted";
    }
    return format_count(static_cast<double>(rounds * lines.size()) / timing.seconds);
}

propagation::P1812Row row_of(const propagation::P1812Result& result) {
    const propagation::PathGeometry& from = result.geometry;
    const auto slope = [](double angle_mrad) { return 1000.0 * std::tan(angle_mrad / 1000.0); };
    const auto known = [](double value) { return std::isnan(value) ? 0.0 : value; };
    propagation::P1812Row row;
    row.distance_km = from.distance_km;
    row.first_point_km = 0.01 * from.distance_km;
    row.last_point_km = 0.99 * from.distance_km;
    row.centre_latitude_deg = result.inputs.path_centre_latitude_deg;
    row.receiver_asl_m = from.receiver_asl_m;
    row.receiver_cover_m = from.receiver_cover_m;
    row.transmitter_horizon_km = from.transmitter_horizon_km;
    row.receiver_horizon_km = from.receiver_horizon_km;
    row.transmitter_slope = slope(from.transmitter_angle_mrad);
    row.receiver_slope = slope(from.receiver_angle_mrad);
    row.smooth_transmitter_m = from.smooth_transmitter_m;
    row.smooth_receiver_m = from.smooth_receiver_m;
    row.diffraction_transmitter_m = from.diffraction_transmitter_m;
    row.diffraction_receiver_m = from.diffraction_receiver_m;
    row.roughness_m = from.roughness_m;
    row.transmitter_arrival = from.transmitter_arrival;
    row.receiver_arrival = from.receiver_arrival;
    row.median_transmitter_slope = from.actual_median.transmitter_slope;
    row.median_receiver_slope = known(from.actual_median.receiver_slope);
    row.median_scaled_nu = known(from.actual_median.scaled_nu_max);
    return row;
}

propagation::P1812Result predict(const Map& map, const Line& line) {
    propagation::P1812Inputs inputs(p1812_conditions(map.request.conditions));
    inputs.path_centre_latitude_deg = propagation::path_centre_latitude_deg(
        map.request.site, line.far_end, line.profile.length_km());
    return propagation::p1812(propagation::view(line.profile),
                              {map.request.site_antenna_m, map.request.receiver_antenna_m}, inputs);
}

/// Rows per second of the formulas alone, many paths at a time, at 50 % of the time.
std::string batch_rate(const Map& map, const std::vector<Line>& lines) {
    std::vector<propagation::P1812Result> results;
    results.reserve(lines.size());
    for (const Line& line : lines) {
        results.push_back(predict(map, line));
    }
    const propagation::P1812BatchModel model(results.front().inputs,
                                             results.front().geometry.transmitter_asl_m,
                                             results.front().geometry.above_ground_m);
    propagation::P1812Batch batch;
    for (std::size_t k = 0; !batch.full(); ++k) {
        batch.push(row_of(results[k % results.size()]));
    }
    constexpr int rounds = 4000;
    const Timing timing = time_runs([&] {
        for (int round = 0; round < rounds; ++round) {
            model.predict(batch);
        }
    });
    return format_count(rounds * static_cast<double>(batch.size()) / timing.seconds);
}

} // namespace

std::vector<Table> bench_paths(Workshop& shop) {
    const Map map = map_of(shop.grounds.rough().heights, 1);
    Table table{
        fmt::format("Paths per second for the whole of P.1812, one thread ({}, 40 paths of 10 to "
                    "24 km)",
                    shop.grounds.rough().what),
        {"points in the profile", "profile and loss", "loss and reasons (path_loss)",
         "loss alone (p1812)", "formulas alone (p1812_loss)", "formulas, in batches"},
        {},
        {"Medians of 5."}};
    for (const std::size_t points : {100U, 1000U, 10000U}) {
        const std::vector<Line> lines = lines_of(map, points);
        terrain::ProfileSampler sampler(map.ground);
        terrain::Profile profile;
        const auto loss = [&](const terrain::Profile& over) {
            return propagation::path_loss(
                       over, {map.request.site_antenna_m, map.request.receiver_antenna_m},
                       map.request.conditions)
                .total_db();
        };
        const auto sample_and_predict = [&](const Line& line) {
            const double length_m = 1000.0 * line.profile.length_km();
            sampler.sample(map.request.site, line.far_end,
                           length_m / static_cast<double>(points - 1), profile);
            return loss(profile);
        };
        const propagation::P1812Result first = predict(map, lines.front());
        table.rows.push_back(
            {format_count(static_cast<double>(points)), rate(lines, points, sample_and_predict),
             rate(lines, points, [&](const Line& line) { return loss(line.profile); }),
             rate(lines, points, [&](const Line& line) { return predict(map, line).loss_db; }),
             rate(lines, 100,
                  [&](const Line&) {
                      return propagation::p1812_loss(first.geometry, first.inputs).loss_db;
                  }),
             batch_rate(map, lines)});
    }
    return {table};
}

} // namespace earshot::bench
