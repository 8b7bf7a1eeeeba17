#include "benchmarks.hpp"
#include "coverage/doubt.hpp"
#include "maps.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace earshot::bench {
namespace {

/// The band against link::PathPredictor over random cells, both known.
std::vector<double> away_db(const Map& map, const std::vector<float>& doubt_db, std::size_t cells) {
    link::PathPredictor predictor(map.request);
    const link::Station site{"site", map.request.site, map.request.site_antenna_m, {}};
    std::vector<double> away;
    for (const Cell cell : random_cells(map, cells)) {
        const link::Station there{
            "cell",
            map.grid.georeference.position_of({1.0 * cell.column, 1.0 * cell.row}),
            map.request.receiver_antenna_m,
            {}};
        const double path_db = predictor.margins(site, there, true).apart_db;
        const double difference_db =
            std::abs(path_db - static_cast<double>(doubt_db[index_of(map, cell)]));
        if (!std::isnan(difference_db)) {
            away.push_back(difference_db);
        }
    }
    std::sort(away.begin(), away.end());
    return away;
}

struct Case {
    std::string what;
    const terrain::HeightGrid& ground;
    bool round; ///< only as far as the nearest edge
};

} // namespace

std::vector<Table> bench_doubt(Workshop& shop) {
    constexpr std::size_t cells = 4000;
    Table table{fmt::format("The band of doubt beside P.1812's own sweep, {} threads, and against "
                            "paths to {} random cells",
                            shop.threads, format_count(static_cast<double>(cells))),
                {"ground", "cells", "P.1812", "doubt, on top of it", "per cell", "half below",
                 "95 % below", "99 % below", "worst"},
                {},
                {}};
    const terrain::HeightGrid part = crop(shop.grounds.rough().heights, 100, 0, 1000, 1000);
    for (const Case& each :
         {Case{shop.grounds.rough().what + ", the circle in 1,000 x 1,000", part, true},
          Case{shop.grounds.nine_metre().what + ", all cells", shop.grounds.nine_metre().heights,
               false}}) {
        Map map = map_of(each.ground, shop.threads);
        if (each.round) {
            map.request.range_m = each.ground.columns / 2.0 * map.cell_m;
        }
        ThreadedTask task(map.threads);
        coverage::SweepResult swept;
        const Timing own = time_runs([&] { swept = coverage::sweep(map.grid, map.request, task); });
        std::vector<float> doubt_db;
        const Timing second = time_runs(
            [&] { doubt_db = coverage::doubt_values(map.grid, map.request, swept.loss_db, task); });
        const std::vector<double> away = away_db(map, doubt_db, cells);
        const auto quantile = [&](double share) {
            const auto last = static_cast<double>(away.size() - 1);
            return fmt::format("{:.2f} dB", away[static_cast<std::size_t>(share * last)]);
        };
        const auto predicted = static_cast<double>(swept.cells_predicted);
        table.rows.push_back({each.what, format_count(predicted), format_seconds(own.seconds),
                              format_seconds(second.seconds),
                              format_seconds(second.seconds / predicted), quantile(0.5),
                              quantile(0.95), quantile(0.99), quantile(1.0)});
    }
    table.notes.emplace_back("Within 1 km, where the irregular terrain model has no say, nothing "
                             "is known.");
    return {table};
}

} // namespace earshot::bench
