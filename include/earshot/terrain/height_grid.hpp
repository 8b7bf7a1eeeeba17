#pragma once

#include "earshot/terrain/georeference.hpp"

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <string_view>
#include <vector>

/// Heights in memory. The promise: a height that is not known is NaN and never a number.
///
///     const double height_m = ground.sample(geo::LatLon{46.9851, 15.0153});
///     const bool known = !std::isnan(height_m);

namespace earshot::terrain {

/// What heights are of.
enum class GroundKind : std::uint8_t {
    not_told, ///< taken for bare ground
    bare,     ///< the ground itself, without what stands on it
    surface,  ///< what is seen from above: tree tops and roofs where there are any
};
/// "not told", "bare ground", "surface with trees and roofs".
[[nodiscard]] std::string_view name_of(GroundKind kind);

/// Heights in memory: row-major Float32 metres above the datum of the source; NaN marks a void.
struct HeightGrid {
    int columns = 0;
    int rows = 0;
    Georeference georeference;
    std::vector<float> height_m;
    GroundKind kind = GroundKind::not_told;

    /// Where a cell stands in `height_m`.
    [[nodiscard]] std::size_t index(int column, int row) const {
        return static_cast<std::size_t>(row) * static_cast<std::size_t>(columns) +
               static_cast<std::size_t>(column);
    }
    [[nodiscard]] float at(int column, int row) const { return height_m[index(column, row)]; }
    /// Bilinear height between the four cell centres around a position; NaN if any of them is void
    /// or the position lies outside the outermost cell centres by more than half a cell (within
    /// that half cell the edge value is carried outward). A centre that carries no weight does not
    /// count.
    [[nodiscard]] double sample(CellPosition cell) const {
        // Most positions lie well inside, and this is the innermost loop of every profile. NaN
        // fails the comparison and takes the careful way.
        if (cell.column > 0.0 && cell.row > 0.0 && cell.column < columns - 1.0 &&
            cell.row < rows - 1.0) {
            const int left = static_cast<int>(cell.column);
            const int top = static_cast<int>(cell.row);
            const double right_share = cell.column - left;
            const double bottom_share = cell.row - top;
            if (right_share > 0.0 && bottom_share > 0.0) {
                return between(left, top, 1, 1, right_share, bottom_share);
            }
        }
        return sample_carefully(cell);
    }
    [[nodiscard]] double sample(geo::LatLon position) const {
        return sample(georeference.cell_of(position));
    }
    /// Whether a position lies on the grid (on a cell, void or not).
    [[nodiscard]] bool covers(CellPosition cell) const;

private:
    [[nodiscard]] double between(int left, int top, int step_right, int step_down,
                                 double right_share, double bottom_share) const {
        const float* upper = height_m.data() + static_cast<std::ptrdiff_t>(top) * columns + left;
        const float* lower = upper + static_cast<std::ptrdiff_t>(step_down) * columns;
        const double above = upper[0] + right_share * (static_cast<double>(upper[step_right]) -
                                                       static_cast<double>(upper[0]));
        const double below = lower[0] + right_share * (static_cast<double>(lower[step_right]) -
                                                       static_cast<double>(lower[0]));
        return above + bottom_share * (below - above);
    }
    [[nodiscard]] double sample_carefully(CellPosition cell) const;
};

/// Counts over loaded heights. Heights and their places are taken after filling, and are NaN if
/// all is void.
struct HeightSummary {
    double lowest_m = 0.0, highest_m = 0.0, mean_m = 0.0;
    geo::LatLon lowest, highest;
    std::uint64_t cells = 0;
    std::uint64_t void_cells = 0;   ///< as in the file, before filling
    std::uint64_t filled_cells = 0; ///< of those, filled by interpolation
    std::uint64_t voids = 0;        ///< connected void areas before filling
    std::uint64_t largest_void_cells = 0;
};

} // namespace earshot::terrain
