// The equations of Recommendation ITU-R P.1812-8, annex 1 (and those of P.526-15 that it shares),
// each written once over a Real that is a double or a register of lanes. docs/physics-p1812.md
// derives them.
//
// There is neither guard nor namespace: plain.hpp includes this file for doubles, and batch.cpp in
// the namespace of every instruction set, since a template is compiled for the instruction set in
// force where its text stands. Whoever includes it has declared for his Real the operators, the
// functions of <cmath> and exp10(), select() and any(). No equation branches: where one of two
// applies both are worked out, from arguments kept within bounds.

#define FORMULA                                                                                    \
    template <typename Real>                                                                       \
    [[gnu::always_inline]] inline

constexpr double log10_50 = 1.69897000433601880;
constexpr double log10_4_17 = 0.62013605497375780;

/// A number and its natural logarithm, which all its powers share.
template <typename Real>
struct Logged {
    Real value, ln;
};

FORMULA Real power(const Logged<Real>& x, double exponent) {
    return exp(x.ln * exponent);
}

FORMULA Real square(Real x) {
    return x * x;
}

// --- Knife edges -----------------------------------------------------------------------------

/// Equation (12); P.526-15 (31). Far below the ray the root and nu could cancel to nothing.
FORMULA Real knife_edge_db(Real nu) {
    const Real field = max(sqrt(square(nu - 0.1) + 1.0) + (nu - 0.1), 1e-3);
    return select(nu > -0.78, 6.9 + 20.0 * log10(field), 0.0);
}

/// P.526-15 (26) times the root of the wavelength in metres. A path mixed from two, one blocked and
/// one clear, may have its edge outside of it: that counts as one that grazes.
FORMULA Real scaled_nu(Real height_m, Real d1_km, Real d2_km) {
    return height_m * sqrt(max(0.002 * (d1_km + d2_km) / (d1_km * d2_km), 0.0));
}

template <typename Real>
struct CrossingRays {
    Real distance_km, height_m, scaled_nu;
};

/// Equations (18) and (19): where the horizon rays of the two ends of a path cross.
FORMULA
CrossingRays<Real> crossing_rays(Real tx_slope, Real direct_slope, Real rx_slope, Real length_km) {
    const Real d = (direct_slope + rx_slope) * length_km / (tx_slope + rx_slope);
    const Real height_m = (tx_slope - direct_slope) * d;
    return {d, height_m, scaled_nu(height_m, d, length_km - d)};
}

/// What the Bullington construction needs of a path: BullingtonTerms of P.1812.
template <typename Real>
struct Slopes {
    Real transmitter, direct, receiver, scaled_nu;
};

/// Equations (14) to (20): nu of the one edge that stands for the path.
FORMULA
Real bullington_nu(const Slopes<Real>& s, Real length_km, double root_wavelength_m) {
    const Real edge = crossing_rays(s.transmitter, s.direct, s.receiver, length_km).scaled_nu;
    return select(s.transmitter < s.direct, s.scaled_nu, edge) / root_wavelength_m;
}

/// How far other obstacles than one edge count, in equation (21): from 0 to 1.
FORMULA Real other_obstacles_share(Real edge_db) {
    return 1.0 - exp(edge_db / -6.0);
}

/// What they add to it.
FORMULA Real other_obstacles_db(Real share, Real length_km) {
    return share * (10.0 + 0.02 * length_km);
}

/// Equation (21).
FORMULA Real bullington_db(Real nu, Real length_km) {
    const Real edge_db = knife_edge_db(nu);
    return edge_db + other_obstacles_db(other_obstacles_share(edge_db), length_km);
}

// --- The smooth sphere -----------------------------------------------------------------------

/// Height of the ray between antennas above a sphere, equation (23).
FORMULA
Real ray_over_sphere_m(Real height_t, Real height_r, Real t_km, Real r_km, double radius_km) {
    return (height_t * r_km + height_r * t_km) / (t_km + r_km) - 500.0 / radius_km * t_km * r_km;
}

/// nu of a point of the sphere under the ray between two antennas, times the root of the
/// wavelength.
FORMULA
Real smooth_scaled_nu(Real height_t, Real height_r, Real t_km, Real r_km, double radius_km) {
    return scaled_nu(-ray_over_sphere_m(height_t, height_r, t_km, r_km, radius_km), t_km, r_km);
}

