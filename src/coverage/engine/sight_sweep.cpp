#include "coverage/engine/sight_sweep.hpp"

#include "coverage/engine/radial_sampler.hpp"
#include "coverage/engine/sweep_plan.hpp"
#include "terrain/profile_sampler.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <span>

namespace earshot::coverage {
namespace {

/// Sight needs fewer radials than losses do. Measured: see docs/performance.md.
constexpr double radials_per_rim_cell = 1.0;

/// So that what a cell sees ends half a step to a step before it.
constexpr double rings_per_step = 2.0;

/// One thread's work on wedges.
class SightWedge {
public:
    SightWedge(const SweepPlan& plan, SweepResult& result)
        : plan_(plan), result_(result), spans_(plan.map), sampler_(plan) {}

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
    /// The steepest slope up to each ring of each radial, m/km.
    void carry_slopes(const Wedge& wedge) {
        constexpr float infinity = std::numeric_limits<float>::infinity();
        const double rings_per_m = rings_per_step / plan_.spacing_m;
        stride_ = static_cast<std::size_t>(std::ceil(wedge.reach_m * rings_per_m)) + 2;
        steepest_.assign((wedge.sectors + 1) * stride_, -infinity);
        for (std::size_t radial = 0; radial <= wedge.sectors; ++radial) {
            float* out = &steepest_[radial * stride_];
            sampler_.visit_unordered(wedge.bearing_rad(radial), wedge.reach_m,
                                     [&](double start_m, std::span<const float> distance_m,
                                         std::span<const float> ground_m) {
                                         raise_rings(static_cast<float>(start_m), distance_m,
                                                     ground_m, out);
                                     });
            float highest = -infinity;
            for (std::size_t ring = 0; ring < stride_; ++ring) {
                highest = std::max(highest, out[ring]);
                // Unknown ground hides nothing and shows nothing, here and beyond.
                out[ring] = highest == infinity ? std::numeric_limits<float>::quiet_NaN() : highest;
            }
            met_unknown_ |= highest == infinity;
        }
    }

    /// Raises the rings that points of a radial lie in to the slopes up to them; to infinity where
    /// the ground is unknown.
    void raise_rings(float start_m, std::span<const float> distance_m,
                     std::span<const float> ground_m, float* rings) {
        constexpr auto least_gap_m = static_cast<float>(terrain::ProfileSampler::least_gap_m);
        constexpr float nearly = 0.99F; // a point just beyond a ring belongs to it
        const RadialSite& site = plan_.site;
        const auto transmitter_m = static_cast<float>(site.ground_m + site.antenna_m);
        const auto curvature = static_cast<float>(0.5 / site.radii.median_km);
        const auto rings_per_m = static_cast<float>(rings_per_step / plan_.spacing_m);
        const auto last = static_cast<std::int32_t>(stride_ - 1);
        const std::size_t count = distance_m.size();
        slopes_.resize(std::max(slopes_.size(), count));
        ring_.resize(std::max(ring_.size(), count));
        for (std::size_t k = 0; k < count; ++k) {
            const float x_m = std::max(start_m + distance_m[k], least_gap_m);
            const float slope = (ground_m[k] - transmitter_m) * 1000.0F / x_m - curvature * x_m;
            slopes_[k] = std::isnan(ground_m[k]) ? std::numeric_limits<float>::infinity() : slope;
            ring_[k] = std::min(static_cast<std::int32_t>(x_m * rings_per_m + nearly), last);
        }
        for (std::size_t k = 0; k < count; ++k) {
            float& ring = rings[ring_[k]];
            ring = std::max(ring, slopes_[k]);
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
        horizons.rings_per_m = static_cast<float>(rings_per_step / plan_.spacing_m);
        horizons.curvature_per_m = static_cast<float>(0.5 / site.radii.median_km);
        horizons.transmitter_m = static_cast<float>(site.ground_m + site.antenna_m);
        horizons.receiver_antenna_m = static_cast<float>(plan_.request.receiver_antenna_m);
        horizons.nearest_m = static_cast<float>(plan_.near_m());
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
                if (exact.wedge() != wedge.number || exact.range_m < plan_.near_m() ||
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
    RadialSampler sampler_;
    std::vector<float> slopes_, steepest_, cell_ground_m_;
    std::vector<std::int32_t> ring_;
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
            if (range_m >= plan.near_m() && range_m <= plan.request.range_m) {
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
