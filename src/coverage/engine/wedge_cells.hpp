#pragma once

#include "coverage/engine/sweep_plan.hpp"

#include <cstdint>
#include <span>
#include <utility>
#include <vector>

namespace earshot::coverage {

/// A cell between two neighbouring radials.
struct CellBetween {
    std::uint32_t cell;
    float range_m;
    float ground_m;
    float share;         ///< of the second radial in the cell's answer
    float cover_m;       ///< height of what grows or stands on it
    bool wooded;         ///< it is woodland
    std::uint8_t height; ///< number of the one in SweepPlan::receiver_heights_m
    /// What is asked of it. A cell whose loss is reckoned to a roof stands twice: its sight is that
    /// of the antenna.
    bool for_loss, for_sight;

    [[nodiscard]] double roofs_m() const { return wooded ? 0.0 : static_cast<double>(cover_m); }
};

/// The cells of a wedge that its radials answer for; keeps its memory from one wedge to the next.
class WedgeCells {
public:
    WedgeCells(const SweepPlan& plan, bool with_sight)
        : plan_(plan), with_sight_(with_sight), spans_(plan.map) {}

    /// Finds the wedge's cells over known ground and puts them in order of sector, and of range
    /// within a sector.
    void list(const Wedge& wedge);

    [[nodiscard]] std::span<const CellBetween> cells() const { return cells_; }
    using Places = std::pair<std::size_t, std::size_t>;
    /// Where among the cells those of the sector begin and end that a radial ends, or begins.
    [[nodiscard]] Places before_radial(std::size_t radial) const {
        return radial == 0 ? Places{0, 0}
                           : Places{sector_start_[radial - 1], sector_start_[radial]};
    }
    [[nodiscard]] Places behind_radial(std::size_t radial) const {
        return radial + 1 == sector_start_.size() ? Places{cells_.size(), cells_.size()}
                                                  : before_radial(radial + 1);
    }
    /// Cells passed over so far, in all wedges, since their ground is not known.
    [[nodiscard]] std::uint64_t off_terrain() const { return off_terrain_; }

private:
    void list_piece(const Wedge& wedge, int row, int first_column, int count,
                    const kernels::CellRow& cells);

    void add(const CellBetween& cell, std::uint32_t sector);

    const SweepPlan& plan_;
    bool with_sight_; ///< sight is asked for as well
    RowSpans spans_;
    std::vector<CellBetween> found_, cells_;
    std::vector<std::uint32_t> sector_of_, sector_start_, next_;
    std::vector<float> cell_ground_m_, range_m_, place_;
    std::uint64_t off_terrain_ = 0;
};

} // namespace earshot::coverage
