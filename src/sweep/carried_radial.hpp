#pragma once

#include "block_tops.hpp"
#include "earshot/propagation/p1812_batch.hpp"
#include "upper_hull.hpp"

#include <cstddef>
#include <limits>
#include <span>

namespace earshot::sweep {

/// What a radial needs to know of its site and of the way losses are worked out.
struct RadialSite {
    double ground_m = 0.0;           ///< height of the ground at the site
    double antenna_m = 0.0;          ///< above that ground
    double receiver_antenna_m = 0.0; ///< above the ground of each cell
    double step_km = 0.0;            ///< spacing of the points
    propagation::EffectiveRadii radii;
    double wavelength_m = 0.0;
    double root_wavelength = 0.0; ///< its square root
    bool with_beta = false;       ///< whether the terms for the radius a_beta are wanted
};

/// The points of one radial, taken in order, with everything carried along that a prediction at any
/// range needs. Where propagation::analyse_path() walks a profile, path_to() answers from running
/// maxima, running sums and convex hulls, in time that grows with the logarithm of their number.
///
/// A receiver at range d sees the points up to the last one at least half a step short of it.
class CarriedRadial {
public:
    /// Starts a radial over `ground_m` (the site first, then every step; NaN where unknown), which
    /// must outlive it.
    void start(const RadialSite& site, std::span<const float> ground_m);

    /// Number of points before the first unknown one.
    [[nodiscard]] std::size_t known_points() const { return known_; }

    /// Index of the last point that a receiver at `range_km` sees.
    [[nodiscard]] std::size_t last_point_before(double range_km) const {
        return static_cast<std::size_t>(range_km / site_.step_km - 0.5);
    }

    /// A path to a receiver, and what it sees of the site.
    struct Path {
        /// All but the latitude. Smooth surfaces are not yet kept below the ground at the ends:
        /// that comes after paths are mixed, since the loss turns sharply where it sets in.
        propagation::P1812Row row;
        double hidden_by = 0.0; ///< slope by which the ground hides the site, m/km; > 0 if it does
        double clearance_f1 = 0.0; ///< in first Fresnel radii, if not hidden; at most about 0.6,
                                   ///< beyond which it does not matter
    };

    /// Fills in the path to a receiver over ground at `receiver_ground_m`. Ranges must not decrease
    /// from call to call, must leave at least one point before the receiver, and all points before
    /// it must be known.
    void path_to(double range_km, double receiver_ground_m, Path& path);

private:
    /// Points lowered by the curvature of one effective radius: the parabola does not depend on
    /// the receiver, so slopes between them are those of rays over the curved earth.
    struct Track {
        double per_radius = 0.0; ///< 500 / a: a point at x km is lowered by this times x^2
        double steepest = -std::numeric_limits<double>::infinity(); ///< from the transmitter
        std::size_t steepest_index = 0;
        UpperHull hull;
        UpperHull::Hint touch;
        std::size_t nearest = 1; ///< point that came nearest to the last ray
        BlockTops heights;
    };

    struct NearestRay {
        double scaled_nu = 0.0; ///< times the root of the wavelength
        std::size_t index = 0;
    };

    void start_track(Track& track, double radius_km) const;
    void advance_to(std::size_t last);
    void advance_track(Track& track, std::size_t index, double x, double per_x) const;
    [[nodiscard]] NearestRay nearest_ray(Track& track, std::size_t last, double range_km,
                                         double slope) const;
    [[nodiscard]] double roughness(std::size_t first, std::size_t last, double at_site_m,
                                   double slope);

    RadialSite site_;
    std::span<const float> ground_m_;
    std::size_t known_ = 0;
    std::size_t last_ = 0;
    double transmitter_m_ = 0.0; ///< antenna above sea level
    Track median_, beta_;
    UpperHull plain_hull_; ///< heights without curvature
    UpperHull::Hint plain_touch_, plain_top_, rough_top_;
    BlockTops plain_heights_;
    double plain_steepest_ = 0.0;
    double v1_ = 0.0, v2_ = 0.0; ///< the sums of P.1812-8 equations (83) and (84)
};

} // namespace earshot::sweep
