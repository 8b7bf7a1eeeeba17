#pragma once

#include "coverage/engine/block_tops.hpp"
#include "coverage/engine/upper_hull.hpp"
#include "propagation/p1812/batch.hpp"
#include "propagation/p1812/smooth_surface.hpp"
#include "propagation/vegetation.hpp"

#include <array>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <optional>
#include <span>

namespace earshot::coverage {

/// What a radial needs to know of its site and of the way losses are worked out.
struct RadialSite {
    double ground_m = 0.0;  ///< height of the ground at the site
    double antenna_m = 0.0; ///< above that ground
    double step_km = 0.0;   ///< spacing of the points, about
    propagation::EffectiveRadii radii;
    double wavelength_m = 0.0;
    double root_wavelength = 0.0; ///< its square root
    bool low_antennas = false;    ///< the ground beside them is wanted (Method::short_range)
    bool with_beta = false;       ///< whether the terms for the radius a_beta are wanted
    bool between_cells = false; ///< receivers stand anywhere, not on centres of the ground's cells
    bool in_woods = false;      ///< the antenna stands among trees
    bool over_surface = false;  ///< the ground holds its cover, which adds nothing to its height
    double cover_m = 0.0;       ///< height of the cover at the site
    std::optional<propagation::WoodlandLoss> woods; ///< set if there is any cover
};

/// The ground along a radial: the site first, then points farther and farther out.
struct RadialGround {
    std::span<const double> x_km;         ///< from 0
    std::span<const float> ground_m;      ///< NaN where unknown
    std::span<const float> cover_m;       ///< as many, or none: bare ground
    std::span<const std::uint8_t> wooded; ///< as many as `cover_m`: not 0 where it is woodland
    /// Wanted if receivers stand between cells. How far the ground half way from the point before
    /// rises above the line to it; and not 0 for a point half way between two crossings.
    std::span<const float> bulge_m{};
    std::span<const std::uint8_t> middle{};
    /// Where a profile has a point between each and the next that is on the straight line between
    /// them, so that it is left out here; 0 if nowhere. None: nothing is left out.
    std::span<const double> left_out_km{};
};

/// A cell as the receiver's place.
struct RadialReceiver {
    double range_km = 0.0;
    double ground_m = 0.0;
    double antenna_m = 0.0; ///< above that ground
    double cover_m = 0.0;
    bool wooded = false;
};

/// The points of one radial, taken in order, with everything carried along that a prediction at any
/// range needs. Where propagation::analyse_path() walks a profile, path_to() answers from running
/// maxima, running sums and convex hulls, in time that grows with the logarithm of their number.
///
/// A receiver at range d sees the points up to the last one at least half a step short of it: no
/// path to a cell's centre crosses the grid nearer than a cell before it. A radial beside the
/// centre may, and what it meets there is ground beside the receiver and not before it. If
/// receivers stand anywhere, points nearer than that count too, as high as they rise above the
/// ground that the radial has at the receiver's range; and half way from the last crossing to the
/// receiver there is a point if the ground rises there, as in a profile that ends at the receiver.
///
/// Ground cover stands on the ground as an obstacle, but for the woods that an antenna itself
/// stands in (propagation::split_woodland()). Those of the site are the same for all receivers
/// beyond twice their depth. Those of a receiver are the run of wooded points that the radial is
/// in: it is kept apart, with and without its trees, and joins the rest when it ends.
class CarriedRadial {
public:
    /// Starts a radial over ground that must outlive it.
    void start(const RadialSite& site, const RadialGround& ground);

    /// Number of points before the first unknown one.
    [[nodiscard]] std::size_t known_points() const { return known_; }

    /// Index of the last point that a receiver at `range_km` sees; 0 if none. Ranges must not
    /// decrease from call to call.
    [[nodiscard]] std::size_t last_point_before(double range_km) {
        return seen_ = last_within(range_km - 0.5 * site_.step_km, seen_);
    }

    /// A path to a receiver, and what it sees of the site.
    struct Path {
        /// All but the latitude. Smooth surfaces are not yet kept below the ground at the ends:
        /// that comes after paths are mixed, since the loss turns sharply where it sets in.
        propagation::P1812Row row;
        /// Slope by which ground and cover hide the site, m/km; > 0 if they do.
        double hidden_by = 0.0;
        double clearance_f1 = 0.0; ///< in first Fresnel radii, if not hidden; at most about 0.6,
                                   ///< beyond which it does not matter
        /// Horizons over ground and cover, from the site, km.
        double first_horizon_km = 0.0, last_horizon_km = 0.0;
        double woods_db = 0.0; ///< loss in the woods around both antennas
    };

