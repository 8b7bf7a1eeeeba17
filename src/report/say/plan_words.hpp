#pragma once

#include "plan/fallback.hpp"
#include "plan/ladder.hpp"
#include "plan/mast.hpp"
#include "plan/relay_search.hpp"

#include <cstddef>
#include <span>
#include <string>

/// What a plan comes to, in sentences without a capital at the start and a full stop at the end.

namespace earshot::report {

/// "exact search: no choice among these candidates does better", "greedy search: at least 93 % of
/// the best possible choice among these candidates".
[[nodiscard]] std::string choice_words(const maths::CoverAnswer& answer);

/// "9 of 12", with the weight where places do not all count alike: "9 of 12 (340 of 420 people)".
[[nodiscard]] std::string served_words(std::size_t served, std::size_t places, double weight,
                                       double total);

/// What goes after "because": the ground that stands in the way, or the distance.
[[nodiscard]] std::string miss_words(const plan::Miss& miss);

/// "hears 11 of 12; misses Mill because the ground 2.1 km from the relay stands 40 m above the
/// line; linked with ...", or what of the area the site covers. `places` are those asked for.
[[nodiscard]] std::string site_words(const plan::RelayAnswer& answer, std::size_t site,
                                     std::span<const plan::ServedPlace> places);
[[nodiscard]] std::string site_words(const plan::RelayAnswer& answer,
                                     const plan::RankedCandidate& single,
                                     std::span<const plan::ServedPlace> places);

/// How relays were chosen and how far from the best the choice can be.
[[nodiscard]] std::string relay_words(const plan::RelayAnswer& answer);

/// How high the antenna of the station named `whose` must stand.
[[nodiscard]] std::string mast_words(const plan::MastAnswer& answer, const std::string& whose,
                                     double wanted_margin_db);

/// "Quorrel Hill, 1.2 km north-east, 140 m up: talks with 4 of 5 from there".
[[nodiscard]] std::string fallback_words(const plan::Fallback& fallback);

/// "half of directions reach 2.4 km; best 9.1 km north; worst 800 m east".
[[nodiscard]] std::string range_words(const plan::FootRange& range);

/// "2 W to 5 W at both ends"; "as it is" at the start.
[[nodiscard]] std::string rung_words(const plan::Rung& rung);

/// Which lever comes first, and what all of them reach.
[[nodiscard]] std::string ladder_words(const plan::LadderAnswer& answer);

} // namespace earshot::report