/// Slope from an antenna to a point of the sphere `near_km` from it and `far_km` from the other.
FORMULA
Real smooth_slope(Real height_m, Real near_km, Real far_km, double radius_km) {
    return 500.0 / radius_km * far_km - height_m / near_km;
}

/// Equations (24) to (24e), for antennas within sight of each other, one of them at least above the
/// sphere: where the ray comes nearest it. The clearance is stationary where a cubic in the
/// position vanishes; b is its middle root, in closed form. Rounding can push the argument of acos
/// just past 1.
FORMULA
SmoothClearanceOf<Real> smooth_clearance(Real d, Real height_t, Real height_r, double radius_km) {
    const Real height_sum = height_t + height_r;
    const Real c = (height_t - height_r) / height_sum;
    const Real m = 250.0 / radius_km * square(d) / height_sum;
    const Real cosine = 1.5 * c * sqrt(3.0 * m / ((m + 1.0) * square(m + 1.0)));
    const Real angle = (std::numbers::pi + acos(max(min(cosine, 1.0), -1.0))) / 3.0;
    const Real b = 2.0 * sqrt((m + 1.0) / (3.0 * m)) * cos(angle);
    const Real t = 0.5 * d * (1.0 + b);
    const Real r = d - t;
    return {t, r, ray_over_sphere_m(height_t, height_r, t, r, radius_km)};
}

/// Equation (22): greatest distance at which two antennas see each other over a sphere.
FORMULA Real smooth_horizon_km(Real height_t, Real height_r, double radius_km) {
    return std::sqrt(2.0 * radius_km / 1000.0) * (sqrt(height_t) + sqrt(height_r));
}

/// Equations (31) and (32) or their other branches: height gain of an antenna at B = beta Y.
FORMULA Real height_gain_db(Real b, Real least_db) {
    const Real over = b - 1.1;
    const Real log_term = log10(max(select(b > 2.0, over, b + 0.1 * b * b * b), 1e-300));
    const Real high = 17.6 * sqrt(max(over, 0.0)) - 5.0 * log_term - 8.0;
    return max(select(b > 2.0, high, 20.0 * log_term), least_db);
}

/// Equations (29a) to (36), less what surface_of() takes beforehand. The radius may differ from
/// lane to lane.
FORMULA
FirstTermOf<Real> first_term(Real d, Real height_t, Real height_r, Real radius_km,
                             const Surface& surface) {
    FirstTermOf<Real> term{};
    const Real per_cube_root = exp(log(radius_km) / -3.0);
    term.k = per_cube_root * surface.admittance;
    const Real k2 = square(term.k);
    const Real k4 = square(k2);
    term.beta = (1.0 + 1.6 * k2 + 0.67 * k4) / (1.0 + 4.5 * k2 + 1.53 * k4);
    term.x = term.beta * d * (square(per_cube_root) * surface.x_per_km);
    const Real y_per_m = term.beta * per_cube_root * surface.y_per_m;
    term.y_transmitter = y_per_m * height_t;
    term.y_receiver = y_per_m * height_r;
    const Logged<Real> x{term.x, log(term.x)};
    const Real log_x = x.ln * std::numbers::log10e;
    term.distance_term_db = select(term.x >= 1.6, 11.0 + 10.0 * log_x - 17.6 * term.x,
                                   -20.0 * log_x - 5.6488 * power(x, 1.425));
    const Real least_db = 2.0 + 20.0 * log10(term.k);
    term.transmitter_gain_db = height_gain_db(term.beta * term.y_transmitter, least_db);
    term.receiver_gain_db = height_gain_db(term.beta * term.y_receiver, least_db);
    term.loss_db = -(term.distance_term_db + (term.transmitter_gain_db + term.receiver_gain_db));
    return term;
}

