#pragma once

#include "earshot/coverage/coverage.hpp"
#include "earshot/coverage/map_grid.hpp"

#include <vector>

namespace earshot::coverage {

/// Chance of contact in each cell, %, from the losses from a site of half and of 10 % of the time,
/// from doubt_values() or none, and from the margin if nothing were lost.
[[nodiscard]] std::vector<float> chance_values(const Job& job, const MapGrid& map,
                                               const link::Station& site,
                                               double margin_without_path_db,
                                               const std::vector<float>& median_loss_db,
                                               const std::vector<float>& seldom_loss_db,
                                               const std::vector<float>& apart_db, Task& task);

} // namespace earshot::coverage
