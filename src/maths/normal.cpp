#include "maths/normal.hpp"

#include "earshot/base/error.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace earshot::maths {
namespace {

/// Probability above `x`, without loss of digits for large `x`.
double upper_tail(double x) {
    return 0.5 * std::erfc(x / std::numbers::sqrt2);
}

} // namespace

double normal_density(double x) {
    return std::exp(-0.5 * x * x) / std::sqrt(2.0 * std::numbers::pi);
}

double normal_probability(double x) {
    return upper_tail(-x);
}

double normal_quantile(double p) {
    if (!(p > 0.0 && p < 1.0)) {
        throw_usage(fmt::format("a probability of {}: give a value between 0 and 1", p));
    }
    // In the upper tail, where erfc keeps its digits, by Newton's method on the logarithm of the
    // tail. That is concave and the start lies beyond the solution, so it is safe.
    const double tail = std::min(p, 1.0 - p);
    double x = std::sqrt(-2.0 * std::log(tail));
    constexpr int steps = 8; // one or two more than any tail was seen to need
    for (int step = 0; step < steps; ++step) {
        const double above = upper_tail(x);
        x += std::log(above / tail) * above / normal_density(x);
    }
    return p < 0.5 ? -x : x;
}

} // namespace earshot::maths
