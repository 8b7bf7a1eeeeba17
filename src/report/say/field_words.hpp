#pragma once

#include "field/correction_fit.hpp"
#include "field/verification.hpp"
#include "field/walk_test.hpp"

#include <string>
#include <string_view>
#include <vector>

/// What logs, walk tests and corrections come to, in sentences without a capital at the start and a
/// full stop at the end.

namespace earshot::report {

/// "power", "antenna" ..., "several things".
[[nodiscard]] std::string_view change_name(field::SetUpChange change);
[[nodiscard]] std::string lever_test_words(const field::LeverTest& test);
/// What follows from a verification, a sentence each.
[[nodiscard]] std::vector<std::string> verification_words(const field::Verification& verification);

/// "losses in woods", "antenna stock".
[[nodiscard]] std::string term_words(const field::RefusedTerm& term);
/// Why it was not fitted: what goes after a colon.
[[nodiscard]] std::string refusal_words(const field::RefusedTerm& term,
                                        const field::CorrectionFit& fit);
/// How a correction was fitted.
[[nodiscard]] std::string model_words(const field::CorrectionFit& fit,
                                      const field::CorrectionRequest& request);

/// Why these stops, and why this order of set-ups; empty if nobody chose them.
[[nodiscard]] std::string stops_words(const field::WalkPlan& plan);
[[nodiscard]] std::string order_words(const field::WalkPlan& plan);
/// About how long the test takes on foot: calls, changes of set-up, arriving at stops and the way
/// between them. Common practice, no source, which the words say.
[[nodiscard]] double walk_minutes(const field::WalkPlan& plan);
[[nodiscard]] std::string walk_time_words(const field::WalkPlan& plan);
/// How few calls tell nearly as much, and how that was worked out; empty if there are not more.
[[nodiscard]] std::string fewer_calls_words(const field::WalkPlan& plan);
/// What the user should know, a sentence each.
[[nodiscard]] std::vector<std::string> walk_notes(const field::WalkPlan& plan);

} // namespace earshot::report