    /// Finds the path to a receiver. False if the woods around an antenna reach past the middle of
    /// it: what then stands in the way hangs on where the middle is, so take a fresh profile; and
    /// false if there is no point before it. Ranges must not decrease from call to call, and all
    /// points before the receiver must be known.
    [[nodiscard]] bool path_to(const RadialReceiver& receiver, Path& path);

private:
    /// Obstacles that come one after another.
    struct Skyline {
        double steepest = -std::numeric_limits<double>::infinity(); ///< from the transmitter
        std::size_t steepest_index = 0;
        UpperHull hull;
        UpperHull::Hint touch;

        void clear();
        /// `rise_m`: above the transmitter.
        void push(double x, double height_m, double rise_m, std::size_t index);
        void push_all(const Skyline& other);
    };

    /// Points lowered by the curvature of one effective radius: the parabola does not depend on
    /// the receiver, so slopes between them are those of rays over the curved earth.
    struct Track {
        double per_radius = 0.0; ///< 500 / a: a point at x km is lowered by this times x^2
        BlockTops ground, tops;  ///< tops: with cover, but that of the site's own woods
        Skyline bare;            ///< of all points, without cover
        /// With cover: of all points before the run of woods the radial is in, and of that run with
        /// its trees and without.
        Skyline settled, run_tops, run_bare;
        std::size_t nearest = 1, nearest_top = 1; ///< points that came nearest to the last rays
    };

    /// A stretch of points between the antennas.
    struct Stretch {
        const BlockTops* heights;
        std::size_t first, last;
    };

    /// What stands between the antennas: skylines and the points they are of.
    struct Obstacles {
        std::array<Skyline*, 2> skylines;
        std::array<Stretch, 2> stretches;
        std::size_t count; ///< of each
        bool tops;         ///< with what stands on the ground
    };

    /// A point between the last and the receiver.
    struct NearPoint {
        std::size_t index;
        double x, ground_m, top_m;
    };

    /// The rays of a path over obstacles.
    struct Rays {
        double hidden_by;        ///< slope by which they stand above the line between the antennas
        double clearance_nu;     ///< scaled nu of the nearest obstacle where they do not
        double steepest;         ///< slope from the transmitter over the lowered points
        double receiver_slope;   ///< S_rim of P.1812-8 equation (17), if hidden
        std::size_t first, last; ///< horizons
        double first_km, last_km;
    };

    /// The straight line between the antennas, without curvature.
    struct Line {
        double range_km, per_range; ///< and its reciprocal
        double receiver_m;          ///< antenna above sea level
        double slope;
        std::size_t last;                  ///< point before the receiver
        std::span<const NearPoint> nearby; ///< beyond the last
    };

    /// An antenna's own woods.
    struct OwnWoods {
        bool inside = false;
        std::size_t points = 0; ///< wooded points from it on
        double edge_km = 0.0;   ///< where they end, from it
    };
    struct BothWoods {
        OwnWoods site, receiver;
        bool joined = false; ///< all is woods from one antenna to the other
    };

