// Compiled once for every vector instruction set: foreach_target.h includes this file again and
// again, each time into another namespace, and HWY_DYNAMIC_DISPATCH picks the best at run time. The
// order of the includes matters.
// clang-format off
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "propagation/p1812/batch.cpp"
#include <hwy/foreach_target.h>

#include <hwy/highway.h>

#include <hwy/contrib/math/math-inl.h>
// clang-format on

#include "propagation/p1812/batch.hpp"

#include <cmath>

HWY_BEFORE_NAMESPACE();
namespace earshot::propagation {
namespace HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

using Doubles = hn::ScalableTag<double>;
using Vec = hn::Vec<Doubles>;
using Mask = hn::Mask<Doubles>;

constexpr double log10_e = 0.43429448190325182765;
constexpr double ln_10 = 2.30258509299404568402;

HWY_INLINE Vec set(double value) {
    return hn::Set(Doubles(), value);
}
HWY_INLINE Vec log10_of(Vec x) {
    return hn::Mul(hn::Log(Doubles(), x), set(log10_e));
}
HWY_INLINE Vec pow10_of(Vec x) {
    return hn::Exp(Doubles(), hn::Mul(x, set(ln_10)));
}
HWY_INLINE Vec square(Vec x) {
    return hn::Mul(x, x);
}

// Each function below is the vector form of the one named in its comment, in p1812_loss.cpp,
// p1812_geometry.cpp or spherical_earth.cpp. Equation numbers stand there.

/// knife_edge_loss_itu_db(), then bullington_loss_db().
HWY_INLINE Vec bullington_loss(Vec nu, Vec distance_km) {
    const Vec shifted = hn::Sub(nu, set(0.1));
    const Vec root = hn::Sqrt(hn::MulAdd(shifted, shifted, set(1.0)));
    // Far below the ray the sum of near-equal numbers could cancel to nothing; such nu cost
    // nothing.
    const Vec field = hn::Max(hn::Add(root, shifted), set(1e-3));
    const Vec edge = hn::IfThenElseZero(hn::Gt(nu, set(-0.78)),
                                        hn::MulAdd(log10_of(field), set(20.0), set(6.9)));
    const Vec share = hn::Sub(set(1.0), hn::Exp(Doubles(), hn::Mul(edge, set(-1.0 / 6.0))));
    return hn::MulAdd(share, hn::MulAdd(distance_km, set(0.02), set(10.0)), edge);
}

struct Slopes {
    Vec transmitter, direct, receiver, scaled_nu;
};

/// bullington_nu().
HWY_INLINE Vec bullington_nu(const Slopes& s, Vec distance_km, double root_wavelength_m) {
    const Mask in_sight = hn::Lt(s.transmitter, s.direct);
    const Vec sum = hn::Add(s.transmitter, s.receiver);
    const Vec t = hn::Div(hn::Mul(hn::Add(s.direct, s.receiver), distance_km), sum);
    const Vec r = hn::Sub(distance_km, t);
    const Vec height = hn::Mul(hn::Sub(s.transmitter, s.direct), t);
    const Vec reach = hn::Div(hn::Mul(set(0.002), distance_km), hn::Mul(t, r));
    const Vec edge = hn::Mul(height, hn::Sqrt(hn::Max(reach, set(0.0))));
    return hn::Mul(hn::IfThenElse(in_sight, s.scaled_nu, edge), set(1.0 / root_wavelength_m));
}

/// smooth_bullington_terms() on an evenly spaced profile. Each of its three functions rises and
/// then falls, so the largest sample is one of the two on either side of the peak.
HWY_INLINE Slopes smooth_slopes(Vec distance_km, Vec steps, Vec height_t, Vec height_r,
                                double radius_km, double step_km) {
    const Doubles tag;
    const Vec per_radius = set(500.0 / radius_km);
    const auto sample = [&](Vec index) {
        return hn::Mul(hn::Min(hn::Max(index, set(1.0)), steps), set(step_km));
    };
    // `away` is the distance from the antenna in question, x that from the transmitter.
    const auto slope = [&](Vec height, Vec away) {
        return hn::Sub(hn::Mul(per_radius, hn::Sub(distance_km, away)), hn::Div(height, away));
    };
    const auto peak = [&](Vec height) { return hn::Sqrt(hn::Div(height, per_radius)); };
    const auto index_at = [&](Vec x) { return hn::Floor(hn::Mul(x, set(1.0 / step_km))); };
    const Vec one = set(1.0);
    Slopes slopes;
    const Vec from_t = index_at(peak(height_t));
    slopes.transmitter =
        hn::Max(slope(height_t, sample(from_t)), slope(height_t, sample(hn::Add(from_t, one))));
    slopes.direct = hn::Div(hn::Sub(height_r, height_t), distance_km);
    const Vec from_r = index_at(hn::Sub(distance_km, peak(height_r)));
    slopes.receiver = hn::Max(slope(height_r, hn::Sub(distance_km, sample(from_r))),
                              slope(height_r, hn::Sub(distance_km, sample(hn::Add(from_r, one)))));
    slopes.scaled_nu = hn::Zero(tag);
    if (hn::AllFalse(tag, hn::Lt(slopes.transmitter, slopes.direct))) {
        return slopes;
    }
    // With s^2 = x / (d - x), nu is A s / (1 + s^2) - a / s - b s up to a factor: its derivative
    // A (1 - s^2) / (1 + s^2)^2 + a / s^2 - b falls all the way, so Newton's method in log s,
    // guarded by a bracket, finds where it vanishes. Between sqrt(a / b) and 1 it changes sign.
    const Vec big_a = hn::Mul(hn::Mul(per_radius, distance_km), distance_km);
    const Vec a = hn::Max(height_t, set(1e-9));
    const Vec b = hn::Max(height_r, set(1e-9));
    const Vec balance = hn::Sqrt(hn::Div(a, b));
    Vec low = hn::Min(balance, set(1.0));
    Vec high = hn::Max(balance, set(1.0));
    Vec s = hn::Sqrt(hn::Mul(low, high));
    for (int k = 0; k < 6; ++k) {
        const Vec s2 = square(s);
        const Vec q = hn::Add(s2, set(1.0));
        const Vec value = hn::Add(hn::Div(hn::Mul(big_a, hn::Sub(set(1.0), s2)), square(q)),
                                  hn::Sub(hn::Div(a, s2), b));
        const Mask rising = hn::Gt(value, hn::Zero(tag));
        low = hn::IfThenElse(rising, s, low);
        high = hn::IfThenElse(rising, high, s);
        const Vec derivative =
            hn::Sub(hn::Div(hn::Mul(hn::Mul(big_a, hn::Mul(s, set(2.0))), hn::Sub(s2, set(3.0))),
                            hn::Mul(square(q), q)),
                    hn::Div(hn::Mul(set(2.0), a), hn::Mul(s2, s)));
        const Vec newton = hn::Sub(s, hn::Div(value, derivative));
        const Mask inside = hn::And(hn::Ge(newton, low), hn::Le(newton, high));
        s = hn::IfThenElse(inside, newton, hn::Sqrt(hn::Mul(low, high)));
    }
    const Vec s2 = square(s);
    const Vec index = index_at(hn::Div(hn::Mul(distance_km, s2), hn::Add(s2, one)));
    const auto nu = [&](Vec x) {
        const Vec r = hn::Sub(distance_km, x);
        const Vec bulge = hn::Mul(per_radius, hn::Mul(x, r));
        const Vec ray = hn::Div(hn::MulAdd(height_t, r, hn::Mul(height_r, x)), distance_km);
        return hn::Mul(hn::Sub(bulge, ray),
                       hn::Sqrt(hn::Div(hn::Mul(set(0.002), distance_km), hn::Mul(x, r))));
    };
    slopes.scaled_nu = hn::Max(nu(sample(index)), nu(sample(hn::Add(index, one))));
    return slopes;
}

/// spherical_earth_first_term() over land, for a radius that may differ from lane to lane.
HWY_INLINE Vec first_term(Vec distance_km, Vec height_t, Vec height_r, Vec radius_km,
                          const P1812BatchModel::Constants& c) {
    const Doubles tag;
    const Vec log_radius = hn::Log(tag, radius_km);
    const Vec per_cube_root = hn::Exp(tag, hn::Mul(log_radius, set(-1.0 / 3.0)));
    const Vec k = hn::Mul(per_cube_root, set(c.admittance));
    const Vec k2 = square(k);
    const Vec k4 = square(k2);
    const Vec beta = hn::Div(hn::MulAdd(k4, set(0.67), hn::MulAdd(k2, set(1.6), set(1.0))),
                             hn::MulAdd(k4, set(1.53), hn::MulAdd(k2, set(4.5), set(1.0))));
    const Vec x =
        hn::Mul(hn::Mul(beta, distance_km), hn::Mul(square(per_cube_root), set(c.x_per_km)));
    const Vec ln_x = hn::Log(tag, x);
    const Vec log_x = hn::Mul(ln_x, set(log10_e));
    const Vec far = hn::MulAdd(log_x, set(10.0), hn::NegMulAdd(x, set(17.6), set(11.0)));
    const Vec near = hn::NegMulAdd(hn::Exp(tag, hn::Mul(ln_x, set(1.425))), set(5.6488),
                                   hn::Mul(log_x, set(-20.0)));
    const Vec distance_term = hn::IfThenElse(hn::Ge(x, set(1.6)), far, near);
    const Vec y_scale = hn::Mul(hn::Mul(beta, per_cube_root), set(c.y_per_m));
    const Vec least_gain = hn::MulAdd(log10_of(k), set(20.0), set(2.0));
    const auto gain = [&](Vec height) {
        const Vec b = hn::Mul(beta, hn::Mul(y_scale, height));
        const Mask high = hn::Gt(b, set(2.0));
        const Vec over = hn::Sub(b, set(1.1));
        const Vec cubic = hn::Mul(b, hn::MulAdd(hn::Mul(b, b), set(0.1), set(1.0)));
        const Vec log_term = log10_of(hn::Max(hn::IfThenElse(high, over, cubic), set(1e-300)));
        const Vec high_gain = hn::MulAdd(hn::Sqrt(hn::Max(over, hn::Zero(tag))), set(17.6),
                                         hn::MulAdd(log_term, set(-5.0), set(-8.0)));
        return hn::Max(hn::IfThenElse(high, high_gain, hn::Mul(log_term, set(20.0))), least_gain);
    };
    return hn::Neg(hn::Add(distance_term, hn::Add(gain(height_t), gain(height_r))));
}

/// spherical_earth_loss() over land.
HWY_INLINE Vec spherical_loss(Vec d, Vec height_t, Vec height_r, double radius_km,
                              const P1812BatchModel::Constants& c) {
    const Doubles tag;
    const Vec root_sum = hn::Add(hn::Sqrt(height_t), hn::Sqrt(height_r));
    const Vec horizon = hn::Mul(root_sum, set(std::sqrt(2.0 * radius_km / 1000.0)));
    const Mask in_sight = hn::Lt(d, horizon);
    if (hn::AllFalse(tag, in_sight)) {
        return first_term(d, height_t, height_r, set(radius_km), c);
    }
    // smooth_earth_clearance().
    const Vec height_sum = hn::Add(height_t, height_r);
    const Vec asymmetry = hn::Div(hn::Sub(height_t, height_r), height_sum);
    const Vec m = hn::Div(hn::Mul(square(d), set(250.0 / radius_km)), height_sum);
    const Vec m1 = hn::Add(m, set(1.0));
    const Vec cosine = hn::Mul(hn::Mul(set(1.5), asymmetry),
                               hn::Sqrt(hn::Div(hn::Mul(set(3.0), m), hn::Mul(m1, square(m1)))));
    const Vec angle = hn::Mul(hn::Add(set(3.14159265358979323846),
                                      hn::Acos(tag, hn::Min(hn::Max(cosine, set(-1.0)), set(1.0)))),
                              set(1.0 / 3.0));
    const Vec b = hn::Mul(hn::Mul(set(2.0), hn::Sqrt(hn::Div(m1, hn::Mul(set(3.0), m)))),
                          hn::Cos(tag, angle));
    const Vec t = hn::Mul(hn::Mul(d, set(0.5)), hn::Add(set(1.0), b));
    const Vec r = hn::Sub(d, t);
    const Vec clearance = hn::Sub(hn::Div(hn::MulAdd(height_t, r, hn::Mul(height_r, t)), d),
                                  hn::Mul(hn::Mul(t, r), set(500.0 / radius_km)));
    const Vec required = hn::Mul(
        set(17.456),
        hn::Sqrt(hn::Max(hn::Div(hn::Mul(hn::Mul(t, r), set(c.wavelength_m)), d), set(1e-12))));

    const Vec missing = hn::Max(hn::Sub(set(1.0), hn::Div(clearance, required)), hn::Zero(tag));
    const Mask clear = hn::And(in_sight, hn::Eq(missing, hn::Zero(tag)));
    if (hn::AllTrue(tag, clear)) {
        return hn::Zero(tag);
    }
    const Vec marginal = hn::Mul(set(500.0), square(hn::Div(d, root_sum)));
    const Vec term =
        first_term(d, height_t, height_r, hn::IfThenElse(in_sight, marginal, set(radius_km)), c);
    return hn::IfThenElse(in_sight, hn::Mul(hn::Max(term, hn::Zero(tag)), missing), term);
}

/// delta_bullington().
HWY_INLINE Vec delta_bullington(Vec d, Vec steps, Vec height_t, Vec height_r, const Slopes& actual,
                                double radius_km, const P1812BatchModel::Constants& c) {
    const Doubles tag;
    const Vec actual_loss = bullington_loss(bullington_nu(actual, d, c.root_wavelength_m), d);
    const Vec spherical = spherical_loss(d, height_t, height_r, radius_km, c);
    if (hn::AllTrue(tag, hn::Le(spherical, hn::Zero(tag)))) {
        return actual_loss; // the edge over the smooth earth costs nothing less than 0 dB
    }
    const Slopes smooth = smooth_slopes(d, steps, height_t, height_r, radius_km, c.step_km);
    const Vec smooth_loss = bullington_loss(bullington_nu(smooth, d, c.root_wavelength_m), d);
    return hn::Add(actual_loss, hn::Max(hn::Sub(spherical, smooth_loss), hn::Zero(Doubles())));
}

/// normal_exceedance_deviate() of a share given by its logarithm to base 10.
HWY_INLINE Vec exceedance_deviate(Vec log10_share) {
    // Only shares of at most one half come here (P.1812-8 equations (98) to (100a)).
    const Vec t = hn::Sqrt(hn::Mul(log10_share, set(-2.0 * ln_10)));
    const Vec over = hn::MulAdd(hn::MulAdd(set(0.010328), t, set(0.802853)), t, set(2.515516698));
    const Vec under = hn::MulAdd(
        hn::MulAdd(hn::MulAdd(set(0.001308), t, set(0.189269)), t, set(1.432788)), t, set(1.0));
    return hn::Sub(t, hn::Div(over, under));
}

/// A_f of equation (47): what ducting loses whatever its angle and time. Horizons and the two
/// site_shielding_db(), whose logarithms are taken together.
HWY_INLINE Vec fixed_duct_loss(Vec angle_t, Vec angle_r, Vec horizon_t, Vec horizon_r,
                               const P1812BatchModel::Constants& c) {
    const auto excess = [](Vec angle_mrad, Vec horizon_km) {
        return hn::Max(hn::NegMulAdd(horizon_km, set(0.1), angle_mrad), set(0.0));
    };
    const auto inner = [&](Vec excess_mrad, Vec horizon_km) {
        return hn::MulAdd(hn::Mul(excess_mrad, hn::Sqrt(horizon_km)), set(0.361 * c.root_f_ghz),
                          set(1.0));
    };
    const Vec excess_t = excess(angle_t, horizon_t);
    const Vec excess_r = excess(angle_r, horizon_r);
    const Vec product = hn::Mul(hn::Add(horizon_t, horizon_r),
                                hn::Mul(inner(excess_t, horizon_t), inner(excess_r, horizon_r)));
    return hn::MulAdd(log10_of(product), set(20.0),
                      hn::MulAdd(hn::Add(excess_t, excess_r), set(0.264 * c.cube_root_f_ghz),
                                 set(c.duct_constant_db)));
}

/// theta' of equation (52) from the two elevation angles.
HWY_INLINE Vec duct_angle(Vec arc, Vec angle_t, Vec angle_r, Vec horizon_t, Vec horizon_r) {
    return hn::Add(arc, hn::Add(hn::Min(angle_t, hn::Mul(horizon_t, set(0.1))),
                                hn::Min(angle_r, hn::Mul(horizon_r, set(0.1)))));
}

/// fade_out(): 1 - (1 + tanh u) / 2 is 1 / (1 + exp(2 u)).
HWY_INLINE Vec fade_out(Vec value, double middle, double sharpness) {
    const Vec u = hn::Mul(hn::Sub(value, set(middle)), set(2.0 * sharpness / middle));
    return hn::Div(set(1.0), hn::Add(set(1.0), hn::Exp(Doubles(), hn::Min(u, set(700.0)))));
}

template <double P1812Row::*value>
HWY_INLINE Vec load(const P1812Batch& batch, std::size_t first) {
    constexpr std::size_t column = p1812_column(value);
    return hn::Load(Doubles(), batch.column(column) + first);
}

/// What several of the steps below need of the paths.
struct Paths {
    const P1812Batch& batch;
    std::size_t first;
    Vec distance_km, steps, receiver_asl, direct, free_space;
    Vec slope_t, slope_r, horizon_t, horizon_r, arc;
    Vec height_t, height_r; ///< over the smooth surface for diffraction
};

HWY_INLINE Paths load_paths(const P1812BatchModel::Constants& c, const P1812Batch& batch,
                            std::size_t first) {
    const Vec d = load<&P1812Row::distance_km>(batch, first);
    const Vec receiver_asl = load<&P1812Row::receiver_asl_m>(batch, first);
    const Vec rise = hn::Sub(receiver_asl, set(c.transmitter_asl_m));
    // derive_line_of_sight(), free space.
    const Vec slant2 = hn::MulAdd(d, d, hn::Mul(square(rise), set(1e-6)));
    // Where a smooth surface rises above the ground at an end, the ground counts (equations (89)
    // and (90)): the antenna is then its height above the ground over it.
    const auto over = [](Vec antenna_m, Vec surface_m, double above_ground_m) {
        return hn::Max(hn::Sub(antenna_m, surface_m), set(above_ground_m));
    };
    return {batch,
            first,
            d,
            load<&P1812Row::steps>(batch, first),
            receiver_asl,
            hn::Div(rise, d),
            hn::MulAdd(log10_of(slant2), set(10.0), set(c.free_space_constant_db)),
            load<&P1812Row::transmitter_slope>(batch, first),
            load<&P1812Row::receiver_slope>(batch, first),
            load<&P1812Row::transmitter_horizon_km>(batch, first),
            load<&P1812Row::receiver_horizon_km>(batch, first),
            hn::Mul(d, set(1000.0 / c.median_radius_km)),
            over(set(c.transmitter_asl_m), load<&P1812Row::diffraction_transmitter_m>(batch, first),
                 c.transmitter_antenna_m),
            over(receiver_asl, load<&P1812Row::diffraction_receiver_m>(batch, first),
                 c.receiver_antenna_m)};
}

HWY_INLINE Vec median_diffraction(const P1812BatchModel::Constants& c, const Paths& paths) {
    const Slopes actual{load<&P1812Row::median_transmitter_slope>(paths.batch, paths.first),
                        paths.direct,
                        load<&P1812Row::median_receiver_slope>(paths.batch, paths.first),
                        load<&P1812Row::median_scaled_nu>(paths.batch, paths.first)};
    return delta_bullington(paths.distance_km, paths.steps, paths.height_t, paths.height_r, actual,
                            c.median_radius_km, c);
}

HWY_INLINE Vec beta_diffraction(const P1812BatchModel::Constants& c, const Paths& paths) {
    const Slopes actual{load<&P1812Row::beta_transmitter_slope>(paths.batch, paths.first),
                        paths.direct,
                        load<&P1812Row::beta_receiver_slope>(paths.batch, paths.first),
                        load<&P1812Row::beta_scaled_nu>(paths.batch, paths.first)};
    return delta_bullington(paths.distance_km, paths.steps, paths.height_t, paths.height_r, actual,
                            c.beta_radius_km, c);
}

/// Whether, for half of the time, diffraction alone decides over every lane: ducting and scatter
/// lose so much more that they change nothing. Saves most of the standard's logarithms.
///
/// Both are bounded from below. The ducting loss depends on time by A(p) of equation (53), which is
/// not negative while p is above beta, and beta is at most 10^1.67 = 46.8 % (equation (5)). An
/// arctangent is at least x / (1 + x^2 / 3), or x where that is negative. Scatter that loses 33 dB
/// more than the rest changes the sum by less than 1e-6 dB.
HWY_INLINE bool diffraction_decides(const P1812BatchModel::Constants& c, const Paths& paths,
                                    Vec diffraction_basic) {
    const Doubles tag;
    const auto least_angle = [](Vec slope) {
        const Vec smaller = hn::Div(slope, hn::MulAdd(square(slope), set(1e-6 / 3.0), set(1.0)));
        return hn::Min(slope, smaller);
    };
    const Vec angle_t = least_angle(paths.slope_t);
    const Vec angle_r = least_angle(paths.slope_r);
    const Vec ducting =
        hn::MulAdd(duct_angle(paths.arc, angle_t, angle_r, paths.horizon_t, paths.horizon_r),
                   set(c.specific_attenuation),
                   fixed_duct_loss(angle_t, angle_r, paths.horizon_t, paths.horizon_r, c));
    const Vec theta = hn::Add(paths.arc, hn::Add(angle_t, angle_r));
    // 20 log d, from the logarithm of the slant distance that free space has already taken.
    const Vec distance_term =
        hn::NegMulAdd(square(paths.direct), set(10e-6 * log10_e),
                      hn::Sub(paths.free_space, set(c.free_space_constant_db)));
    const Vec scatter =
        hn::Add(distance_term, hn::MulAdd(theta, set(0.573), set(c.troposcatter_constant_db)));
    return hn::AllTrue(tag, hn::And(hn::Gt(ducting, diffraction_basic),
                                    hn::Gt(hn::Sub(scatter, diffraction_basic), set(33.0))));
}

struct Losses {
    Vec half_of_places; ///< by all mechanisms together
    Vec line_of_sight;  ///< with multipath and focusing, for the share of time
};

/// Everything that line of sight, diffraction, ducting and scatter make of the paths.
HWY_NOINLINE Losses all_mechanisms(const P1812BatchModel::Constants& c, const Paths& paths,
                                   Vec median) {
    const Doubles tag;
    const bool with_beta = c.time_percent < 50.0;
    const Vec d = paths.distance_km;
    const Vec free_space = paths.free_space;
    const Vec log_d = log10_of(d);

    // Angles, and derive_troposcatter().
    const auto angle = [&](Vec slope) {
        return hn::Mul(hn::Atan(tag, hn::Mul(slope, set(1e-3))), set(1e3));
    };
    const Vec angle_t = angle(paths.slope_t);
    const Vec angle_r = angle(paths.slope_r);
    const Vec theta = hn::Add(paths.arc, hn::Add(angle_t, angle_r));
    const Vec troposcatter = hn::MulAdd(
        log_d, set(20.0), hn::MulAdd(theta, set(0.573), set(c.troposcatter_constant_db)));

    // derive_beta0().
    const Vec ln_d = hn::Mul(log_d, set(ln_10));
    const Vec tau = hn::Sub(
        set(1.0), hn::Exp(tag, hn::Mul(hn::Exp(tag, hn::Mul(ln_d, set(2.41))), set(-4.12e-4))));
    const Vec mu1_sum =
        hn::Add(pow10_of(hn::Neg(hn::Div(d, hn::NegMulAdd(tau, set(6.6), set(16.0))))),
                pow10_of(hn::MulAdd(tau, set(-1.77), set(-2.48))));
    const Vec log_mu1 = hn::Min(hn::Mul(log10_of(mu1_sum), set(0.2)), hn::Zero(tag));
    const Vec latitude = hn::Abs(load<&P1812Row::centre_latitude_deg>(paths.batch, paths.first));
    const Vec low_latitude = hn::MulAdd(hn::MulAdd(latitude, set(0.0176), set(0.065)), log_mu1,
                                        hn::MulAdd(latitude, set(-0.015), set(1.67)));
    const Vec high_latitude = hn::MulAdd(log_mu1, set(1.3), set(0.62013605497375780)); // log10 4.17
    const Vec log_beta0 = hn::IfThenElse(hn::Le(latitude, set(70.0)), low_latitude, high_latitude);

    // derive_diffraction().
    const Vec horizon_sum = hn::Add(paths.horizon_t, paths.horizon_r);
    Vec los_p = free_space;
    Vec diffraction = median;
    Vec least_los = hn::Add(free_space, median);
    if (with_beta) {
        const Vec focusing =
            hn::Mul(set(2.6), hn::Sub(set(1.0), hn::Exp(tag, hn::Mul(horizon_sum, set(-0.1)))));
        los_p = hn::MulAdd(focusing, set(c.log_time_ratio), free_space);
        const Vec los_beta = hn::MulAdd(focusing, hn::Sub(log_beta0, set(1.69897000433601880)),
                                        free_space); // log10 50
        const Vec beta = beta_diffraction(c, paths);
        const Vec log_share = hn::Sub(log_beta0, set(2.0));
        const Mask interpolated = hn::Gt(set(c.time_percent), pow10_of(log_beta0));
        const Vec share = hn::IfThenElse(
            interpolated, hn::Div(set(c.deviate_p), exceedance_deviate(log_share)), set(1.0));
        diffraction = hn::MulAdd(hn::Sub(beta, median), share, median);
        least_los = hn::IfThenElse(
            hn::Lt(set(c.time_percent), pow10_of(log_beta0)), hn::Add(los_p, diffraction),
            hn::MulAdd(hn::Sub(hn::Add(los_beta, diffraction), least_los), share, least_los));
    }
    const Vec diffraction_basic = hn::Add(los_p, diffraction);

    // derive_ducting(), with logarithms kept as such.
    const Vec alpha =
        hn::Max(set(-3.4), hn::NegMulAdd(hn::Mul(hn::Exp(tag, hn::Mul(ln_d, set(3.1))), tau),
                                         set(3.5e-9), set(-0.6)));
    const Vec duct_t =
        hn::Max(hn::Sub(set(c.transmitter_asl_m),
                        load<&P1812Row::smooth_transmitter_m>(paths.batch, paths.first)),
                set(c.transmitter_antenna_m));
    const Vec duct_r = hn::Max(
        hn::Sub(paths.receiver_asl, load<&P1812Row::smooth_receiver_m>(paths.batch, paths.first)),
        set(c.receiver_antenna_m));
    const Vec duct_roots = hn::Add(hn::Sqrt(duct_t), hn::Sqrt(duct_r));
    const Vec ratio = hn::Div(hn::Mul(square(d), set(500.0 / c.median_radius_km)),
                              hn::Max(square(duct_roots), set(1e-300)));
    const Vec log_mu2 = hn::Min(hn::Mul(alpha, log10_of(ratio)), hn::Zero(tag));
    const Vec rough = hn::Max(
        hn::Sub(load<&P1812Row::roughness_m>(paths.batch, paths.first), set(10.0)), hn::Zero(tag));
    const Vec between = hn::Min(hn::Sub(d, horizon_sum), set(40.0));
    const Vec log_mu3 =
        hn::Mul(hn::Mul(rough, hn::MulAdd(between, set(6.0), set(43.0))), set(-4.6e-5 * log10_e));
    const Vec log_beta = hn::Max(hn::Add(log_beta0, hn::Add(log_mu2, log_mu3)), set(-300.0));
    const Vec curve = hn::MulAdd(hn::MulAdd(set(0.198), log_beta, set(-4.8)), log_beta, set(9.51));
    const Vec gamma =
        hn::Mul(set(1.076),
                hn::Exp(tag, hn::MulAdd(hn::Log(tag, hn::Sub(set(2.0058), log_beta)), set(-1.012),
                                        hn::Mul(hn::Mul(curve, set(-1e-6)),
                                                hn::Exp(tag, hn::Mul(ln_d, set(1.13)))))));
    const Vec log_ratio = hn::Sub(set(c.log_time_ratio + 1.69897000433601880), log_beta);
    const Vec variability =
        hn::MulAdd(hn::MulAdd(d, set(3.7e-3), set(1.2)), log_ratio,
                   hn::MulAdd(pow10_of(hn::Mul(gamma, log_ratio)), set(12.0), set(-12.0)));
    const Vec ducting = hn::Add(
        fixed_duct_loss(angle_t, angle_r, paths.horizon_t, paths.horizon_r, c),
        hn::MulAdd(duct_angle(paths.arc, angle_t, angle_r, paths.horizon_t, paths.horizon_r),
                   set(c.specific_attenuation), variability));

    // combine().
    const Vec angle_share = fade_out(theta, 0.3, 3.0 * 0.8);
    const Vec distance_share = fade_out(d, 20.0, 3.0 * 0.5);
    const Vec gap = hn::Abs(hn::Sub(ducting, los_p));
    const Vec least_duct = hn::MulAdd(hn::Log1p(tag, hn::Exp(tag, hn::Mul(gap, set(-1.0 / 2.5)))),
                                      set(2.5), hn::Max(ducting, los_p));
    const Vec diffraction_duct = hn::IfThenElse(
        hn::Gt(least_duct, diffraction_basic), diffraction_basic,
        hn::MulAdd(hn::Sub(diffraction_basic, least_duct), distance_share, least_duct));
    const Vec modified =
        hn::MulAdd(hn::Sub(least_los, diffraction_duct), angle_share, diffraction_duct);
    const Vec scatter_gap = hn::Abs(hn::Sub(troposcatter, modified));
    return {hn::NegMulAdd(log10_of(hn::Add(set(1.0), pow10_of(hn::Mul(scatter_gap, set(-0.2))))),
                          set(5.0), hn::Min(troposcatter, modified)),
            los_p};
}

/// spread_over_places(): what the share of places and a building add, dB.
HWY_INLINE Vec place_correction(const P1812BatchModel::Constants& c, const Paths& paths) {
    const Doubles tag;
    const Vec above_cover = hn::Sub(set(c.receiver_antenna_m),
                                    load<&P1812Row::receiver_cover_m>(paths.batch, paths.first));
    const Vec low_share =
        hn::Min(hn::Max(hn::NegMulAdd(above_cover, set(0.1), set(1.0)), hn::Zero(tag)), set(1.0));
    const Vec deviation = c.fixed_deviation_db >= 0.0
                              ? set(c.fixed_deviation_db)
                              : hn::Mul(low_share, set(c.deviation_at_ground_db));
    const Vec both = hn::Sqrt(
        hn::MulAdd(deviation, deviation, set(c.entry_deviation_db * c.entry_deviation_db)));
    return hn::MulAdd(both, set(-c.place_deviate), set(c.entry_loss_db));
}

void Predict(const P1812BatchModel::Constants& c, P1812Batch& batch) {
    const Doubles tag;
    const bool half_of_time = c.time_percent >= 50.0;
    for (std::size_t first = 0; first < batch.size(); first += hn::Lanes(tag)) {
        const Paths paths = load_paths(c, batch, first);
        const Vec median = median_diffraction(c, paths);
        const Vec diffraction_basic = hn::Add(paths.free_space, median);
        const Losses losses = half_of_time && diffraction_decides(c, paths, diffraction_basic)
                                  ? Losses{diffraction_basic, paths.free_space}
                                  : all_mechanisms(c, paths, median);
        hn::Store(hn::Max(losses.line_of_sight,
                          hn::Add(losses.half_of_places, place_correction(c, paths))),
                  tag, batch.loss_db.data() + first);
    }
}

} // namespace HWY_NAMESPACE
} // namespace earshot::propagation
HWY_AFTER_NAMESPACE();

