#include "coverage/engine/irregular_sweep.hpp"

#include "base/memory.hpp"
#include "base/parallel.hpp"
#include "coverage/engine/irregular_radial.hpp"
#include "coverage/engine/radial_sampler.hpp"
#include "coverage/engine/sweep_plan.hpp"
#include "coverage/engine/wedge_cells.hpp"
#include "propagation/irregular_terrain.hpp"
#include "terrain/profile_sampler.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace earshot::coverage {
namespace {

using propagation::irregular::MapModel;

constexpr const char* second_model = "second model";

constexpr float unknown = std::numeric_limits<float>::quiet_NaN();

/// Nearer than this the model has no say.
constexpr double nearest_m = 1000.0;

/// Two radials beside a cell that part by more do not tell what lies between them: the cell takes
/// one of its own. With how many radials that is cheapest was measured (docs/performance.md).
constexpr float alike_db = 3.0F;
constexpr double radials_per_rim_cell = 1.5;

/// Losses over fresh profiles to the centres of cells, one thread's.
class IrregularCells {
public:
    IrregularCells(const SweepPlan& plan, const MapModel& model, std::vector<float>& losses_db)
        : plan_(plan), model_(model), losses_db_(losses_db), profiles_(plan.ground),
          map_georeference_(plan.map.georeference) {}

    void predict(int column, int row, double range_m) {
        const geo::LatLon cell =
            map_georeference_.position_of({static_cast<double>(column), static_cast<double>(row)});
        if (!(geo::geodesic_between(plan_.request.site, cell).distance_m <= range_m)) {
            return;
        }
        profiles_.sample(plan_.request.site, cell, plan_.request.step_m, profile_,
                         link::least_distance_m);
        if (!profile_.has_void()) {
            losses_db_[plan_.cell_index(column, row)] =
                static_cast<float>(model_.loss_db(profile_.distance_km, profile_.ground_m));
        }
    }

private:
    const SweepPlan& plan_;
    const MapModel& model_;
    std::vector<float>& losses_db_;
    terrain::ProfileSampler profiles_;
    terrain::Georeference map_georeference_; ///< threads must not share one
    terrain::Profile profile_;
};

/// Losses along radials, one thread's work on wedges: a cell has its share of what both radials
/// beside it say, if they say about the same.
class IrregularWedge {
public:
    IrregularWedge(const SweepPlan& plan, const MapModel& model, std::vector<float>& losses_db)
        : plan_(plan), losses_db_(losses_db), model_(model), cells_(plan, false), sampler_(plan),
          radial_(model, plan.spacing_m) {}

    void run(const Wedge& wedge) {
        cells_.list(wedge);
        const std::span<const CellBetween> cells = cells_.cells();
        first_db_.assign(cells.size(), 0.0F);
        second_db_.assign(cells.size(), 0.0F);
        for (std::size_t r = 0; r <= wedge.sectors; ++r) {
            sweep_radial(wedge.bearing_rad(r), cells_.before_radial(r), cells_.behind_radial(r));
        }
        for (std::size_t i = 0; i < cells.size(); ++i) {
            // Never true where one of them is not known.
            const bool alike = std::abs(first_db_[i] - second_db_[i]) <= alike_db;
            losses_db_[cells[i].cell] =
                alike ? std::lerp(first_db_[i], second_db_[i], cells[i].share) : own_db(cells[i]);
        }
    }

private:
    void sweep_radial(double bearing_rad, WedgeCells::Places before, WedgeCells::Places behind) {
        const std::span<const CellBetween> cells = cells_.cells();
        const auto farthest_m = [&](const WedgeCells::Places& places) {
            return places.first < places.second ? cells[places.second - 1].range_m : 0.0F;
        };
        const auto reach_m = static_cast<double>(std::max(farthest_m(before), farthest_m(behind)));
        if (reach_m == 0.0) {
            return;
        }
        radial_.start(sampler_.sample(bearing_rad, reach_m));
        auto [left, left_end] = before;
        auto [right, right_end] = behind;
        while (left < left_end || right < right_end) {
            const bool take_left = right == right_end ||
                                   (left < left_end && cells[left].range_m <= cells[right].range_m);
            const std::size_t i = take_left ? left++ : right++;
            (take_left ? second_db_ : first_db_)[i] = loss_db(cells[i]);
        }
    }

    float own_db(const CellBetween& cell) {
        const auto columns = static_cast<std::uint32_t>(plan_.map.columns);
        const Place place = plan_.place_of(static_cast<int>(cell.cell % columns),
                                           static_cast<int>(cell.cell / columns));
        radial_.start(sampler_.sample(place.bearing_rad, place.range_m));
        return loss_db(cell);
    }

    float loss_db(const CellBetween& cell) {
        return radial_.path_to(static_cast<double>(cell.range_m),
                               static_cast<double>(cell.ground_m), path_)
                   ? static_cast<float>(model_.loss_db(path_))
                   : unknown;
    }

    const SweepPlan& plan_;
    std::vector<float>& losses_db_;
    const MapModel& model_;
    std::vector<float> first_db_, second_db_; ///< by the radials on either side of each cell
    WedgeCells cells_;
    RadialSampler sampler_;
    IrregularRadial radial_;
    propagation::irregular::Geometry path_;
};

void sweep_exact(const SweepPlan& plan, std::vector<IrregularCells>& workers, Task& task) {
    const auto rows = static_cast<std::size_t>(plan.map.rows);
    task.begin(second_model, rows);
    parallel_for(rows, task.threads(), [&](std::size_t row, unsigned k) {
        task.throw_if_stopped();
        for (int column = 0; column < plan.map.columns; ++column) {
            workers[k].predict(column, static_cast<int>(row), plan.request.range_m);
        }
        task.advance(1);
    });
    task.end();
}

} // namespace

std::vector<float> irregular_losses_db(const MapGrid& map, const SweepRequest& request,
                                       Task& task) {
    const SweepPlan plan(map, request);
    const MapModel model({request.site_antenna_m, request.receiver_antenna_m},
                         propagation::irregular::inputs_of(request.conditions));
    const std::size_t cells =
        static_cast<std::size_t>(map.columns) * static_cast<std::size_t>(map.rows);
    require_memory(cells * sizeof(float), "the second model's map");
    std::vector<float> losses_db(cells, unknown);
    std::vector<IrregularCells> exact;
    std::vector<IrregularWedge> sweeps;
    for (unsigned k = 0; k < task.threads(); ++k) {
        exact.emplace_back(plan, model, losses_db);
        sweeps.emplace_back(plan, model, losses_db);
    }
    if (request.engine == Engine::exact) {
        sweep_exact(plan, exact, task);
        return losses_db;
    }
    if (plan.near_m() > nearest_m) {
        for_each_near_cell(plan, [&](int column, int row) {
            exact.front().predict(column, row, request.range_m);
        });
    }
    sweep_wedges(plan.cut_wedges(radials_per_rim_cell), sweeps, task, second_model);
    task.end();
    return losses_db;
}

} // namespace earshot::coverage
