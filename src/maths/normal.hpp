#pragma once

/// The normal distribution of mean 0 and deviation 1.

namespace earshot::maths {

[[nodiscard]] double normal_density(double x);

/// Probability that a normal variable is below `x` (Abramowitz and Stegun 26.2.2).
[[nodiscard]] double normal_probability(double x);

/// The x below which a normal variable lies with probability `p`: the inverse of
/// normal_probability(), accurate to 1e-12 as far as `p` itself has digits (near 1 it has few).
/// Throws Error(Fault::usage) unless `p` lies strictly between 0 and 1.
[[nodiscard]] double normal_quantile(double p);

} // namespace earshot::maths