#if HWY_ONCE

#include "propagation/basic.hpp"
#include "propagation/normal_quantile.hpp"
#include "propagation/spherical_earth.hpp"

#include <cmath>

namespace earshot::propagation {

HWY_EXPORT(Predict);

P1812BatchModel::P1812BatchModel(const P1812Inputs& inputs, double transmitter_asl_m,
                                 AntennaHeights above_ground_m, double step_km) {
    // The scalar model checks the inputs; any path will do.
    PathGeometry probe;
    probe.distance_km = 1.0;
    probe.radii = effective_radii(inputs.refractivity.delta_n);
    probe.above_ground_m = above_ground_m;
    probe.transmitter_horizon_km = probe.receiver_horizon_km = 0.5;
    const P1812Result checked = p1812_loss(probe, inputs);

    Constants& c = constants_;
    const double f_ghz = inputs.frequency_mhz / 1000.0;
    c.time_percent = inputs.time_percent;
    c.log_time_ratio = std::log10(inputs.time_percent / 50.0);
    c.deviate_p = normal_exceedance_deviate(inputs.time_percent / 100.0);
    c.transmitter_asl_m = transmitter_asl_m;
    c.wavelength_m = wavelength_m(inputs.frequency_mhz);
    c.root_wavelength_m = std::sqrt(c.wavelength_m);
    c.free_space_constant_db = checked.free_space_db; // at a slant distance of 1 km
    c.median_radius_km = probe.radii.median_km;
    c.beta_radius_km = probe.radii.beta_km;
    // The first term at radius 1 km gives the factors that scale with powers of the radius.
    const FirstTerm unit = spherical_earth_first_term(1.0, 1.0, 1.0, 1.0, inputs.frequency_mhz,
                                                      land_ground, inputs.polarization);
    c.x_per_km = unit.x / unit.beta;
    c.y_per_m = unit.y_transmitter / unit.beta;
    c.admittance = unit.k;
    // Troposcatter and ducting less their path-dependent parts.
    c.troposcatter_constant_db = checked.troposcatter_db - 0.573 * probe.angular_distance_mrad;
    c.duct_constant_db = checked.ducting.fixed_loss_db - checked.ducting.transmitter_shielding_db -
                         checked.ducting.receiver_shielding_db;
    c.root_f_ghz = std::sqrt(f_ghz);
    c.cube_root_f_ghz = std::cbrt(f_ghz);
    c.specific_attenuation = checked.ducting.specific_attenuation_db_mrad;
    c.deviation_at_ground_db =
        (0.024 * f_ghz + 0.52) * std::pow(inputs.location_area_width_m, 0.28);
    c.fixed_deviation_db = inputs.location_deviation_db.value_or(-1.0);
    const BuildingEntry entry = inputs.building_entry.value_or(BuildingEntry{});
    c.entry_loss_db = entry.median_db;
    c.entry_deviation_db = entry.deviation_db;
    c.place_deviate = normal_exceedance_deviate(inputs.location_percent / 100.0);
    c.transmitter_antenna_m = above_ground_m.transmitter_m;
    c.receiver_antenna_m = above_ground_m.receiver_m;
    c.step_km = step_km;
}

void P1812BatchModel::predict(P1812Batch& batch) const {
    HWY_DYNAMIC_DISPATCH(Predict)(constants_, batch);
}

std::string vector_instruction_set() {
    // Better targets have lower bits; the compiled-in ones are what the dispatcher chooses from.
    const std::int64_t usable = hwy::SupportedTargets() & HWY_TARGETS;
    return hwy::TargetName(usable & -usable);
}

} // namespace earshot::propagation

#endif
