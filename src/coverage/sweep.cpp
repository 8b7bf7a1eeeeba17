#include "earshot/coverage/sweep.hpp"

#include "base/memory.hpp"
#include "base/parallel.hpp"
#include "coverage/engine/carried_sweep.hpp"
#include "coverage/engine/exact_cell.hpp"
#include "coverage/engine/sight_sweep.hpp"
#include "earshot/base/error.hpp"
#include "earshot/base/task.hpp"
#include "earshot/geo/position.hpp"
#include "propagation/clutter.hpp"
#include "terrain/off_ground.hpp"

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

/// Losses and sight. Sight is that of the antennas where they are: if the station's loss is
/// reckoned from the roofs above it, it takes another sweep.
void carried_among_houses(const MapGrid& map, const SweepRequest& request, SweepResult& result,
                          Task& task) {
    carried_sweep(map, request, result, task, true);
    if (result.sight.empty() || request.layers.cover == nullptr ||
        request.ground->kind == terrain::GroundKind::surface ||
        !propagation::below_roofs(
            request.conditions.houses,
            {request.site_antenna_m,
             request.layers.cover->at(request.ground->georeference.cell_of(request.site))
                 .roofs_m()})) {
        return;
    }
    SweepRequest as_they_are = request;
    as_they_are.radials_per_rim_cell = result.radials_per_rim_cell;
    SweepResult part;
    part.loss_db.resize(result.loss_db.size());
    part.sight.assign(result.sight.size(), SightClass::unknown);
    task.end();
    carried_sweep(map, as_they_are, part, task, false);
    result.sight = std::move(part.sight);
}

/// The carried engine knows one woodland factor for a whole sweep. Losses are linear in it: with
/// those of the standard beside them, each cell gets its own share of the field correction.
void corrected_sweep(const MapGrid& map, const SweepRequest& request, SweepResult& result,
                     Task& task) {
    const double offset_db = request.conditions.field_offset_db;
    SweepRequest part = request;
    part.field_reach.reset();
    part.conditions.field_offset_db = 0.0;
    carried_among_houses(map, part, result, task);
    std::vector<float> standard_db;
    if (request.field_reach && request.layers.cover != nullptr &&
        request.conditions.woodland_factor != 1.0) {
        require_memory(result.loss_db.size() * sizeof(float), "the map");
        part.conditions.woodland_factor = 1.0;
        part.radials_per_rim_cell = result.radials_per_rim_cell;
        SweepResult standard;
        standard.loss_db.assign(result.loss_db.size(), std::numeric_limits<float>::quiet_NaN());
        carried_among_houses(map, part, standard, task);
        standard_db = std::move(standard.loss_db);
    }
    if (offset_db == 0.0 && standard_db.empty()) {
        return;
    }
    for (std::size_t cell = 0; cell < result.loss_db.size(); ++cell) {
        auto loss_db = static_cast<double>(result.loss_db[cell]);
        if (std::isnan(loss_db)) {
            continue;
        }
        const geo::LatLon position = map.centre_of(cell);
        const double share =
            request.field_reach ? request.field_reach->share(request.site, position) : 1.0;
        if (!standard_db.empty()) {
            const auto alone_db = static_cast<double>(standard_db[cell]);
            loss_db = alone_db + share * (loss_db - alone_db);
        }
        result.loss_db[cell] = static_cast<float>(loss_db - share * offset_db);
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
        throw_input(fmt::format("there is no ground height at the station ({}): it lies {}",
                                geo::format_decimal(request.site),
                                terrain::no_height_words(ground, request.site)));
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
        corrected_sweep(map, request, result, task);
    } else {
        result.engine = Engine::exact;
        exact_sweep(map, request, result, task);
    }
    task.end();
    return result;
}

} // namespace earshot::coverage
