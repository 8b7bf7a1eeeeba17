#include "terrain/voids.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numeric>
#include <vector>

namespace earshot::terrain {
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

struct RimCell {
    int column;
    int row;
    double height_m;
};

/// The known cells around a void that lies wholly inside the grid.
std::vector<RimCell> rim_of(const HeightGrid& grid, const std::vector<Run>& runs) {
    std::vector<RimCell> rim;
    for (const Run& run : runs) {
        for (int row = run.row - 1; row <= run.row + 1; ++row) {
            for (int column = run.first - 1; column <= run.last + 1; ++column) {
                if (const float height = grid.at(column, row); !std::isnan(height)) {
                    rim.push_back({column, row, static_cast<double>(height)});
                }
            }
        }
    }
    const auto place = [](const RimCell& a, const RimCell& b) {
        return a.row != b.row ? a.row < b.row : a.column < b.column;
    };
    std::sort(rim.begin(), rim.end(), place);
    const auto same = [](const RimCell& a, const RimCell& b) {
        return a.row == b.row && a.column == b.column;
    };
    rim.erase(std::unique(rim.begin(), rim.end(), same), rim.end());
    return rim;
}

float from_rim(const std::vector<RimCell>& rim, int column, int row) {
    double weights = 0.0;
    double sum = 0.0;
    for (const RimCell& cell : rim) {
        const double across = cell.column - column;
        const double down = cell.row - row;
        const double weight = 1.0 / (across * across + down * down);
        weights += weight;
        sum += weight * cell.height_m;
    }
    return static_cast<float>(sum / weights);
}

bool touches_edge(const HeightGrid& grid, const Run& run) {
    return run.row == 0 || run.row == grid.rows - 1 || run.first == 0 ||
           run.last == grid.columns - 1;
}

} // namespace

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

    std::vector<std::size_t> small;
    for (std::size_t k = 0; k < runs.size(); ++k) {
        const Void& area = voids[root[k]];
        if (!area.at_edge && area.cells <= static_cast<std::uint64_t>(std::max(0, limit_cells))) {
            small.push_back(k);
        }
    }
    std::stable_sort(small.begin(), small.end(),
                     [&](std::size_t a, std::size_t b) { return root[a] < root[b]; });
    for (std::size_t begin = 0; begin < small.size();) {
        std::vector<Run> area;
        std::size_t end = begin;
        for (; end < small.size() && root[small[end]] == root[small[begin]]; ++end) {
            area.push_back(runs[small[end]]);
        }
        // No two voids touch, so a rim never holds a cell that was filled just now.
        const std::vector<RimCell> rim = rim_of(grid, area);
        for (const Run& run : area) {
            for (int column = run.first; column <= run.last; ++column) {
                grid.height_m[static_cast<std::size_t>(run.row) *
                                  static_cast<std::size_t>(grid.columns) +
                              static_cast<std::size_t>(column)] = from_rim(rim, column, run.row);
                ++summary.filled_cells;
            }
        }
        begin = end;
    }
}

} // namespace earshot::terrain
