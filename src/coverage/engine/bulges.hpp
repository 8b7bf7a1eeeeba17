#pragma once

#include "earshot/terrain/height_grid.hpp"

#include <cstddef>
#include <cstdint>
#include <vector>

namespace earshot::coverage {

/// Where the ground of a raster is curved between four centres of cells, in blocks of cells: so
/// much that half way between two crossings it may rise by more than a given height above the line
/// between them. Most ground is not, and need not be looked at there.
class Bulges {
public:
    /// Looks at the cells that lie no farther than `reach` cells from one; all others may bulge.
    Bulges(const terrain::HeightGrid& ground, double least_m, terrain::CellPosition around,
           double reach);

    /// Whether the ground may bulge along a line between two positions on the raster.
    [[nodiscard]] bool along(terrain::CellPosition from, terrain::CellPosition to) const;

private:
    static constexpr int side = 32; ///< of a block, cells

    int columns_, rows_; ///< of blocks
    std::vector<std::uint8_t> may_;
};

} // namespace earshot::coverage
