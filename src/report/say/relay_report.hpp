#pragma once

#include "plan/relay_search.hpp"

#include <string>
#include <vector>

namespace earshot::report {

/// What a relay search was asked and found.
struct RelayResult {
    plan::CandidateSet candidates;
    plan::RelayAnswer answer;
    std::vector<plan::ServedPlace> places; ///< none if an area was to be served
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
