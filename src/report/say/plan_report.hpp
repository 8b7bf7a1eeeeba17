#pragma once

#include "plan/foot_range.hpp"
#include "plan/ladder.hpp"
#include "plan/mast.hpp"
#include "plan/relay_search.hpp"

#include <span>
#include <string>
#include <vector>

/// Answers about masts, ranges on foot, ladders and relays, for people and for programs.

namespace earshot::report {

/// What was found for the antenna of one end.
struct RaisedMast {
    std::string station;
    plan::MastAnswer answer;
};

/// For people: what does it without a mast (`first` is the ladder of the first end to the second,
/// without height), the answer of each, and its margin against height as a chart.
[[nodiscard]] std::string mast_text(std::span<const RaisedMast> masts, double wanted_margin_db,
                                    const plan::LadderAnswer& first);
[[nodiscard]] std::string mast_json(std::span<const RaisedMast> masts, double wanted_margin_db,
                                    const plan::LadderAnswer& first,
                                    const std::vector<std::string>& notes);
/// One row for each antenna and height.
[[nodiscard]] std::string mast_csv(std::span<const RaisedMast> masts);

/// A range on foot and what it was asked for.
struct FootReach {
    std::string station;
    double wanted_margin_db = 0.0;
    double range_m = 0.0;   ///< how far was looked
    double spacing_m = 0.0; ///< between the points looked at
    plan::FootRange range;
};

/// For people: the range in words, and the reach in each direction of the compass as bars.
[[nodiscard]] std::string range_text(const FootReach& reach);
[[nodiscard]] std::string range_json(const FootReach& reach, const std::vector<std::string>& notes);
/// One row for each direction.
[[nodiscard]] std::string range_csv(const plan::FootRange& range);

/// For people: what each lever gives by itself and on top of the others. `places` is how many were
/// to be reached, 0 for the range on foot.
[[nodiscard]] std::string ladder_text(const plan::LadderAnswer& answer, const std::string& station,
                                      std::size_t places, const std::vector<std::string>& notes);
[[nodiscard]] std::string ladder_json(const plan::LadderAnswer& answer, std::size_t places,
                                      const std::vector<std::string>& notes);

/// What a relay search was asked and found.
struct RelayResult {
    plan::CandidateSet candidates;
    plan::RelayAnswer answer;
    std::vector<plan::ServedPlace> places; ///< none if an area was to be served
    link::Station relay;                   ///< radio and height that the relays are taken to have
    std::size_t sites_asked = 1;
    double apart_m = 0.0; ///< between the single sites listed
    double wanted_margin_db = 0.0;
    std::vector<std::string> notes;

    [[nodiscard]] bool of_area() const { return places.empty(); }
};

[[nodiscard]] std::string relay_text(const RelayResult& result);
[[nodiscard]] std::string relay_json(const RelayResult& result);
/// RFC 7946: a point for each chosen site.
[[nodiscard]] std::string relay_geojson(const RelayResult& result);

} // namespace earshot::report
