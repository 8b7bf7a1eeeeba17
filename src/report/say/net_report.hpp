#pragma once

#include "plan/hearing.hpp"
#include "plan/ladder.hpp"
#include "scenario/scenario.hpp"

#include <optional>
#include <span>
#include <string>

namespace earshot::report {

/// A net and what was found out about it.
struct NetResult {
    const scenario::Scenario& scenario;
    std::span<const plan::Pair> pairs;
    const plan::NetStructure& structure;
    std::span<const std::optional<plan::Help>> helps{}; ///< plan::help_stations(), or none
};

/// For people: every pair, the groups, who is cut off, who must pass messages on, and the cautions.
[[nodiscard]] std::string net_text(const NetResult& net);
/// One row for each direction; columns as in docs/scenario-file.md.
[[nodiscard]] std::string net_csv(const NetResult& net);
[[nodiscard]] std::string net_json(const NetResult& net);
/// RFC 7946: a point for each station, a line for each pair.
[[nodiscard]] std::string net_geojson(const NetResult& net);

/// What a pair of stations comes to, in a few words.
[[nodiscard]] std::string pair_verdict(const plan::Pair& pair,
                                       std::span<const link::Station> stations,
                                       double wanted_margin_db);

} // namespace earshot::report
