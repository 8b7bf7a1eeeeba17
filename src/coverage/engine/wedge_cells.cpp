#include "coverage/engine/wedge_cells.hpp"

#include <algorithm>
#include <cmath>

namespace earshot::coverage {

void WedgeCells::list(const Wedge& wedge) {
    found_.clear();
    sector_of_.clear();
    sector_start_.assign(wedge.sectors + 1, 0);
    spans_.cover(plan_, wedge);
    spans_.for_each_row([&](int row, int first_column, int count) {
        plan_.for_each_piece(wedge, row, first_column, count,
                             [&](const kernels::CellRow& cells, int column, int cell_count) {
                                 list_piece(wedge, row, column, cell_count, cells);
                             });
    });
    for (std::size_t s = 0; s < wedge.sectors; ++s) {
        sector_start_[s + 1] += sector_start_[s];
    }
    cells_.resize(found_.size());
    next_.assign(sector_start_.begin(), sector_start_.end() - 1);
    for (std::size_t i = 0; i < found_.size(); ++i) {
        cells_[next_[sector_of_[i]]++] = found_[i];
    }
    for (std::size_t s = 0; s < wedge.sectors; ++s) {
        std::sort(cells_.begin() + sector_start_[s], cells_.begin() + sector_start_[s + 1],
                  [](const CellBetween& a, const CellBetween& b) { return a.range_m < b.range_m; });
    }
}

/// Lists those of a piece of a row of cells that lie in the wedge.
void WedgeCells::list_piece(const Wedge& wedge, int row, int first_column, int count,
                            const kernels::CellRow& cells) {
    const auto size = static_cast<std::size_t>(count);
    range_m_.resize(size);
    place_.resize(size);
    kernels::place_cells(cells, SweepPlan::frame_of(wedge), size, range_m_.data(), place_.data());
    const float* ground_m = nullptr;
    const auto sectors = static_cast<float>(wedge.sectors);
    const double near_m = plan_.near_m();
    const double far_m = plan_.request.range_m;
    const auto surely_near = static_cast<float>(near_m - 1.0);
    const auto surely_far = static_cast<float>(far_m + 1.0);
    for (std::size_t k = 0; k < size; ++k) {
        float place = place_[k];
        const float range_m = range_m_[k];
        if (place < -doubtful_sectors || place > sectors + doubtful_sectors ||
            range_m < surely_near || range_m > surely_far) {
            continue;
        }
        const int column = first_column + static_cast<int>(k);
        if (place < doubtful_sectors || place > sectors - doubtful_sectors ||
            range_m < surely_near + 2.0F || range_m > surely_far - 2.0F) {
            const Place exact = plan_.place_of(column, row);
            if (exact.wedge() != wedge.number || exact.range_m < near_m || exact.range_m > far_m) {
                continue;
            }
            place = std::clamp(place, 0.0F, std::nextafter(sectors, 0.0F));
        }
        if (ground_m == nullptr) {
            ground_m = plan_.cell_ground(row, first_column, count, cell_ground_m_);
        }
        if (std::isnan(ground_m[k])) {
            ++off_terrain_;
            continue;
        }
        const auto sector = static_cast<std::uint32_t>(place);
        const terrain::CoverClass* cover = plan_.cell_cover(column, row);
        CellBetween cell{static_cast<std::uint32_t>(plan_.cell_index(column, row)),
                         range_m,
                         ground_m[k],
                         place - static_cast<float>(sector),
                         cover != nullptr ? static_cast<float>(cover->height_m) : 0.0F,
                         cover != nullptr && cover->woodland,
                         static_cast<std::uint8_t>(plan_.height_of(cover)),
                         true,
                         with_sight_};
        if (cell.height != 0 && cell.for_sight) {
            CellBetween seen = cell;
            seen.height = 0;
            seen.for_loss = cell.for_sight = false;
            add(seen, sector);
        }
        add(cell, sector);
    }
}

void WedgeCells::add(const CellBetween& cell, std::uint32_t sector) {
    found_.push_back(cell);
    sector_of_.push_back(sector);
    ++sector_start_[sector + 1];
}

} // namespace earshot::coverage
