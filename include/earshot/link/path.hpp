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
    double deviation_db = 0.0;   ///< of the loss among places and over the year
    double chance_percent = 0.0; ///< that a call gets through (quality.hpp)
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

/// Deviation of a loss among places around the receiver and over the year, dB: the standard's own
/// sigma_L for method p1812 and the loss of 10 percent of the time, else that of P.1546.
[[nodiscard]] double loss_deviation_db(const propagation::PathLoss& loss,
                                       const terrain::Profile& profile, double tx_antenna_m,
                                       double rx_antenna_m,
                                       const propagation::PathSettings& settings);

/// Predicts a path both ways. Throws Error(Fault::input) if a station is off the terrain or in
/// a void or the path crosses a void, Error(Fault::usage) if the stations stand less than 1 m
/// apart or an antenna is below ground.
[[nodiscard]] TwoWayPath two_way_path(const terrain::HeightGrid& ground, const Station& a,
                                      const Station& b, const propagation::PathSettings& settings,
                                      double step_m, const terrain::GroundLayers& layers = {});

} // namespace earshot::link
