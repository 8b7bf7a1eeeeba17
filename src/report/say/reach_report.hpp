#pragma once

#include "plan/foot_range.hpp"
#include "plan/ladder.hpp"

#include <string>
#include <vector>

namespace earshot::report {

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

} // namespace earshot::report
