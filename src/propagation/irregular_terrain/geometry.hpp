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

/// Heights of antennas as the model takes them: 0.5 m or more.
[[nodiscard]] AntennaHeights counted(AntennaHeights heights);

/// A part of a path.
struct Stretch {
    double from_m = 0.0, to_m = 0.0;
};

/// Steps of even ground.
struct WholeSteps {
    std::size_t first = 0, last = 0;
};

/// A stretch widened to whole steps, and to more than one if it is but a single point.
[[nodiscard]] WholeSteps whole_steps(const Stretch& stretch, double spacing_m,
                                     std::size_t intervals);

/// How many even steps ground gets whose points are this far apart as a rule.
[[nodiscard]] std::size_t even_intervals(double length_m, double usual_m);

/// The path without the ground close to its antennas, which does not count in its irregularity.
[[nodiscard]] Stretch counted_stretch(const Geometry& geometry);

/// What the line is fitted to above which either antenna counts: for antennas in sight of each
/// other one through the ground, for hidden ones the ground before either horizon.
[[nodiscard]] std::array<Stretch, 2> fitted_stretches(const Geometry& geometry);

/// Effective heights, and what follows from them, of a geometry that has its horizons and its
/// irregularity. `above_fit_m`: the ground at either end above the line fitted to its stretch.
void finish(Geometry& geometry, const std::array<double, 2>& above_fit_m);

/// Throws Error(Fault::input) unless there are 2 points or more, in order, with known heights.
void check(std::span<const double> distance_km, std::span<const double> ground_m);

/// Horizons over the points as they are given, all else over even ones. The profile has passed
/// check().
[[nodiscard]] Geometry analyse(std::span<const double> distance_km,
                               std::span<const double> ground_m, AntennaHeights heights,
                               double sea_level_refractivity);

} // namespace earshot::propagation::irregular
