#include "coverage/compose.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace earshot::coverage {

void Composition::add(std::vector<float> margin_db, double wanted_db, bool counted) {
    ++sites;
    const auto wanted = static_cast<float>(wanted_db);
    if (counted) {
        sites_heard.resize(margin_db.size(), std::numeric_limits<float>::quiet_NaN());
        serving_site.resize(margin_db.size(), std::numeric_limits<float>::quiet_NaN());
    }
    for (std::size_t i = 0; counted && i < margin_db.size(); ++i) {
        const float margin = margin_db[i];
        if (std::isnan(margin)) {
            continue;
        }
        const bool first = std::isnan(sites_heard[i]);
        sites_heard[i] = (first ? 0.0F : sites_heard[i]) + (margin >= wanted ? 1.0F : 0.0F);
        if (first || margin > best_margin_db[i]) {
            serving_site[i] = margin >= wanted ? static_cast<float>(sites) : 0.0F;
        }
    }
    keep_best(best_margin_db, std::move(margin_db));
}

void keep_best(std::vector<float>& best, std::vector<float> values) {
    if (best.empty()) {
        best = std::move(values);
        return;
    }
    for (std::size_t i = 0; i < best.size(); ++i) {
        best[i] = std::fmax(best[i], values[i]);
    }
}

void keep_best(std::vector<SightClass>& best, std::vector<SightClass> classes) {
    if (best.empty()) {
        best = std::move(classes);
        return;
    }
    for (std::size_t i = 0; i < best.size(); ++i) {
        if (best[i] == SightClass::unknown ||
            (classes[i] != SightClass::unknown && classes[i] > best[i])) {
            best[i] = classes[i];
        }
    }
}

} // namespace earshot::coverage
