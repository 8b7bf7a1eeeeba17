#include "coverage/engine/sight_sweep.hpp"

#include "coverage/engine/sweep_plan.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace earshot::coverage {
namespace {

/// Sight needs fewer radials than losses do. Measured: see docs/performance.md.
constexpr double radials_per_rim_cell = 1.0;

/// One thread's work on wedges.
class SightWedge {
public:
    SightWedge(const SweepPlan& plan, SweepResult& result)
        : plan_(plan), result_(result), spans_(plan.map) {}

    void run(const Wedge& wedge) {
        carry_slopes(wedge);
        spans_.cover(plan_, wedge);
        spans_.for_each_row([&](int row, int first_column, int count) {
            plan_.for_each_piece(wedge, row, first_column, count,
                                 [&](const kernels::CellRow& cells, int column, int cell_count) {
                                     see_piece(wedge, row, column, cell_count, cells);
                                 });
        });
    }

    [[nodiscard]] std::uint64_t predicted() const { return predicted_; }
    /// Whether a radial met unknown ground within its reach.
    [[nodiscard]] bool met_unknown() const { return met_unknown_; }

private:
    /// The steepest slope up to each point of each radial, m/km.
    void carry_slopes(const Wedge& wedge) {
        const RadialSite& site = plan_.site;
        const auto points =
            static_cast<std::size_t>(std::ceil(wedge.reach_m / plan_.request.step_m)) + 2;
        if (per_km_.size() < points) {
            per_km_.resize(points);
            lowered_m_.resize(points);
            for (std::size_t i = 1; i < points; ++i) {
                const double x = static_cast<double>(i) * site.step_km;
                per_km_[i] = static_cast<float>(1.0 / x);
                lowered_m_[i] = static_cast<float>(500.0 * x * x / site.radii.median_km +
                                                   site.ground_m + site.antenna_m);
            }
        }
        stride_ = points;
        steepest_.resize((wedge.sectors + 1) * stride_);
        for (std::size_t radial = 0; radial <= wedge.sectors; ++radial) {
            plan_.sample_ground(wedge.bearing_rad(radial), wedge.reach_m, ground_m_);
            float* out = &steepest_[radial * stride_];
            float highest = -std::numeric_limits<float>::infinity();
            out[0] = highest;
            const std::size_t known = std::min(ground_m_.size(), stride_);
            for (std::size_t i = 1; i < known; ++i) {
                ground_m_[i] = (ground_m_[i] - lowered_m_[i]) * per_km_[i];
            }
            for (std::size_t i = 1; i < known; ++i) {
                // Unknown ground (NaN) fails the comparison, stays, and spreads to all beyond it.
                highest = ground_m_[i] <= highest ? highest : ground_m_[i];
                out[i] = highest;
                if (std::isnan(highest)) {
                    met_unknown_ |= static_cast<double>(i) * plan_.request.step_m < wedge.reach_m;
                    std::fill(out + i, out + stride_, highest);
                    break;
                }
            }
            std::fill(out + std::min(known, stride_), out + stride_,
                      std::numeric_limits<float>::quiet_NaN());
        }
    }

    void see_piece(const Wedge& wedge, int row, int first_column, int count,
                   const kernels::CellRow& cells) {
        const RadialSite& site = plan_.site;
        const auto size = static_cast<std::size_t>(count);
        const float* ground_m = plan_.cell_ground(row, first_column, count, cell_ground_m_);
        seen_.assign(size, static_cast<std::uint8_t>(SightClass::unknown));
        kernels::Horizons horizons{};
        horizons.steepest = steepest_.data();
        horizons.stride = stride_;
        horizons.per_step = static_cast<float>(1.0 / plan_.request.step_m);
        horizons.curvature_per_m = static_cast<float>(0.5 / site.radii.median_km);
        horizons.transmitter_m = static_cast<float>(site.ground_m + site.antenna_m);
        horizons.receiver_antenna_m = static_cast<float>(site.receiver_antenna_m);
        horizons.nearest_m = static_cast<float>(near_steps * plan_.request.step_m);
        horizons.farthest_m = static_cast<float>(plan_.request.range_m);
        horizons.sectors = static_cast<float>(wedge.sectors);
        kernels::see_cells(cells, SweepPlan::frame_of(wedge), horizons, doubtful_sectors, ground_m,
                           size, seen_.data());
        for (std::size_t k = 0; k < size; ++k) {
            if (seen_[k] == static_cast<std::uint8_t>(SightClass::unknown)) {
                continue;
            }
            const int column = first_column + static_cast<int>(k);
            // The kernel marks what lies on an edge; only one of two neighbours may have it.
            if ((seen_[k] & kernels::doubtful) != 0) {
                const Place exact = plan_.place_of(column, row);
                if (exact.wedge() != wedge.number ||
                    exact.range_m < near_steps * plan_.request.step_m ||
                    exact.range_m > plan_.request.range_m) {
                    continue;
                }
            }
            ++predicted_;
            result_.sight[plan_.cell_index(column, row)] =
                static_cast<SightClass>(seen_[k] & ~kernels::doubtful);
        }
    }

    const SweepPlan& plan_;
    SweepResult& result_;
    RowSpans spans_;
    std::size_t stride_ = 0;
    std::vector<float> per_km_, lowered_m_, steepest_, ground_m_, cell_ground_m_;
    std::vector<std::uint8_t> seen_;
    std::uint64_t predicted_ = 0;
    bool met_unknown_ = false;
};

/// Counts the cells beyond the nearest that stayed unknown though they lie within the range. A
/// wedge cannot: it does not tell them from the cells of its neighbours.
void count_unknown(const SweepPlan& plan, SweepResult& result) {
    std::vector<float> scratch;
    for (int row = 0; row < plan.map.rows; ++row) {
        for (int column = 0; column < plan.map.columns; ++column) {
            if (result.sight[plan.cell_index(column, row)] != SightClass::unknown) {
                continue;
            }
            const double range_m = plan.place_of(column, row).range_m;
            if (range_m >= near_steps * plan.request.step_m && range_m <= plan.request.range_m) {
                const bool behind = !std::isnan(*plan.cell_ground(row, column, 1, scratch));
                ++(behind ? result.cells_behind_void : result.cells_off_terrain);
            }
        }
    }
}

} // namespace

void sight_sweep(const MapGrid& map, const SweepRequest& request, SweepResult& result, Task& task) {
    const SweepPlan plan(map, request);
    result.radials_per_rim_cell =
        request.radials_per_rim_cell > 0.0 ? request.radials_per_rim_cell : radials_per_rim_cell;
    const Wedges wedges = plan.cut_wedges(result.radials_per_rim_cell);
    std::vector<SightWedge> sweeps;
    sweeps.reserve(task.threads());
    for (unsigned k = 0; k < task.threads(); ++k) {
        sweeps.emplace_back(plan, result);
    }
    sweep_near_cells(plan, result);
    sweep_wedges(wedges, sweeps, task);
    bool met_unknown = false;
    for (const SightWedge& sweep : sweeps) {
        result.cells_predicted += sweep.predicted();
        met_unknown |= sweep.met_unknown();
    }
    if (met_unknown) {
        count_unknown(plan, result);
    }
}

} // namespace earshot::coverage