/// Equations (22) to (28). `first_term_db(radius)` is the first term over the surface at hand.
FORMULA
SphericalEarthLossOf<Real> spherical_earth(Real d, Real height_t, Real height_r, double radius_km,
                                           double wavelength_m, const auto& first_term_db) {
    SphericalEarthLossOf<Real> loss{};
    loss.los_distance_km = smooth_horizon_km(height_t, height_r, radius_km);
    loss.line_of_sight = d < loss.los_distance_km;
    loss.radius_used_km = radius_km;
    if (!any(loss.line_of_sight)) {
        loss.loss_db = loss.first_term_db = first_term_db(loss.radius_used_km);
        return loss;
    }
    loss.nearest = smooth_clearance(d, height_t, height_r, radius_km);
    const Real t_r = loss.nearest.transmitter_side_km * loss.nearest.receiver_side_km;
    // 0.552 of the first Fresnel radius' scale, written with the rounded constant of P.1812-8.
    loss.required_clearance_m = 17.456 * sqrt(max(t_r * wavelength_m / d, 1e-12));
    const Real missing = max(1.0 - loss.nearest.clearance_m / loss.required_clearance_m, 0.0);
    if (!any(select(loss.line_of_sight, missing, 1.0) > 0.0)) {
        loss.radius_used_km = 0.0;
        return loss;
    }
    // The radius at which these antennas would just see each other.
    const Real marginal_km = 500.0 * square(d / (sqrt(height_t) + sqrt(height_r)));
    loss.radius_used_km = select(loss.line_of_sight, marginal_km, loss.radius_used_km);
    loss.first_term_db = first_term_db(loss.radius_used_km);
    loss.loss_db =
        select(loss.line_of_sight, max(loss.first_term_db, 0.0) * missing, loss.first_term_db);
    return loss;
}

// --- The ground beside low antennas ----------------------------------------------------------

/// Loss of a wave from a point that `slope` (m/km) leads up to from the foot of an antenna, over
/// the slope of the ground there.
FORMULA Real ground_beside_db(const LowAntenna& antenna, Real slope) {
    const Real field = min(max(antenna.field_per_slope * slope, 1e-3), 1.0);
    return min(-20.0 * log10(field), antenna.limit_db);
}

/// What both antennas lose. In sight of each other they share one reflection; an edge between them
/// parts the path in two, with one each. How far it does is taken from equation (21): not at all in
/// clear sight, wholly deep behind the edge.
FORMULA Real ground_beside_both_db(Real t_db, Real r_db, Real other_share) {
    return max(t_db, r_db) + other_share * min(t_db, r_db);
}

/// Equation (38), whose second part is what the ground adds to the edges: a smooth sphere under the
/// whole path, or the ground beside the antennas (0 by the Recommendation), whichever is more, less
/// what of the sphere the edges have already. The higher the edge, the less it is that of a sphere.
FORMULA
Real delta_bullington_db(Real actual_db, Real smooth_db, Real sphere_db, Real beside_db,
                         Real other_share) {
    const Real counted_db =
        max(min(smooth_db, sphere_db), 0.0) * min(std::numbers::e * (1.0 - other_share), 1.0);
    return actual_db + max(max(sphere_db - smooth_db, beside_db - counted_db), 0.0);
}

// --- Free space, time ------------------------------------------------------------------------

/// Equation (8). `constant_db` is what a kilometre loses.
FORMULA Real slant_free_space_db(Real d, Real rise_m, double constant_db) {
    return constant_db + 10.0 * log10(square(d) + square(rise_m) * 1e-6);
}

/// The share of an average year with ducts near the ground, in percent, and what it is made of;
/// logarithms are to base 10.
template <typename Real>
struct DuctShare {
    Real tau, log_mu1, log_mu4, log_beta0;
};

/// Equations (2) to (5).
FORMULA
DuctShare<Real> duct_share(Real land_km, const Logged<Real>& inland_km, Real latitude_deg) {
    DuctShare<Real> share{};
    const Real latitude = abs(latitude_deg);
    const auto low = latitude <= 70.0;
    share.tau = 1.0 - exp(-4.12e-4 * power(inland_km, 2.41));
    const Real sum =
        exp10(-land_km / (16.0 - 6.6 * share.tau)) + exp10(-5.0 * (0.496 + 0.354 * share.tau));
    share.log_mu1 = min(0.2 * log10(sum), 0.0);
    share.log_mu4 = select(low, 0.0176 * latitude - 0.935, 0.3) * share.log_mu1;
    share.log_beta0 =
        select(low, 1.67 - 0.015 * latitude, log10_4_17) + share.log_mu1 + share.log_mu4;
    return share;
}

