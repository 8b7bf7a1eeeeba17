#pragma once

#include "earshot/coverage/sweep.hpp"
#include "grounds.hpp"

#include <vector>

namespace earshot::bench {

/// A map over all of a ground from a station at the centre of one of its cells.
struct Map {
    const terrain::HeightGrid& ground;
    coverage::MapGrid grid;
    terrain::CellPosition site_cell;
    coverage::SweepRequest request;
    double cell_m; ///< smaller side of a cell of the ground
    unsigned threads;
};

inline constexpr double site_antenna_m = 10.0;
inline constexpr double receiver_antenna_m = 1.5;

/// The station stands in the middle cell; the range reaches the corners. Everything else is as the
/// program has it by default.
[[nodiscard]] Map map_of(const terrain::HeightGrid& ground, unsigned threads);
[[nodiscard]] Map map_of(const terrain::HeightGrid& ground, terrain::CellPosition site_cell,
                         unsigned threads);

struct Cell {
    int column;
    int row;
};

/// Distinct cells within range, the same in every run, in no order; not the station's own.
[[nodiscard]] std::vector<Cell> random_cells(const Map& map, std::size_t count);

[[nodiscard]] std::size_t index_of(const Map& map, Cell cell);

/// The cells of the map, each over a fresh profile, by the exact engine; others stay unknown.
[[nodiscard]] coverage::SweepResult exact_cells(const Map& map, const std::vector<Cell>& cells,
                                                const coverage::SweepRequest& request);

} // namespace earshot::bench
