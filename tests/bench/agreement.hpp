#pragma once

#include "maps.hpp"

#include <string>
#include <vector>

namespace earshot::bench {

/// Why the carried engine's answer for a cell is not the exact one, judged by exact predictions
/// at the same range and ground height to either side of it, as far off as the two radials are.
enum class Cause {
    sight,    ///< the site is seen from one side and hidden from the other
    horizons, ///< hidden, and the horizons of the sides are not those of the cell
    surface,  ///< the smooth-earth loss of the sides is not that of the cell: the smooth surface
              ///< of the standard's diffraction model lies otherwise below an antenna there
    nearby,   ///< none of these: the ground beside the path differs by degrees
};

struct CellDifference {
    Cell cell;
    double range_km;
    double exact_db;
    double carried_db;
    Cause cause;
    std::string sides; ///< the exact losses to the left and right, and what differs there
    [[nodiscard]] double size_db() const;
};

/// How the carried engine differs from the exact one over a sample of cells.
struct Agreement {
    std::size_t cells = 0;
    double within_tenth = 0.0; ///< number of cells within 0.1 dB
    double within_half = 0.0;
    double p95_db = 0.0;
    double p99_db = 0.0;
    std::size_t other_sight = 0;       ///< blocked in one, not in the other
    std::vector<CellDifference> worst; ///< five, the largest first
    std::size_t beyond_half_by_cause[4] = {};
};

[[nodiscard]] Agreement compare_with_exact(const Map& map, const coverage::SweepResult& carried,
                                           std::size_t cells);

[[nodiscard]] std::string cause_name(Cause cause);

} // namespace earshot::bench