/// Attachment 2, equations (94a) to (95d), of the logarithm of a share of at most one half.
FORMULA Real tail_deviate(Real ln_share) {
    const Real t = sqrt(-2.0 * ln_share);
    return t - ((0.010328 * t + 0.802853) * t + 2.515516698) /
                   (((0.001308 * t + 0.189269) * t + 1.432788) * t + 1.0);
}

/// What line of sight and diffraction lose in the share of time asked for.
template <typename Real>
struct OverTime {
    Real multipath_p_db, multipath_beta_db, los_p_db, los_beta_db;
    Real interpolation, diffraction_p_db, median_basic_db, basic_db, least_los_db;
};

/// Equations (9) to (11), (40) to (43) and (59). Diffraction counts over land only.
FORMULA
OverTime<Real> over_time(const P1812Constants& c, Real free_space_db, Real horizon_sum_km,
                         Real log_beta0, Real median_db, Real beta_db, double land_share) {
    OverTime<Real> o{};
    const Real focusing = 2.6 * (1.0 - exp(-0.1 * horizon_sum_km));
    o.multipath_p_db = focusing * (c.log_time - log10_50);
    o.multipath_beta_db = focusing * (log_beta0 - log10_50);
    o.los_p_db = free_space_db + o.multipath_p_db;
    o.los_beta_db = free_space_db + o.multipath_beta_db;
    const Real deviate_beta = tail_deviate(std::numbers::ln10 * (log_beta0 - 2.0));
    const auto often = c.time_percent > exp10(log_beta0);
    o.interpolation = select(often, c.time_deviate / deviate_beta, 1.0);
    o.diffraction_p_db = median_db + (beta_db - median_db) * o.interpolation;
    o.median_basic_db = free_space_db + median_db;
    o.basic_db = o.los_p_db + o.diffraction_p_db;
    const Real over_land_db = land_share * o.diffraction_p_db;
    o.least_los_db = select(often,
                            o.median_basic_db + (o.los_beta_db + over_land_db - o.median_basic_db) *
                                                    o.interpolation,
                            o.los_p_db + over_land_db);
    return o;
}

// --- Troposcatter and ducting ----------------------------------------------------------------

FORMULA Real elevation_mrad(Real slope_m_per_km) {
    return 1e3 * atan(slope_m_per_km * 1e-3);
}

/// Equation (44), and what fades it out short of the paths that it was made for (0 by the
/// Recommendation).
FORMULA Real troposcatter_db(const P1812Constants& c, Real d, Real twenty_log_d, Real theta) {
    return c.troposcatter_db + twenty_log_d + 0.573 * theta +
           c.scatter_fade_db_km * max(least_scatter_km - d, 0.0);
}

/// Equations (48) and (48a): hills near a terminal keep it out of the duct. The loss is 20 log10 of
/// the factor and the rest; (47) takes the logarithms of both terminals together.
template <typename Real>
struct SiteShielding {
    Real factor, rest_db;
};

FORMULA
SiteShielding<Real> site_shielding(const P1812Constants& c, Real angle_mrad, Real horizon_km) {
    const Real excess_mrad = max(angle_mrad - 0.1 * horizon_km, 0.0);
    return {1.0 + 0.361 * c.root_f_ghz * (excess_mrad * sqrt(horizon_km)),
            0.264 * c.cube_root_f_ghz * excess_mrad};
}

/// Equation (47) without the coupling to the sea.
FORMULA
Real fixed_duct_db(const P1812Constants& c, Real horizon_sum_km, const SiteShielding<Real>& t,
                   const SiteShielding<Real>& r) {
    return c.duct_db + 20.0 * log10(horizon_sum_km * (t.factor * r.factor)) +
           (t.rest_db + r.rest_db);
}

/// Equations (52) and (52a).
FORMULA
Real duct_angle_mrad(Real arc_mrad, Real angle_t, Real angle_r, Real horizon_t, Real horizon_r) {
    return arc_mrad + (min(angle_t, 0.1 * horizon_t) + min(angle_r, 0.1 * horizon_r));
}

