#include "maths/statistics.hpp"

#include "base/require.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace earshot::maths {
namespace {

/// Probability above `x`, without loss of digits for large `x`.
double upper_tail(double x) {
    return 0.5 * std::erfc(x / std::numbers::sqrt2);
}

/// Probability that Student's t lies between -t and t = sqrt(n) tan(angle).
double within(double angle, std::size_t n) {
    const double c = std::cos(angle);
    const bool odd = n % 2 == 1;
    // cos, 2/3 cos^3, 2/3 4/5 cos^5 ... for an odd n; 1, 1/2 cos^2, 1/2 3/4 cos^4 ... for an even.
    double term = odd ? c : 1.0;
    double sum = odd && n == 1 ? 0.0 : term;
    for (std::size_t k = odd ? 3 : 2; k + 2 <= n; k += 2) {
        const auto x = static_cast<double>(k);
        term *= (x - 1.0) / x * c * c;
        sum += term;
    }
    sum *= std::sin(angle);
    return odd ? (angle + sum) * 2.0 / std::numbers::pi : sum;
}

} // namespace

double normal_density(double x) {
    return std::exp(-0.5 * x * x) / std::sqrt(2.0 * std::numbers::pi);
}

double normal_probability(double x) {
    return upper_tail(-x);
}

double normal_quantile(double p) {
    require_usage(p > 0.0 && p < 1.0, "a probability of {}: give a value between 0 and 1", p);
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

double student_factor(std::size_t groups) {
    const std::size_t n = groups - 1;
    double low = 0.0;
    double high = std::numbers::pi / 2.0;
    for (int halvings = 0; halvings < 52; ++halvings) {
        const double middle = 0.5 * (low + high);
        (within(middle, n) < confidence ? low : high) = middle;
    }
    return std::sqrt(static_cast<double>(n)) * std::tan(low);
}

Interval share_interval(std::span<const std::size_t> successes,
                        std::span<const std::size_t> trials) {
    double all = 0.0;
    double won = 0.0;
    for (std::size_t k = 0; k < trials.size(); ++k) {
        all += static_cast<double>(trials[k]);
        won += static_cast<double>(successes[k]);
    }
    if (all == 0.0) {
        return {0.0, 1.0};
    }
    const double p = won / all;
    const auto groups = static_cast<double>(trials.size());
    // Variance of a ratio over groups; of no use if all trials went the same way.
    double squares = 0.0;
    for (std::size_t k = 0; k < trials.size(); ++k) {
        const double off = static_cast<double>(successes[k]) - p * static_cast<double>(trials[k]);
        squares += off * off;
    }
    const double variance = groups > 1.0 ? squares * groups / (groups - 1.0) / (all * all) : 0.0;
    const bool one_sided = won == 0.0 || won == all;
    const double independent =
        variance > 0.0 && !one_sided ? std::clamp(p * (1.0 - p) / variance, 1.0, all) : groups;
    const double z = normal_quantile(0.5 + 0.5 * confidence);
    const double wide = z * z / independent;
    const double centre = (p + 0.5 * wide) / (1.0 + wide);
    const double half_width =
        z * std::sqrt(p * (1.0 - p) / independent + 0.25 * wide / independent) / (1.0 + wide);
    return {std::max(0.0, centre - half_width), std::min(1.0, centre + half_width)};
}

} // namespace earshot::maths
