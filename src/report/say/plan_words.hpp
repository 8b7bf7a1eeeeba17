#pragma once

#include "plan/fallback.hpp"
#include "plan/ladder.hpp"
#include "plan/mast.hpp"
#include "plan/relay_search.hpp"

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

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

/// "Quorrel Hill, 1.2 km north-east (41 deg), 140 m up: talks with 4 of 5 from there", or that none
/// was found and what was tried.
[[nodiscard]] std::string fallback_words(const plan::Fallback& fallback);
/// "Quorrel Hill" or "High ground at 33S ...".
[[nodiscard]] std::string fallback_name(const plan::Fallback& fallback);

/// "half of directions reach 2.4 km, with gaps of a tenth of the way at most; best 9.1 km north (10
/// deg); worst 800 m east (90 deg); without any gap half reach 1.9 km, and the worst 300 m ...".
[[nodiscard]] std::string range_words(const plan::FootRange& range);

/// "the half-wave antenna here"; without `both_ends`, nothing is said of where.
[[nodiscard]] std::string pull_words(const plan::Pull& pull, bool both_ends = true);

/// "on the belt".
[[nodiscard]] std::string worn_words(const std::optional<link::Carried>& worn);

/// "Nessavin, Quorrel"; of many, the first.
[[nodiscard]] std::string names_words(const std::vector<std::string>& names);

/// "+3.0 dB"; empty where a step adds nothing to the median margin.
[[nodiscard]] std::string gain_of(const plan::Rung& rung);

/// "2 W to 5 W at both ends"; "as it is" at the start.
[[nodiscard]] std::string rung_words(const plan::Rung& rung);

/// The steps that help, together.
[[nodiscard]] std::string help_words(const plan::Help& help, bool both_ends = true);

/// "Drumacre Farm: holding the radio at the face instead of on the belt; then it talks with ...".
[[nodiscard]] std::string station_help_words(const std::string& station, const plan::Help& help);

/// What of a ladder without height gets the call through, before a mast is put up; empty if it gets
/// through as it is, else what there is to gain without one.
[[nodiscard]] std::string before_mast_words(const plan::LadderAnswer& answer);

/// What gets the call through or reaches more, which lever comes first, and what all of them reach.
[[nodiscard]] std::string ladder_words(const plan::LadderAnswer& answer);

} // namespace earshot::report