/// How often a path's ducts carry, and what that comes to; logarithms are to base 10.
template <typename Real>
struct DuctTime {
    Real alpha, log_mu2, log_mu3, log_beta, gamma, variability_db;
};

/// Equations (53) to (56a). Antennas on the ground make mu2 vanish; the floor of beta keeps the
/// logarithm finite.
FORMULA
DuctTime<Real> duct_time(const P1812Constants& c, const Logged<Real>& d,
                         const DuctShare<Real>& share, Real height_t, Real height_r,
                         Real horizon_sum_km, Real roughness_m) {
    DuctTime<Real> time{};
    time.alpha = max(-0.6 - 3.5e-9 * power(d, 3.1) * share.tau, -3.4);
    const Real ratio =
        500.0 / c.median_radius_km * square(d.value) / square(sqrt(height_t) + sqrt(height_r));
    time.log_mu2 = min(time.alpha * log10(ratio), 0.0);
    const Real between_km = min(d.value - horizon_sum_km, 40.0);
    time.log_mu3 =
        -4.6e-5 * std::numbers::log10e * (max(roughness_m - 10.0, 0.0) * (43.0 + 6.0 * between_km));
    time.log_beta = max(share.log_beta0 + (time.log_mu2 + time.log_mu3), -300.0);
    const Real b = time.log_beta;
    time.gamma = 1.076 * exp(-1.012 * log(2.0058 - b) -
                             1e-6 * ((0.198 * b - 4.8) * b + 9.51) * power(d, 1.13));
    const Real log_ratio = c.log_time - b;
    time.variability_db =
        (1.2 + 3.7e-3 * d.value) * log_ratio + (12.0 * exp10(time.gamma * log_ratio) - 12.0);
    return time;
}

// --- All mechanisms --------------------------------------------------------------------------

/// 1 - (1 + tanh u) / 2 is 1 / (1 + exp(2 u)): falls from 1 to 0 as a value passes `middle`.
FORMULA Real fade_out(Real value, double middle, double sharpness) {
    return 1.0 / (1.0 + exp(min((value - middle) * (2.0 * sharpness / middle), 700.0)));
}

template <typename Real>
struct Combined {
    Real angle_share, distance_share, least_ducting_db, diffraction_ducting_db, modified_db,
        loss_db;
};

/// Equations (57), (58) and (60) to (63). Both sums of powers are referred to one of their terms,
/// so that neither overflows where a loss is large.
FORMULA
Combined<Real> combine(Real d, Real theta, const OverTime<Real>& o, Real ducting_db,
                       Real troposcatter_db) {
    Combined<Real> all{};
    all.angle_share = fade_out(theta, 0.3, 3.0 * 0.8);
    all.distance_share = fade_out(d, 20.0, 3.0 * 0.5);
    all.least_ducting_db =
        max(ducting_db, o.los_p_db) + 2.5 * log1p(exp(abs(ducting_db - o.los_p_db) / -2.5));
    all.diffraction_ducting_db =
        select(all.least_ducting_db > o.basic_db, o.basic_db,
               all.least_ducting_db + (o.basic_db - all.least_ducting_db) * all.distance_share);
    all.modified_db = all.diffraction_ducting_db +
                      (o.least_los_db - all.diffraction_ducting_db) * all.angle_share;
    const Real gap_db = abs(troposcatter_db - all.modified_db);
    all.loss_db = min(troposcatter_db, all.modified_db) - 5.0 * log10(1.0 + exp10(-0.2 * gap_db));
    return all;
}

/// Equations (64) to (66): deviation among places, which dies out as the receiver rises above the
/// cover, and within a building.
FORMULA Real place_deviation_db(const PlaceSpread& spread, Real above_cover_m) {
    const Real low_share = min(max(1.0 - above_cover_m / 10.0, 0.0), 1.0);
    return sqrt(square(spread.fixed_db + spread.at_cover_db * low_share) +
                square(spread.in_building_db));
}

/// Equations (67) and (68): what the share of places and a building add.
FORMULA Real place_correction_db(const P1812Constants& c, Real deviation_db) {
    return c.entry_loss_db - c.place_deviate * deviation_db;
}

#undef FORMULA
