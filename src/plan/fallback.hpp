#pragma once

#include "earshot/base/task.hpp"
#include "plan/hearing.hpp"
#include "scenario/scenario.hpp"

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

/// Where a person goes whom nobody hears.

namespace earshot::plan {

struct Fallback {
    std::string name; ///< of a place or station; empty for high ground without a name
    geo::LatLon position;
    double distance_m = 0.0;  ///< from the station, as the crow flies
    double bearing_deg = 0.0; ///< from the station, true north
    double climb_m = 0.0;     ///< ground there above the ground at the station
    /// Stations that one talks with both ways from there, and how many there are.
    std::size_t talks_with = 0;
    std::size_t others = 0;
    bool planned = false;  ///< named by the scenario, not found by prediction
    std::string useless;   ///< the place that the scenario names, if one talks with nobody there
    std::size_t tried = 0; ///< how many other places were tried
    double looked_m = 0.0; ///< how far away they were at most

    /// False: no place was found, and `tried` and `useless` say what was looked at.
    [[nodiscard]] bool found() const { return talks_with > 0; }
};

struct FallbackRequest {
    HearingRequest hearing;  ///< as for hear_net()
    double reach_m = 3000.0; ///< how far to look, > 0
    std::size_t tries = 30;  ///< places predicted for each station, the nearest first, at least 1
};

/// A fallback for each station of a scenario, in its order. Where the scenario names one from which
/// anybody can be talked with, it is that one. Else it is the nearest place of the scenario or high
/// ground from which one more station can be talked with than from where the person is, and half of
/// all others; if there is none, the one from which most can, if they are more than from where the
/// person is. If there is none either, one that is not found(). Nothing where all others are talked
/// with. People take along what they can carry: their own radio and antenna, or those of the
/// scenario's listener if their antenna stands higher than the listener's. `pairs` are those of
/// hear_net(). Throws Error(Fault::input) if a station is off the ground, Error(Fault::stopped).
[[nodiscard]] std::vector<std::optional<Fallback>>
find_fallbacks(const scenario::Scenario& scenario, std::span<const Pair> pairs,
               const FallbackRequest& request, Task& task = silent_task());

} // namespace earshot::plan
