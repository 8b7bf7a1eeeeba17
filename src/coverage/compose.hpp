#pragma once

#include "earshot/coverage/raster.hpp"

#include <cstddef>
#include <span>
#include <vector>

namespace earshot::coverage {

/// Maps of several sites on one grid put together: the best margin in each cell, how many sites are
/// heard there, and which serves best.
class Composition {
public:
    explicit Composition(std::size_t cells);

    /// Adds the next site's margins, dB, one for each cell (NaN where not known). Sites count from
    /// 1 in the order they are added. A site is heard where its margin is 0 dB or more.
    void add(std::span<const float> margin_db);

    /// Best margin of all sites, NaN where none is known.
    [[nodiscard]] const std::vector<float>& best_margin_db() const { return best_db_; }
    /// Number of sites heard, NaN where no margin is known.
    [[nodiscard]] const std::vector<float>& sites_heard() const { return heard_; }
    /// Number of the site with the best margin, 0 if that one is not heard, NaN where none is
    /// known. Of equals, the one added first.
    [[nodiscard]] std::vector<float> serving_site() const;

private:
    std::size_t sites_ = 0;
    std::vector<float> best_db_, heard_, server_;
};

} // namespace earshot::coverage
