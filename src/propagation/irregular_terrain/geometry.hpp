#pragma once

#include "propagation/irregular_terrain.hpp"

namespace earshot::propagation::irregular {

/// Ground at even spacing, both ends of the path included.
struct EvenGround {
    double spacing_m = 0.0;
    std::vector<double> height_m;

    [[nodiscard]] std::size_t intervals() const { return height_m.size() - 1; }
    [[nodiscard]] double length_m() const { return spacing_m * static_cast<double>(intervals()); }
};

/// The same ground if its points are evenly spaced, else straight pieces between them sampled at
/// their usual spacing.
[[nodiscard]] EvenGround even_ground(std::span<const double> distance_m,
                                     std::span<const double> ground_m);

/// Mean height without the outer tenths of the path, for the refractivity.
[[nodiscard]] double mean_height_m(const EvenGround& ground);

/// A straight line.
struct Line {
    double start = 0.0; ///< at the first point
    double step = 0.0;  ///< from point to point
};

/// Least squares over evenly spaced values, of which the first and last count half: the sums stand
/// for integrals by the rule of trapezoids. At least 2 values.
[[nodiscard]] Line fitted_line(std::span<const double> values);

/// Interdecile range of the ground's deviations from its fitted line between two distances, as it
/// would be on a path without end (equation (3.9) turned round). How many points are looked at
/// depends on the spacing of the ground.
[[nodiscard]] double irregularity_m(std::span<const double> distance_m,
                                    std::span<const double> ground_m, double spacing_m,
                                    double from_m, double to_m);

/// Throws Error(Fault::input) unless there are 2 points or more, in order, with known heights.
void check(std::span<const double> distance_km, std::span<const double> ground_m);

/// Horizons over the points as they are given, all else over even ones. The profile has passed
/// check().
[[nodiscard]] Geometry analyse(std::span<const double> distance_km,
                               std::span<const double> ground_m, AntennaHeights heights,
                               double sea_level_refractivity);

} // namespace earshot::propagation::irregular
