#include "coverage/engine/bulges.hpp"

#include <algorithm>
#include <cmath>

namespace earshot::coverage {

Bulges::Bulges(const terrain::HeightGrid& ground, double least_m, terrain::CellPosition around,
               double reach)
    : columns_((ground.columns + side - 1) / side), rows_((ground.rows + side - 1) / side),
      may_(static_cast<std::size_t>(columns_) * static_cast<std::size_t>(rows_), 1) {
    // Between centres of heights a, b and, below them, c, d a line that passes `u` columns and `v`
    // rows is u v (b + c - a - d) / 4 higher in its middle than half way between its ends. A little
    // less than that is asked for: heights along a radial are rounded.
    const auto least_twist = static_cast<float>(3.99 * least_m);
    const auto clipped = [](double value, int count) {
        return static_cast<int>(std::clamp(value, 0.0, static_cast<double>(count)));
    };
    const int left = clipped(std::ceil((around.column - reach) / side), columns_);
    const int right = clipped(std::floor((around.column + reach) / side), columns_);
    const int top = clipped(std::ceil((around.row - reach) / side), rows_);
    const int bottom = clipped(std::floor((around.row + reach) / side), rows_);
    for (int block_row = top; block_row < bottom; ++block_row) {
        for (int block = left; block < right; ++block) {
            const int from = block * side;
            const int count = std::min(side, ground.columns - 1 - from);
            int found = 0;
            for (int row = block_row * side;
                 row < std::min((block_row + 1) * side, ground.rows - 1); ++row) {
                const float* upper = &ground.height_m[static_cast<std::size_t>(row) *
                                                          static_cast<std::size_t>(ground.columns) +
                                                      static_cast<std::size_t>(from)];
                const float* lower = upper + ground.columns;
                for (int k = 0; k < count; ++k) {
                    const float twist = upper[k + 1] + lower[k] - upper[k] - lower[k + 1];
                    found |= std::abs(twist) <= least_twist ? 0 : 1; // a void may bulge
                }
            }
            may_[static_cast<std::size_t>(block_row) * static_cast<std::size_t>(columns_) +
                 static_cast<std::size_t>(block)] = static_cast<std::uint8_t>(found);
        }
    }
}

bool Bulges::along(terrain::CellPosition from, terrain::CellPosition to) const {
    const auto block = [](double cell) { return static_cast<int>(cell) / side; };
    const int left = std::max(0, block(std::min(from.column, to.column)));
    const int right = std::min(columns_ - 1, block(std::max(from.column, to.column)));
    const int top = std::max(0, block(std::min(from.row, to.row)));
    const int bottom = std::min(rows_ - 1, block(std::max(from.row, to.row)));
    for (int row = top; row <= bottom; ++row) {
        for (int column = left; column <= right; ++column) {
            if (may_[static_cast<std::size_t>(row) * static_cast<std::size_t>(columns_) +
                     static_cast<std::size_t>(column)] != 0) {
                return true;
            }
        }
    }
    return false;
}

} // namespace earshot::coverage
