#pragma once

#include "earshot/propagation/path_loss.hpp"

#include <optional>

/// What a second model says of a path. Two models that were fitted to different measurements and
/// reckon with different pieces of the ground are seldom wrong alike: where they part, the answer
/// hangs on the choice, and people had better try the path.

namespace earshot::propagation {

/// The irregular terrain model for what is from P.1812, and P.1812 for small radios for that one.
/// The others are parts of a prediction or out of date, and have no second.
[[nodiscard]] std::optional<Method> second_method(Method method);

/// The conditions under which two models can be compared: half of the time and places, out of
/// doors.
[[nodiscard]] Conditions median_outdoors(const Conditions& conditions);

/// Under median_outdoors() and over bare ground: one of the two models takes no cover, and what the
/// woods around a terminal cost is the same for both.
[[nodiscard]] PathLoss bare_median_loss(const terrain::Profile& profile, AntennaHeights heights,
                                        const Conditions& conditions);

/// What the second model makes of a path.
struct SecondOpinion {
    std::optional<PathLoss> loss;      ///< bare_median_loss(); none if it refuses a value
    std::vector<std::string> warnings; ///< what lies outside its limits, a sentence each
};

/// Empty if there is no second, or over a void.
[[nodiscard]] SecondOpinion second_opinion(const terrain::Profile& profile, AntennaHeights heights,
                                           const Conditions& conditions);

/// The loss of the second model less that of the method of the conditions, both by
/// bare_median_loss(), dB. NaN if there is no second, if the irregular terrain model is outside its
/// limits (Result::within_limits), or over a void. `known` may be what path_loss() made of the same
/// path: it saves the work where it is the loss wanted.
[[nodiscard]] double apart_db(const terrain::Profile& profile, AntennaHeights heights,
                              const Conditions& conditions, const PathLoss* known = nullptr);

} // namespace earshot::propagation
