#include "earshot/coverage/sweep.hpp"

#include "base/memory.hpp"
#include "base/parallel.hpp"
#include "coverage/engine/carried_sweep.hpp"
#include "coverage/engine/exact_cell.hpp"
#include "coverage/engine/sight_sweep.hpp"
#include "earshot/base/error.hpp"
#include "earshot/base/task.hpp"
#include "earshot/geo/position.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace earshot::coverage {
namespace {

/// Share of the first Fresnel zone that must be clear for a path to count as free (ITU-R P.530-18
/// section 2.2.2; the trade's usual rule).
constexpr double free_clearance_f1 = 0.6;

void exact_sweep(const MapGrid& map, const SweepRequest& request, SweepResult& result, Task& task) {
    const unsigned threads = task.threads();
    std::vector<ExactCell> workers;
    workers.reserve(threads);
    for (unsigned k = 0; k < threads; ++k) {
        workers.emplace_back(map, request);
    }
    task.begin("sweep", static_cast<std::uint64_t>(map.rows));
    parallel_for(static_cast<std::size_t>(map.rows), threads, [&](std::size_t row, unsigned k) {
        task.throw_if_stopped();
        for (int column = 0; column < map.columns; ++column) {
            workers[k].predict(column, static_cast<int>(row), request.range_m, result);
        }
        task.advance(1);
    });
    for (const ExactCell& worker : workers) {
        worker.add_counts_to(result);
    }
}

} // namespace

SightClass sight_class(const propagation::Sight& sight) {
    if (!sight.clear) {
        return SightClass::blocked;
    }
    return sight.clearance_f1 >= free_clearance_f1 ? SightClass::clear : SightClass::grazing;
}

SweepResult sweep(const MapGrid& map, const SweepRequest& request, Task& task) {
    const terrain::HeightGrid& ground = *request.ground;
    if (std::isnan(ground.sample(request.site))) {
        const bool covered = ground.covers(ground.georeference.cell_of(request.site));
        throw_input(fmt::format("there is no ground height at the station ({}): it lies {}",
                                geo::format_decimal(request.site),
                                covered ? "in a void of the elevation; move it or give elevation "
                                          "without the void"
                                        : "off the elevation; check the position or give elevation "
                                          "that covers it"));
    }
    if (!(request.step_m >= 0.0)) {
        throw_usage(fmt::format("a profile step of {} m is not possible; give 0 m or more",
                                request.step_m));
    }
    const bool with_sight = request.with_sight || request.sight_only;
    const auto cells = static_cast<std::size_t>(map.columns) * static_cast<std::size_t>(map.rows);
    require_memory(
        cells * ((request.sight_only ? 0 : sizeof(float)) + (with_sight ? sizeof(SightClass) : 0)),
        "the map");
    SweepResult result;
    if (!request.sight_only) {
        result.loss_db.assign(cells, std::numeric_limits<float>::quiet_NaN());
    }
    if (with_sight) {
        result.sight.assign(cells, SightClass::unknown);
    }
    const bool carried = request.engine == Engine::carried && request.layers.zones == nullptr;
    if (carried && request.layers.cover == nullptr && request.sight_only) {
        result.engine = Engine::carried;
        sight_sweep(map, request, result, task);
    } else if (carried && !request.sight_only && carried_engine_knows(request.conditions.method)) {
        result.engine = Engine::carried;
        carried_sweep(map, request, result, task);
    } else {
        result.engine = Engine::exact;
        exact_sweep(map, request, result, task);
    }
    task.end();
    return result;
}

} // namespace earshot::coverage
