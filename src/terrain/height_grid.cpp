#include "earshot/terrain/height_grid.hpp"

#include <algorithm>
#include <limits>

namespace earshot::terrain {

bool HeightGrid::covers(CellPosition cell) const {
    return cell.column >= -0.5 && cell.row >= -0.5 && cell.column <= columns - 0.5 &&
           cell.row <= rows - 0.5;
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

} // namespace earshot::terrain
