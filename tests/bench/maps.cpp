#include "maps.hpp"

#include "base/parallel.hpp"
#include "coverage/engine/exact_cell.hpp"
#include "earshot/terrain/profile.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <unordered_set>

namespace earshot::bench {

Map map_of(const terrain::HeightGrid& ground, terrain::CellPosition site_cell, unsigned threads) {
    Map map{ground, {ground.columns, ground.rows, ground.georeference}, site_cell, {}, 0.0,
            threads};
    coverage::SweepRequest& request = map.request;
    request.ground = &ground;
    request.site = ground.georeference.position_of(site_cell);
    request.site_antenna_m = site_antenna_m;
    request.receiver_antenna_m = receiver_antenna_m;
    for (const double column : {0.0, ground.columns - 1.0}) {
        for (const double row : {0.0, ground.rows - 1.0}) {
            const geo::LatLon corner = ground.georeference.position_of({column, row});
            request.range_m = std::max(
                request.range_m, geo::geodesic_between(request.site, corner).distance_m + 1.0);
        }
    }
    map.cell_m = terrain::natural_step_m(ground, request.site);
    return map;
}

Map map_of(const terrain::HeightGrid& ground, unsigned threads) {
    return map_of(ground, {std::floor(ground.columns / 2.0), std::floor(ground.rows / 2.0)},
                  threads);
}

std::size_t index_of(const Map& map, Cell cell) {
    return static_cast<std::size_t>(cell.row) * static_cast<std::size_t>(map.grid.columns) +
           static_cast<std::size_t>(cell.column);
}

std::vector<Cell> random_cells(const Map& map, std::size_t count) {
    // The engine's numbers are laid down by the C++ standard, those of its distributions are not.
    std::mt19937_64 random(20240607); // NOLINT: the same cells in every run
    std::unordered_set<std::size_t> taken;
    std::vector<Cell> cells;
    while (cells.size() < count) {
        const Cell cell{static_cast<int>(random() % static_cast<unsigned>(map.grid.columns)),
                        static_cast<int>(random() % static_cast<unsigned>(map.grid.rows))};
        const geo::LatLon position =
            map.grid.georeference.position_of({1.0 * cell.column, 1.0 * cell.row});
        const double range_m = geo::geodesic_between(map.request.site, position).distance_m;
        if (range_m > map.cell_m && range_m < map.request.range_m &&
            taken.insert(index_of(map, cell)).second) {
            cells.push_back(cell);
        }
    }
    return cells;
}

coverage::SweepResult exact_cells(const Map& map, const std::vector<Cell>& cells,
                                  const coverage::SweepRequest& request) {
    const std::size_t all =
        static_cast<std::size_t>(map.grid.columns) * static_cast<std::size_t>(map.grid.rows);
    coverage::SweepResult result;
    result.loss_db.assign(all, std::numeric_limits<float>::quiet_NaN());
    result.sight.assign(all, coverage::SightClass::unknown);
    std::vector<coverage::ExactCell> workers;
    workers.reserve(map.threads);
    for (unsigned k = 0; k < map.threads; ++k) {
        workers.emplace_back(map.grid, request);
    }
    parallel_for(cells.size(), map.threads, [&](std::size_t i, unsigned worker) {
        workers[worker].predict(cells[i].column, cells[i].row, request.range_m, result);
    });
    for (const coverage::ExactCell& worker : workers) {
        worker.add_counts_to(result);
    }
    return result;
}

} // namespace earshot::bench
