#pragma once

namespace earshot::propagation {

/// Number of standard deviations above the mean that a normal variable exceeds with probability
/// `probability`: positive below 0.5, zero at 0.5 to 1e-9. Rational approximation with an error
/// under 4.5e-4 (ITU-R P.1812-8 attachment 2 to annex 1, equations (94a) to (95d); Abramowitz and
/// Stegun 26.2.23), kept because the standard's own results rest on it. Probabilities are limited
/// to [1e-6, 1 - 1e-6] as the standard says.
[[nodiscard]] double normal_exceedance_deviate(double probability);

} // namespace earshot::propagation
