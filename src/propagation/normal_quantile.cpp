#include "propagation/normal_quantile.hpp"

#include "propagation/plain.hpp"

#include <algorithm>
#include <cmath>

namespace earshot::propagation {

double normal_exceedance_deviate(double probability) {
    const double p = std::clamp(probability, 1e-6, 1.0 - 1e-6);
    const double tail = std::min(p, 1.0 - p);
    const double deviate = plain::tail_deviate(std::log(tail));
    return p <= 0.5 ? deviate : -deviate;
}

} // namespace earshot::propagation
