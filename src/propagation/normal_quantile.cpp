#include "propagation/normal_quantile.hpp"

#include <algorithm>
#include <cmath>

namespace earshot::propagation {

double normal_exceedance_deviate(double probability) {
    const double p = std::clamp(probability, 1e-6, 1.0 - 1e-6);
    const double tail = std::min(p, 1.0 - p);
    const double t = std::sqrt(-2.0 * std::log(tail));
    const double correction = ((0.010328 * t + 0.802853) * t + 2.515516698) /
                              (((0.001308 * t + 0.189269) * t + 1.432788) * t + 1.0);
    const double deviate = t - correction;
    return p <= 0.5 ? deviate : -deviate;
}

} // namespace earshot::propagation
