#include "coverage/engine/irregular_sweep.hpp"

#include "base/memory.hpp"
#include "base/parallel.hpp"
#include "coverage/engine/radial_sampler.hpp"
#include "coverage/engine/sweep_plan.hpp"
#include "propagation/irregular_terrain.hpp"
#include "terrain/profile_sampler.hpp"

#include <algorithm>
#include <limits>

namespace earshot::coverage {
namespace {

constexpr double unknown = std::numeric_limits<double>::quiet_NaN();

/// One thread's work; keeps its memory from cell to cell.
class IrregularCells {
public:
    explicit IrregularCells(const SweepPlan& plan)
        : plan_(plan), inputs_(propagation::irregular::inputs_of(plan.request.conditions)),
          radials_(plan), profiles_(plan.ground), map_georeference_(plan.map.georeference) {}

    [[nodiscard]] double loss_db(int column, int row) {
        const bool known = plan_.request.engine == Engine::exact ? take_profile(column, row)
                                                                 : take_radial(column, row);
        return known
                   ? propagation::irregular::loss_within_limits_db(
                         profile_.distance_km, profile_.ground_m,
                         {plan_.request.site_antenna_m, plan_.request.receiver_antenna_m}, inputs_)
                   : unknown;
    }

private:
    bool take_profile(int column, int row) {
        const geo::LatLon cell =
            map_georeference_.position_of({static_cast<double>(column), static_cast<double>(row)});
        if (!(geo::geodesic_between(plan_.request.site, cell).distance_m <=
              plan_.request.range_m)) {
            return false;
        }
        profiles_.sample(plan_.request.site, cell, plan_.request.step_m, profile_,
                         link::least_distance_m);
        return !profile_.has_void();
    }

    bool take_radial(int column, int row) {
        const Place place = plan_.place_of(column, row);
        if (!(place.range_m <= plan_.request.range_m)) {
            return false;
        }
        const float ground_m = *plan_.cell_ground(row, column, 1, cell_ground_m_);
        const double range_km = std::max(place.range_m, link::least_distance_m) / 1000.0;
        const RadialGround radial = radials_.sample(place.bearing_rad, place.range_m);
        constexpr double gap_km = terrain::ProfileSampler::least_gap_m / 1000.0;
        const auto end =
            std::lower_bound(radial.x_km.begin(), radial.x_km.end(), range_km - gap_km);
        profile_.distance_km.assign(radial.x_km.begin(), end);
        profile_.ground_m.assign(radial.ground_m.begin(),
                                 radial.ground_m.begin() + (end - radial.x_km.begin()));
        profile_.distance_km.push_back(range_km);
        profile_.ground_m.push_back(static_cast<double>(ground_m));
        return !profile_.has_void();
    }

    const SweepPlan& plan_;
    propagation::irregular::Inputs inputs_;
    RadialSampler radials_;
    terrain::ProfileSampler profiles_;
    terrain::Georeference map_georeference_; ///< threads must not share one
    terrain::Profile profile_;
    std::vector<float> cell_ground_m_;
};

} // namespace

std::vector<float> irregular_losses_db(const MapGrid& map, const SweepRequest& request,
                                       Task& task) {
    const SweepPlan plan(map, request);
    const auto columns = static_cast<std::size_t>(map.columns);
    const auto rows = static_cast<std::size_t>(map.rows);
    require_memory(columns * rows * sizeof(float), "the second model's map");
    std::vector<float> losses_db(columns * rows);
    std::vector<IrregularCells> workers;
    workers.reserve(task.threads());
    for (unsigned k = 0; k < task.threads(); ++k) {
        workers.emplace_back(plan);
    }
    task.begin("second model", rows);
    parallel_for(rows, task.threads(), [&](std::size_t row, unsigned k) {
        task.throw_if_stopped();
        for (int column = 0; column < map.columns; ++column) {
            losses_db[plan.cell_index(column, static_cast<int>(row))] =
                static_cast<float>(workers[k].loss_db(column, static_cast<int>(row)));
        }
        task.advance(1);
    });
    task.end();
    return losses_db;
}

} // namespace earshot::coverage
