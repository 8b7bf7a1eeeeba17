#pragma once

#include "earshot/coverage/sweep.hpp"

#include <cstddef>
#include <vector>

namespace earshot::coverage {

/// Maps of several sites on one grid put together.
struct Composition {
    std::size_t sites = 0;
    std::vector<float> best_margin_db; ///< NaN where none is known
    std::vector<float> sites_heard;    ///< how many; NaN where no margin is known
    /// Number of the site with the best margin, 0 if that one is not heard, NaN where none is
    /// known. Sites count from 1 in the order they are added; of equals, the one added first.
    std::vector<float> serving_site;

    /// Adds the next site's margins, dB, one for each cell (NaN where not known). A site is heard
    /// where it has the wanted margin. Only if all are counted does the composition know which
    /// sites are heard.
    void add(std::vector<float> margin_db, double wanted_db = 0.0, bool counted = true);
};

/// Keeps the greater of two values that are known. Nothing is less than anything.
void keep_best(std::vector<float>& best, std::vector<float> values);
void keep_best(std::vector<SightClass>& best, std::vector<SightClass> classes);

} // namespace earshot::coverage
