#pragma once

#include "base/parallel.hpp"
#include "coverage/engine/bulges.hpp"
#include "coverage/engine/carried_radial.hpp"
#include "coverage/engine/kernels.hpp"
#include "coverage/engine/local_frame.hpp"
#include "earshot/base/task.hpp"
#include "earshot/coverage/sweep.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <numbers>
#include <optional>
#include <utility>
#include <vector>

/// What the engines that work along radials have in common: the slices of the circle around the
/// site, and the frames between cells and bearings.

namespace earshot::coverage {

inline constexpr double full_circle = 2.0 * std::numbers::pi;

/// Nearer than this many steps, or cells, a cell is predicted over its own profile: a radial holds
/// too few points there for its terms to stand for the cell's.
inline constexpr double near_steps = 12.0;

/// A slice of the circle around the site, swept as one task. Its radials are evenly spaced, close
/// enough for its farthest cell.
struct Wedge {
    std::size_t number = 0;
    double from_rad = 0.0;   ///< bearing of its first radial
    double reach_m = 0.0;    ///< range of its farthest cell
    std::size_t sectors = 0; ///< between its radials, of which there is one more

    [[nodiscard]] double bearing_rad(std::size_t radial) const;
};

inline constexpr std::size_t wedge_count = 256;
inline constexpr double wedge_rad = full_circle / static_cast<double>(wedge_count);
using Wedges = std::array<Wedge, wedge_count>;

/// Within this of a wedge's edge, in sectors, single precision does not tell on which side a cell
/// lies: SweepPlan::place_of() decides.
inline constexpr float doubtful_sectors = 0.01F;

/// Where a cell lies as seen from the site.
struct Place {
    double range_m = 0.0;
    double bearing_rad = 0.0; ///< in [0, 2 pi)

    [[nodiscard]] std::size_t wedge() const {
        return static_cast<std::size_t>(bearing_rad / wedge_rad) % wedge_count;
    }
};

/// Everything the threads share.
class SweepPlan {
public:
    /// `at_roofs`: losses are reckoned from the roofs above an antenna, to which houses_db() adds
    /// the way down.
    SweepPlan(const MapGrid& map_grid, const SweepRequest& sweep_request, bool at_roofs = false);

    const terrain::HeightGrid& ground;
    const MapGrid& map;
    const SweepRequest& request;
    double spacing_m;         ///< of the points of radials: the step, or about a cell of the ground
    CellFrame cells;          ///< cells of the map to local points
    GroundFrame map_frame;    ///< and back
    GroundFrame ground_frame; ///< local points to cells of the ground
    double map_cell_m;        ///< smaller side of a cell of the map
    RadialSite site;
    /// Above the ground, that losses may be reckoned to: first the antenna's own, then roofs'.
    std::vector<double> receiver_heights_m;
    std::optional<Bulges> bulges; ///< set if radials have middles

    /// Where the radials begin to answer.
    [[nodiscard]] double near_m() const { return near_steps * spacing_m; }
    [[nodiscard]] Place place_of(int column, int row) const;
    [[nodiscard]] std::size_t cell_index(int column, int row) const {
        return static_cast<std::size_t>(row) * static_cast<std::size_t>(map.columns) +
               static_cast<std::size_t>(column);
    }

    /// Wedges with at least `radials_per_rim_cell` radials for each cell's width at their rim.
    [[nodiscard]] Wedges cut_wedges(double radials_per_rim_cell) const;

    /// Ground at the centres of `count` cells of a row: in the elevation itself where the map's
    /// cells are its cells, else in `scratch`.
    [[nodiscard]] const float* cell_ground(int row, int first_column, int count,
                                           std::vector<float>& scratch) const;

    /// Cover at the centre of a cell of the map; null without cover.
    [[nodiscard]] const terrain::CoverClass* cell_cover(int column, int row) const;

    /// Which of `receiver_heights_m` a cell has, by its cover.
    [[nodiscard]] std::size_t height_of(const terrain::CoverClass* cover) const;
    /// What houses cost both antennas, if losses are reckoned from roofs.
    [[nodiscard]] double houses_db(double receiver_roofs_m, double range_km) const;

    /// Calls `visit(cells, first_column, count)` for the pieces of a row of cells on which their
    /// places run evenly, in the frame turned to a wedge's middle.
    template <typename Visit>
    void for_each_piece(const Wedge& wedge, int row, int first_column, int count,
                        Visit visit) const {
        const double middle = wedge.from_rad + wedge_rad / 2.0;
        const double sine = std::sin(middle);
        const double cosine = std::cos(middle);
        const auto along = [&](const Lattice::Value& v) {
            return static_cast<float>(v.u * sine + v.v * cosine);
        };
        const auto across = [&](const Lattice::Value& v) {
            return static_cast<float>(v.u * cosine - v.v * sine);
        };
        for (int column = first_column; column < first_column + count;) {
            const Lattice::Piece piece = cells.piece_at(column, row);
            const int end =
                std::min(first_column + count,
                         std::max(column + 1, static_cast<int>(std::ceil(piece.end_x))));
            visit(kernels::CellRow{along(piece.start), along(piece.slope), across(piece.start),
                                   across(piece.slope)},
                  column, end - column);
            column = end;
        }
    }

