#include "terrain/voids.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <map>
#include <numeric>
#include <utility>
#include <vector>

namespace earshot::terrain {

std::string_view name_of(GroundKind kind) {
    switch (kind) {
    case GroundKind::bare:
        return "bare ground";
    case GroundKind::surface:
        return "surface with trees and roofs";
    default:
        return "not told";
    }
}
namespace {

/// Void cells side by side in one row. A void is a set of runs that touch, so memory follows the
/// outline of the voids and not their area.
struct Run {
    int row;
    int first;
    int last;
};

std::vector<Run> void_runs(const HeightGrid& grid) {
    std::vector<Run> runs;
    for (int row = 0; row < grid.rows; ++row) {
        for (int column = 0; column < grid.columns; ++column) {
            if (!std::isnan(grid.at(column, row))) {
                continue;
            }
            if (!runs.empty() && runs.back().row == row && runs.back().last == column - 1) {
                runs.back().last = column;
            } else {
                runs.push_back({row, column, column});
            }
        }
    }
    return runs;
}

std::size_t root_of(std::vector<std::size_t>& parent, std::size_t item) {
    while (parent[item] != item) {
        parent[item] = parent[parent[item]];
        item = parent[item];
    }
    return item;
}

/// For each run, the run that stands for its void; runs that touch, also by a corner, share one.
std::vector<std::size_t> join_runs(const std::vector<Run>& runs) {
    std::vector<std::size_t> parent(runs.size());
    std::iota(parent.begin(), parent.end(), std::size_t{0});
    std::size_t above = 0;
    for (std::size_t k = 0; k < runs.size(); ++k) {
        // Runs are in order, so those that can touch this one from above form a sliding window.
        while (runs[above].row < runs[k].row - 1 ||
               (runs[above].row == runs[k].row - 1 && runs[above].last < runs[k].first - 1)) {
            ++above;
        }
        for (std::size_t j = above;
             runs[j].row == runs[k].row - 1 && runs[j].first <= runs[k].last + 1; ++j) {
            parent[root_of(parent, j)] = root_of(parent, k);
        }
    }
    for (std::size_t k = 0; k < runs.size(); ++k) {
        parent[k] = root_of(parent, k);
    }
    return parent;
}

/// Heights by row and column.
using Rim = std::map<std::pair<int, int>, double>;

/// The known cells around a void that lies wholly inside the grid.
Rim rim_of(const HeightGrid& grid, const std::vector<Run>& runs) {
    Rim rim;
    for (const Run& run : runs) {
        for (int row = run.row - 1; row <= run.row + 1; ++row) {
            for (int column = run.first - 1; column <= run.last + 1; ++column) {
                if (const float height = grid.at(column, row); !std::isnan(height)) {
                    rim[{row, column}] = static_cast<double>(height);
                }
            }
        }
    }
    return rim;
}

float from_rim(const Rim& rim, int column, int row) {
    double weights = 0.0;
    double sum = 0.0;
    for (const auto& [cell, height_m] : rim) {
        const double down = cell.first - row;
        const double across = cell.second - column;
        const double weight = 1.0 / (across * across + down * down);
        weights += weight;
        sum += weight * height_m;
    }
    return static_cast<float>(sum / weights);
}

bool touches_edge(const HeightGrid& grid, const Run& run) {
    return run.row == 0 || run.row == grid.rows - 1 || run.first == 0 ||
           run.last == grid.columns - 1;
}

} // namespace

bool HeightGrid::covers(CellPosition cell) const {
    return terrain::covers(columns, rows, cell);
}

double HeightGrid::sample_carefully(CellPosition cell) const {
    if (!covers(cell)) {
        return std::numeric_limits<double>::quiet_NaN();
    }
    const double column = std::clamp(cell.column, 0.0, columns - 1.0);
    const double row = std::clamp(cell.row, 0.0, rows - 1.0);
    const int left = static_cast<int>(column);
    const int top = static_cast<int>(row);
    const double right_share = column - left;
    const double bottom_share = row - top;
    return between(left, top, right_share > 0.0 ? 1 : 0, bottom_share > 0.0 ? 1 : 0, right_share,
                   bottom_share);
}

void fill_small_voids(HeightGrid& grid, int limit_cells, HeightSummary& summary) {
    const std::vector<Run> runs = void_runs(grid);
    const std::vector<std::size_t> root = join_runs(runs);
    struct Void {
        std::uint64_t cells = 0;
        bool at_edge = false;
    };
    std::vector<Void> voids(runs.size());
    for (std::size_t k = 0; k < runs.size(); ++k) {
        voids[root[k]].cells += static_cast<std::uint64_t>(runs[k].last - runs[k].first + 1);
        voids[root[k]].at_edge |= touches_edge(grid, runs[k]);
    }
    for (const Void& area : voids) {
        summary.void_cells += area.cells;
        summary.voids += area.cells > 0 ? 1 : 0;
        summary.largest_void_cells = std::max(summary.largest_void_cells, area.cells);
    }

    std::map<std::size_t, std::vector<Run>> small;
    for (std::size_t k = 0; k < runs.size(); ++k) {
        const Void& area = voids[root[k]];
        if (!area.at_edge && area.cells <= static_cast<std::uint64_t>(std::max(0, limit_cells))) {
            small[root[k]].push_back(runs[k]);
        }
    }
    // No two voids touch, so a rim never holds a cell that was filled just now.
    for (const auto& [which, area] : small) {
        const Rim rim = rim_of(grid, area);
        for (const Run& run : area) {
            for (int column = run.first; column <= run.last; ++column) {
                grid.height_m[grid.index(column, run.row)] = from_rim(rim, column, run.row);
                ++summary.filled_cells;
            }
        }
    }
}

} // namespace earshot::terrain
