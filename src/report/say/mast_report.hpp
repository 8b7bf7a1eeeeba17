#pragma once

#include "plan/mast.hpp"

#include <span>
#include <string>

namespace earshot::report {

/// What was found for the antenna of one end.
struct RaisedMast {
    std::string station;
    plan::MastAnswer answer;
};

/// For people: the answer of each, and its margin against height as a chart.
[[nodiscard]] std::string mast_text(std::span<const RaisedMast> masts, double wanted_margin_db);
[[nodiscard]] std::string mast_json(std::span<const RaisedMast> masts, double wanted_margin_db,
                                    const std::vector<std::string>& notes);
/// One row for each antenna and height.
[[nodiscard]] std::string mast_csv(std::span<const RaisedMast> masts);

} // namespace earshot::report