    [[nodiscard]] static kernels::WedgeFrame frame_of(const Wedge& wedge) {
        return {static_cast<float>(wedge_rad / 2.0),
                static_cast<float>(static_cast<double>(wedge.sectors) / wedge_rad)};
    }

private:
    [[nodiscard]] double path_height_m(double antenna_m, double roofs_m) const;

    bool at_roofs_;
    double site_roofs_m_ = 0.0;
    /// Column and row of the map's first cell in the ground's raster, if the two share their cells.
    std::optional<std::pair<int, int>> offset_;
};

/// Columns of the map, row by row, that a wedge may touch.
class RowSpans {
public:
    explicit RowSpans(const MapGrid& map) : map_(map) {}

    /// Covers the wedge's outline generously: every cell in the wedge lies in a span.
    void cover(const SweepPlan& plan, const Wedge& wedge) {
        low_.assign(static_cast<std::size_t>(map_.rows), map_.columns);
        high_.assign(static_cast<std::size_t>(map_.rows), -1);
        first_row_ = map_.rows;
        last_row_ = -1;
        constexpr int pieces = 16;
        const auto corner = [&](double bearing_rad, double range_m) {
            return plan.map_frame.at(
                {range_m * std::sin(bearing_rad), range_m * std::cos(bearing_rad)});
        };
        const double to_rad = wedge.from_rad + wedge_rad;
        for (int k = 0; k < pieces; ++k) {
            const double near_m = wedge.reach_m * k / pieces;
            const double far_m = wedge.reach_m * (k + 1) / pieces;
            add_edge(corner(wedge.from_rad, near_m), corner(wedge.from_rad, far_m));
            add_edge(corner(to_rad, near_m), corner(to_rad, far_m));
            add_edge(corner(wedge.from_rad + wedge_rad * k / pieces, wedge.reach_m),
                     corner(wedge.from_rad + wedge_rad * (k + 1) / pieces, wedge.reach_m));
        }
    }

    /// Calls `visit(row, first_column, count)` for each row that may hold cells of the wedge.
    template <typename Visit>
    void for_each_row(Visit visit) const {
        for (int row = first_row_; row <= last_row_; ++row) {
            const auto k = static_cast<std::size_t>(row);
            if (low_[k] <= high_[k]) {
                visit(row, low_[k], high_[k] - low_[k] + 1);
            }
        }
    }

private:
    void add_edge(terrain::CellPosition a, terrain::CellPosition b) {
        constexpr double spare = 1.5; // cells: the outline is a chain of chords
        const double top = std::min(a.row, b.row) - spare;
        const double bottom = std::max(a.row, b.row) + spare;
        const int from = static_cast<int>(std::clamp(std::ceil(top), 0.0, map_.rows - 1.0));
        const int to = static_cast<int>(std::clamp(std::floor(bottom), 0.0, map_.rows - 1.0));
        if (bottom < 0.0 || top > map_.rows - 1.0) {
            return;
        }
        const auto column_at = [&](double row) {
            const double share =
                a.row == b.row ? 0.0 : std::clamp((row - a.row) / (b.row - a.row), 0.0, 1.0);
            return a.column + share * (b.column - a.column);
        };
        for (int row = from; row <= to; ++row) {
            double low = std::min(column_at(row - spare), column_at(row + spare));
            double high = std::max(column_at(row - spare), column_at(row + spare));
            if (a.row == b.row) {
                low = std::min(a.column, b.column);
                high = std::max(a.column, b.column);
            }
            const auto k = static_cast<std::size_t>(row);
            low_[k] = std::min(low_[k], static_cast<int>(std::clamp(std::floor(low - spare), 0.0,
                                                                    1.0 * map_.columns)));
            high_[k] = std::max(high_[k], static_cast<int>(std::clamp(std::ceil(high + spare), -1.0,
                                                                      map_.columns - 1.0)));
        }
        first_row_ = std::min(first_row_, from);
        last_row_ = std::max(last_row_, to);
    }

    const MapGrid& map_;
    std::vector<int> low_, high_;
    int first_row_ = 0;
    int last_row_ = -1;
};

/// Runs every wedge once, on as many threads as there are workers, each with a worker of its own.
template <typename Worker>
void sweep_wedges(const Wedges& wedges, std::vector<Worker>& workers, Task& task,
                  const char* name = "sweep") {
    task.begin(name, wedge_count);
    parallel_for(wedge_count, static_cast<unsigned>(workers.size()),
                 [&](std::size_t k, unsigned worker) {
                     task.throw_if_stopped();
                     workers[worker].run(wedges[k]);
                     task.advance(1);
                 });
}

/// Calls `visit(column, row)` for the cells too near the site for radials.
void for_each_near_cell(const SweepPlan& plan, const std::function<void(int, int)>& visit);

/// Predicts them by the exact engine.
void sweep_near_cells(const SweepPlan& plan, SweepResult& result);

} // namespace earshot::coverage
