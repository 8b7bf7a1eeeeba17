#pragma once

#include "coverage/engine/carried_radial.hpp"
#include "coverage/engine/upper_hull.hpp"
#include "propagation/irregular_terrain.hpp"

#include <cstddef>
#include <vector>

namespace earshot::coverage {

/// What the irregular terrain model makes of paths along one radial, carried outward: the site's
/// horizon is a running maximum, a receiver's the touching point of a hull, the fitted lines come
/// from running integrals. The interdecile range of the ground is worked out at few ranges and
/// taken for straight between them.
class IrregularRadial {
public:
    /// `step_m` is the spacing of the points, about: nearer to a receiver than half of it the
    /// ground is beside it and not before it.
    IrregularRadial(const propagation::irregular::MapModel& model, double step_m)
        : model_(model), step_m_(step_m) {}

    void start(const RadialGround& ground);

    /// Finds the path to a receiver. False where the ground before it is unknown, or the model does
    /// not take the air. Ranges must not decrease from call to call.
    [[nodiscard]] bool path_to(double range_m, double ground_m,
                               propagation::irregular::Geometry& path);

private:
    /// Integrals of the ground's height, and of distance times height, from the site on.
    struct Sums {
        double area = 0.0, moment = 0.0;
    };
    /// A range at which the irregularity is known.
    struct Station {
        double range_m = 0.0, irregularity_m = 0.0;
    };
    struct Point {
        double x_m, ground_m;
    };

    [[nodiscard]] static Sums piece(Point a, Point b);
    [[nodiscard]] Sums sums_to(double x_m) const;
    [[nodiscard]] double fitted_end_m(double from_m, double to_m, double at_m) const;
    [[nodiscard]] double irregularity_at_m(double range_m);
    [[nodiscard]] Station station_at(std::size_t point) const;
    void find_horizons(propagation::irregular::Geometry& path);

    const propagation::irregular::MapModel& model_;
    double step_m_;
    double usual_m_ = 0.0;         ///< between points
    double curvature_per_m_ = 0.0; ///< by which points are lowered to tell which is a horizon
    bool voided_ = false;          ///< the radial ends before unknown ground
    std::vector<double> x_m_, ground_m_, steps_m_;
    std::vector<Sums> sums_;
    std::vector<std::size_t> steepest_; ///< of the points up to each, seen from the site
    UpperHull hull_;
    UpperHull::Hint touch_;
    std::size_t last_ = 0;   ///< point before the receiver
    std::size_t pushed_ = 0; ///< point that the hull has been carried to
    Point receiver_{};
    Station before_, after_;
    std::size_t after_point_ = 0;
};

} // namespace earshot::coverage
