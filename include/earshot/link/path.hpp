#pragma once

#include "earshot/geo/geodesic.hpp"
#include "earshot/link/budget.hpp"
#include "earshot/propagation/method.hpp"
#include "earshot/terrain/height_grid.hpp"
#include "earshot/terrain/profile.hpp"

namespace earshot::link {

/// One direction of a path between two stations.
struct Direction {
    propagation::PathLoss loss;
    LinkBudget budget;
};

/// A path between two stations, both ways. The profile runs from `a` to `b`; edges of `outward`
/// count distance from `a`, edges of `backward` from `b`.
struct TwoWayPath {
    Station a, b;
    geo::GeodesicPath line;
    terrain::Profile profile;
    propagation::PathSettings settings;
    Direction outward;  ///< a transmits, b receives
    Direction backward; ///< b transmits, a receives
};

/// Predicts a path both ways. Throws Error(ExitCode::input) if a station is off the terrain or in
/// a void or the path crosses a void, Error(ExitCode::usage) if the stations stand less than 1 m
/// apart or an antenna is below ground.
[[nodiscard]] TwoWayPath two_way_path(const terrain::HeightGrid& ground, const Station& a,
                                      const Station& b, const propagation::PathSettings& settings,
                                      double step_m);

} // namespace earshot::link
