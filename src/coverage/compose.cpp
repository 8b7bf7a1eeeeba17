#include "coverage/compose.hpp"

#include <cmath>
#include <limits>

namespace earshot::coverage {
namespace {

constexpr float unknown = std::numeric_limits<float>::quiet_NaN();

} // namespace

Composition::Composition(std::size_t cells)
    : best_db_(cells, unknown), heard_(cells, unknown), server_(cells, unknown) {}

void Composition::add(std::span<const float> margin_db) {
    ++sites_;
    for (std::size_t i = 0; i < best_db_.size(); ++i) {
        const float margin = margin_db[i];
        if (std::isnan(margin)) {
            continue;
        }
        const bool first = std::isnan(best_db_[i]);
        if (first || margin > best_db_[i]) {
            best_db_[i] = margin;
            server_[i] = static_cast<float>(sites_);
        }
        heard_[i] = (first ? 0.0F : heard_[i]) + (margin >= 0.0F ? 1.0F : 0.0F);
    }
}

std::vector<float> Composition::serving_site() const {
    std::vector<float> serving = server_;
    for (std::size_t i = 0; i < serving.size(); ++i) {
        if (best_db_[i] < 0.0F) {
            serving[i] = 0.0F;
        }
    }
    return serving;
}

} // namespace earshot::coverage
