#pragma once

#include "earshot/base/task.hpp"
#include "earshot/coverage/coverage.hpp"
#include "earshot/terrain/height_grid.hpp"
#include "plan/relay_search.hpp"

#include <vector>

namespace earshot::app {

/// The map of chosen sites on the elevation's own cells within range of any of them: for each site
/// a band of the margin that a `person` has with it, the weaker way of both, named after the site;
/// then the best of these margins, the number of sites that give the wanted one, and which of them
/// is best. The loss of the way out is taken for the way back too. Throws as coverage::run().
[[nodiscard]] coverage::CoverageRaster relay_map(const std::vector<plan::RelaySite>& sites,
                                                 const link::Station& person,
                                                 const plan::RelayQuestion& question,
                                                 const coverage::InputLabels& labels,
                                                 Task& task = silent_task());

} // namespace earshot::app