    [[nodiscard]] double x_km(std::size_t index) const { return along_.x_km[index]; }
    /// Index of the last point no farther than `at_km`, from one that is not on. How many points
    /// there are from a cell to the next cannot be foretold, so they are counted without branches.
    [[nodiscard]] std::size_t last_within(double at_km, std::size_t index) const {
        const std::span<const double> x = along_.x_km;
        std::size_t passed = 3;
        while (passed == 3 && index + 3 < x.size()) {
            passed = static_cast<std::size_t>(x[index + 1] <= at_km) +
                     static_cast<std::size_t>(x[index + 2] <= at_km) +
                     static_cast<std::size_t>(x[index + 3] <= at_km);
            index += passed;
        }
        while (passed == 3 && index + 1 < x.size() && x[index + 1] <= at_km) {
            ++index;
        }
        return index;
    }
    void start_track(Track& track, double radius_km) const;
    void advance_to(std::size_t last);
    void advance_track(Track& track, std::size_t index, double x);
    void advance_woods(std::size_t index);
    [[nodiscard]] Obstacles bare_obstacles(Track& track, std::size_t last) const;
    [[nodiscard]] Obstacles top_obstacles(Track& track, std::size_t last,
                                          const OwnWoods& receiver) const;
    [[nodiscard]] Rays rays(const Track& track, const Obstacles& obstacles, std::size_t& nearest,
                            const Line& line) const;
    [[nodiscard]] Rays rays_over_ground(Track& track, const Line& line) const;
    [[nodiscard]] Rays rays_over_tops(Track& track, const Line& line, const BothWoods& woods) const;
    struct NearestRay {
        double scaled_nu = 0.0; ///< times the root of the wavelength
        std::size_t index = 0;
        double x = 0.0;
    };
    [[nodiscard]] NearestRay nearest_ray(const Track& track, const Obstacles& obstacles,
                                         std::size_t hint, const Line& line, double slope) const;
    [[nodiscard]] static double lowered_m(const Track& track, const Obstacles& obstacles,
                                          const NearPoint& point);
    [[nodiscard]] double roughness(std::size_t first, std::size_t last, double at_site_m,
                                   double slope);
    /// A ray out of an antenna's own woods: from `start_m` above the ground to the point `to_km`
    /// away that the antenna sees.
    struct WayOut {
        double start_m, slope;
    };
    [[nodiscard]] WayOut way_out(double antenna_m, double tops_m, double slope, double to_km) const;
    /// The length of the ray's way, m. `away_km(k)` is the distance of the k-th point of the woods,
    /// `below_top_m(k)` how far the ray is below the tree tops there.
    template <typename Away, typename BelowTop>
    [[nodiscard]] double depth_m(const OwnWoods& own, double slope, double below_top_here_m,
                                 Away away_km, BelowTop below_top_m) const;
    [[nodiscard]] double transmitter_depth_m(const OwnWoods& own, const WayOut& way) const;
    [[nodiscard]] double receiver_depth_m(const OwnWoods& own, const RadialReceiver& receiver,
                                          std::size_t last, const WayOut& way) const;
    /// Index of the last point of the first `last` that is no farther than `at_km`.
    [[nodiscard]] std::size_t point_before(double at_km, std::size_t last) const;
    /// Height of the ground between a point and the next, or the receiver after the last.
    [[nodiscard]] double ground_after_m(std::size_t left, double at_km, const Line& line,
                                        double receiver_ground_m) const;

    // The steps of path_to().
    [[nodiscard]] Line line_to(const RadialReceiver& receiver);
    /// Where a point is left out after one, if a receiver sees it and the next is known; else 0.
    [[nodiscard]] double left_out_km(std::size_t index, const Line& line) const {
        const double at_km = index + 1 < known_ && index < along_.left_out_km.size()
                                 ? along_.left_out_km[index]
                                 : 0.0;
        return at_km <= line.range_km - 0.5 * site_.step_km ? at_km : 0.0;
    }
    /// Finds the points that a receiver between cells sees beyond the carried ones. `last` is moved
    /// back before a middle between crossings on either side of the receiver.
    [[nodiscard]] std::span<const NearPoint> nearby(const RadialReceiver& receiver,
                                                    std::size_t& last);
    [[nodiscard]] std::optional<BothWoods> woods_along(const Line& line,
                                                       const RadialReceiver& receiver) const;
    /// The carried fit, closed with the piece from the last point to the receiver's ground.
    void fit_surface(const Line& line, double ground_m, propagation::P1812Row& row);
    /// Slopes of the ground beside both antennas; 0 where they do not count.
    [[nodiscard]] propagation::AtEnds ground_slopes(const Line& line, double receiver_ground_m);
    void find_horizons(const Line& line, const Rays& bare, const RadialReceiver& receiver,
                       propagation::AtEnds slopes, propagation::P1812Row& row);
    [[nodiscard]] double loss_in_woods_db(const Line& line, const RadialReceiver& receiver,
                                          const BothWoods& woods, const Rays& rays,
                                          propagation::AtEnds slopes) const;

    RadialSite site_;
    RadialGround along_;
    std::size_t known_ = 0;
    std::size_t last_ = 0;   ///< point that the radial has been carried to
    std::size_t seen_ = 0;   ///< point that the last receiver sees
    std::size_t beside_ = 0; ///< point before the ground beside the last receiver
    double site_reach_km_ = 0.0, site_slope_ = 0.0; ///< of the ground beside the site
    bool with_cover_ = false;
    std::size_t site_woods_ = 0; ///< points of the site's own woods
    std::size_t run_start_ = 0;  ///< first point of the run of woods the radial is in; 0: in none
    double transmitter_m_ = 0.0; ///< antenna above sea level
    Track median_, beta_;
    UpperHull plain_hull_; ///< heights without curvature
    UpperHull::Hint plain_touch_, plain_top_, rough_top_;
    BlockTops plain_heights_;
    double plain_steepest_ = 0.0;
    propagation::SurfaceFit fit_;
    std::vector<NearPoint> near_; ///< to the last receiver
};

} // namespace earshot::coverage
