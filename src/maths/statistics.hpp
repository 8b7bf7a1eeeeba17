#pragma once

#include <cstddef>
#include <span>

namespace earshot::maths {

// The normal distribution of mean 0 and deviation 1.

[[nodiscard]] double normal_density(double x);

/// Probability that a normal variable is below `x` (Abramowitz and Stegun 26.2.2).
[[nodiscard]] double normal_probability(double x);

/// The x below which a normal variable lies with probability `p`: the inverse of
/// normal_probability(), accurate to 1e-12 as far as `p` itself has digits (near 1 it has few).
/// Throws Error(Fault::usage) unless `p` lies strictly between 0 and 1.
[[nodiscard]] double normal_quantile(double p);

// Intervals that hold the truth 95 times of 100, where what was counted or measured comes in groups
// that are alike within: it is the groups that count.

struct Interval {
    double low = 0.0;
    double high = 0.0;
    [[nodiscard]] bool holds(double value) const { return value >= low && value <= high; }
};

/// Share of confidence of all intervals here.
inline constexpr double confidence = 0.95;

/// What a standard error found from `groups` groups is multiplied by for the half width: the 97.5 %
/// point of Student's t with one degree of freedom less (Abramowitz and Stegun 26.7.3 and 26.7.4).
/// `groups` must be at least 2.
[[nodiscard]] double student_factor(std::size_t groups);

/// For a share of successes: Wilson's score interval (E. B. Wilson, J. Amer. Statist. Assoc. 22,
/// 209-212, 1927) for as many independent trials as say as much as these, which come in groups
/// (the design effect of L. Kish, "Survey sampling", 1965). `successes` and `trials` have one entry
/// for each group. The whole range without trials.
[[nodiscard]] Interval share_interval(std::span<const std::size_t> successes,
                                      std::span<const std::size_t> trials);

} // namespace earshot::maths
