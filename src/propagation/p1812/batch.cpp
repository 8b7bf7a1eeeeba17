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
#include <numbers>

HWY_BEFORE_NAMESPACE();
namespace earshot::propagation {
namespace HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

using Doubles = hn::ScalableTag<double>;
using Vec = hn::Vec<Doubles>;
using Mask = hn::Mask<Doubles>;

/// One value of several paths: a register as a number.
struct Lanes {
    Vec v;
    Lanes() = default;
    HWY_INLINE Lanes(Vec vec) : v(vec) {}
    HWY_INLINE Lanes(double value) : v(hn::Set(Doubles(), value)) {}
};

// clang-format off
HWY_INLINE Lanes operator+(Lanes a, Lanes b) { return hn::Add(a.v, b.v); }
HWY_INLINE Lanes operator-(Lanes a, Lanes b) { return hn::Sub(a.v, b.v); }
HWY_INLINE Lanes operator*(Lanes a, Lanes b) { return hn::Mul(a.v, b.v); }
HWY_INLINE Lanes operator/(Lanes a, Lanes b) { return hn::Div(a.v, b.v); }
HWY_INLINE Lanes operator/(Lanes a, double b) { return a * (1.0 / b); } // far quicker
HWY_INLINE Lanes operator-(Lanes a) { return hn::Neg(a.v); }
HWY_INLINE Mask operator<(Lanes a, Lanes b) { return hn::Lt(a.v, b.v); }
HWY_INLINE Mask operator>(Lanes a, Lanes b) { return hn::Gt(a.v, b.v); }
HWY_INLINE Mask operator<=(Lanes a, Lanes b) { return hn::Le(a.v, b.v); }
HWY_INLINE Mask operator>=(Lanes a, Lanes b) { return hn::Ge(a.v, b.v); }
HWY_INLINE Lanes min(Lanes a, Lanes b) { return hn::Min(a.v, b.v); }
HWY_INLINE Lanes max(Lanes a, Lanes b) { return hn::Max(a.v, b.v); }
HWY_INLINE Lanes abs(Lanes x) { return hn::Abs(x.v); }
HWY_INLINE Lanes sqrt(Lanes x) { return hn::Sqrt(x.v); }
HWY_INLINE Lanes exp(Lanes x) { return hn::Exp(Doubles(), x.v); }
HWY_INLINE Lanes exp10(Lanes x) { return exp(x * std::numbers::ln10); }
HWY_INLINE Lanes log(Lanes x) { return hn::Log(Doubles(), x.v); }
HWY_INLINE Lanes log1p(Lanes x) { return hn::Log1p(Doubles(), x.v); }
HWY_INLINE Lanes log10(Lanes x) { return log(x) * std::numbers::log10e; }
HWY_INLINE Lanes cos(Lanes x) { return hn::Cos(Doubles(), x.v); }
HWY_INLINE Lanes acos(Lanes x) { return hn::Acos(Doubles(), x.v); }
HWY_INLINE Lanes atan(Lanes x) { return hn::Atan(Doubles(), x.v); }
HWY_INLINE Lanes select(Mask m, Lanes yes, Lanes no) { return hn::IfThenElse(m, yes.v, no.v); }
HWY_INLINE bool any(Mask m) { return !hn::AllFalse(Doubles(), m); }
// clang-format on

#include "propagation/formulas.hpp"

/// smooth_bullington_terms() on a profile of points without number from the first to the last. Each
/// of its three functions rises and then falls, so that it is largest at its peak or, if that is
/// not between them, at the nearer of the two.
HWY_INLINE Slopes<Lanes> smooth_slopes(Lanes d, Lanes first_km, Lanes last_km, Lanes height_t,
                                       Lanes height_r, double radius_km) {
    const double per_radius = 500.0 / radius_km;
    const auto largest = [&](Lanes peak_km, auto function) {
        return function(min(max(peak_km, first_km), last_km));
    };
    Slopes<Lanes> slopes;
    slopes.transmitter = largest(sqrt(height_t / per_radius), [&](Lanes x) {
        return smooth_slope(height_t, x, d - x, radius_km);
    });
    slopes.direct = (height_r - height_t) / d;
    slopes.receiver = largest(d - sqrt(height_r / per_radius),
                              [&](Lanes x) { return smooth_slope(height_r, d - x, x, radius_km); });
    slopes.scaled_nu = 0.0;
    if (!any(slopes.transmitter < slopes.direct)) {
        return slopes;
    }
    // With s^2 = x / (d - x), nu is A s / (1 + s^2) - a / s - b s up to a factor: its derivative
    // A (1 - s^2) / (1 + s^2)^2 + a / s^2 - b falls all the way, so Newton's method in log s,
    // guarded by a bracket, finds where it vanishes. Between sqrt(a / b) and 1 it changes sign.
    const Lanes big_a = per_radius * square(d);
    const Lanes a = max(height_t, 1e-9);
    const Lanes b = max(height_r, 1e-9);
    const Lanes balance = sqrt(a / b);
    Lanes low = min(balance, 1.0);
    Lanes high = max(balance, 1.0);
    Lanes s = sqrt(low * high);
    for (int k = 0; k < 8; ++k) {
        const Lanes s2 = square(s);
        const Lanes q = s2 + 1.0;
        const Lanes value = big_a * (1.0 - s2) / square(q) + (a / s2 - b);
        const Mask rising = value > 0.0;
        low = select(rising, s, low);
        high = select(rising, high, s);
        const Lanes derivative =
            big_a * (s * 2.0) * (s2 - 3.0) / (square(q) * q) - 2.0 * a / (s2 * s);
        const Lanes newton = s - value / derivative;
        const Lanes middle = sqrt(low * high);
        s = select(newton >= low, select(newton <= high, newton, middle), middle);
    }
    slopes.scaled_nu = largest(d * square(s) / (square(s) + 1.0), [&](Lanes x) {
        return smooth_scaled_nu(height_t, height_r, x, d - x, radius_km);
    });
    return slopes;
}

template <double P1812Row::*value>
HWY_INLINE Lanes load(const P1812Batch& batch, std::size_t first) {
    return hn::Load(Doubles(), batch.column(p1812_column(value)) + first);
}

/// What several of the steps below need of the paths.
struct Paths {
    const P1812Batch& batch;
    std::size_t first;
    Lanes distance_km, receiver_asl, direct, free_space;
    Lanes slope_t, slope_r, horizon_t, horizon_r, arc;
};

/// Height of an antenna over a smooth surface. Where that rises above the ground at an end, the
/// ground counts (equations (89) and (90)): it is then the height above the ground.
HWY_INLINE Lanes height_over(Lanes antenna_m, Lanes surface_m, double above_ground_m) {
    return max(antenna_m - surface_m, above_ground_m);
}

HWY_INLINE Paths load_paths(const P1812BatchModel::Job& job, const P1812Batch& batch,
                            std::size_t first) {
    const Lanes d = load<&P1812Row::distance_km>(batch, first);
    const Lanes receiver_asl = load<&P1812Row::receiver_asl_m>(batch, first);
    const Lanes rise = receiver_asl - job.transmitter_asl_m;
    return {batch,
            first,
            d,
            receiver_asl,
            rise / d,
            slant_free_space_db(d, rise, job.constants.free_space_db),
            load<&P1812Row::transmitter_slope>(batch, first),
            load<&P1812Row::receiver_slope>(batch, first),
            load<&P1812Row::transmitter_horizon_km>(batch, first),
            load<&P1812Row::receiver_horizon_km>(batch, first),
            d * (1000.0 / job.constants.median_radius_km)};
}

/// Diffraction over the smooth surface of the paths and the slopes of their ground.
template <double P1812Row::*slope_t, double P1812Row::*slope_r, double P1812Row::*nu>
HWY_INLINE Lanes diffraction(const P1812BatchModel::Job& job, const Paths& p, double radius_km) {
    const P1812Constants& c = job.constants;
    const Lanes d = p.distance_km;
    const Lanes height_t = height_over(job.transmitter_asl_m,
                                       load<&P1812Row::diffraction_transmitter_m>(p.batch, p.first),
                                       job.above_ground_m.transmitter_m);
    const Lanes height_r =
        height_over(p.receiver_asl, load<&P1812Row::diffraction_receiver_m>(p.batch, p.first),
                    job.above_ground_m.receiver_m);
    const Slopes<Lanes> actual{load<slope_t>(p.batch, p.first), p.direct,
                               load<slope_r>(p.batch, p.first), load<nu>(p.batch, p.first)};
    const Lanes edge_db = knife_edge_db(bullington_nu(actual, d, c.root_wavelength_m));
    const Lanes share = other_obstacles_share(edge_db);
    const Lanes actual_db = edge_db + other_obstacles_db(share, d);
    Lanes beside_db = 0.0;
    if (job.low.transmitter.limit_db > 0.0 || job.low.receiver.limit_db > 0.0) {
        beside_db = ground_beside_both_db(
            ground_beside_db(job.low.transmitter,
                             load<&P1812Row::transmitter_arrival>(p.batch, p.first)),
            ground_beside_db(job.low.receiver, load<&P1812Row::receiver_arrival>(p.batch, p.first)),
            share);
    }
    const auto over_land_db = [&](Lanes radius) {
        return first_term(d, height_t, height_r, radius, job.land).loss_db;
    };
    const Lanes sphere_db =
        spherical_earth(d, height_t, height_r, radius_km, c.wavelength_m, over_land_db).loss_db;
    if (!any(sphere_db > 0.0)) {
        // The edge over the smooth earth costs nothing less than 0 dB.
        return actual_db + beside_db;
    }
    const Slopes<Lanes> smooth = smooth_slopes(d, load<&P1812Row::first_point_km>(p.batch, p.first),
                                               load<&P1812Row::last_point_km>(p.batch, p.first),
                                               height_t, height_r, radius_km);
    return delta_bullington_db(actual_db,
                               bullington_db(bullington_nu(smooth, d, c.root_wavelength_m), d),
                               sphere_db, beside_db, share);
}

/// Ducting loss but for what it owes to time.
HWY_INLINE Lanes timeless_duct_db(const P1812Constants& c, const Paths& p, Lanes angle_t,
                                  Lanes angle_r) {
    return fixed_duct_db(c, p.horizon_t + p.horizon_r, site_shielding(c, angle_t, p.horizon_t),
                         site_shielding(c, angle_r, p.horizon_r)) +
           c.duct_attenuation_db_mrad *
               duct_angle_mrad(p.arc, angle_t, angle_r, p.horizon_t, p.horizon_r);
}

/// Whether, for half of the time, diffraction alone decides over every lane: ducting and scatter
/// lose so much more that they change nothing. Saves most of the standard's logarithms.
///
/// Both are bounded from below. The ducting loss depends on time by A(p) of equation (53), which is
/// not negative while p is above beta, and beta is at most 10^1.67 = 46.8 % (equation (5)). An
/// arctangent is at least x / (1 + x^2 / 3), or x where that is negative. Scatter that loses 33 dB
/// more than the rest changes the sum by less than 1e-6 dB.
HWY_INLINE bool diffraction_decides(const P1812Constants& c, const Paths& p, Lanes basic_db) {
    const auto least_angle = [](Lanes slope) {
        return min(slope, slope / (square(slope) * (1e-6 / 3.0) + 1.0));
    };
    const Lanes angle_t = least_angle(p.slope_t);
    const Lanes angle_r = least_angle(p.slope_r);
    // 20 log d, from the logarithm of the slant distance that free space has already taken.
    const Lanes twenty_log_d =
        p.free_space - c.free_space_db - square(p.direct) * (10e-6 * std::numbers::log10e);
    const Lanes scatter =
        troposcatter_db(c, p.distance_km, twenty_log_d, p.arc + (angle_t + angle_r));
    return !any(timeless_duct_db(c, p, angle_t, angle_r) <= basic_db) &&
           !any(scatter - basic_db <= 33.0);
}

struct Losses {
    Lanes half_of_places; ///< by all mechanisms together
    Lanes line_of_sight;  ///< with multipath and focusing, for the share of time
};

/// Everything that line of sight, diffraction, ducting and scatter make of the paths.
HWY_NOINLINE Losses all_mechanisms(const P1812BatchModel::Job& job, const Paths& p, Lanes median) {
    const P1812Constants& c = job.constants;
    const Logged<Lanes> d{p.distance_km, log(p.distance_km)};
    const Lanes angle_t = elevation_mrad(p.slope_t);
    const Lanes angle_r = elevation_mrad(p.slope_r);
    const Lanes theta = p.arc + (angle_t + angle_r);
    const Lanes horizons = p.horizon_t + p.horizon_r;
    const DuctShare<Lanes> share =
        duct_share(d.value, d, load<&P1812Row::centre_latitude_deg>(p.batch, p.first));
    OverTime<Lanes> time;
    if (c.time_percent < 50.0) {
        const Lanes beta =
            diffraction<&P1812Row::beta_transmitter_slope, &P1812Row::beta_receiver_slope,
                        &P1812Row::beta_scaled_nu>(job, p, c.beta_radius_km);
        time = over_time(c, p.free_space, horizons, share.log_beta0, median, beta, 1.0);
    } else {
        time.los_p_db = p.free_space;
        time.basic_db = time.least_los_db = p.free_space + median;
    }
    const DuctTime<Lanes> often = duct_time(
        c, d, share,
        height_over(job.transmitter_asl_m, load<&P1812Row::smooth_transmitter_m>(p.batch, p.first),
                    job.above_ground_m.transmitter_m),
        height_over(p.receiver_asl, load<&P1812Row::smooth_receiver_m>(p.batch, p.first),
                    job.above_ground_m.receiver_m),
        horizons, load<&P1812Row::roughness_m>(p.batch, p.first));
    const Lanes ducting = timeless_duct_db(c, p, angle_t, angle_r) + often.variability_db;
    const Lanes scatter = troposcatter_db(c, d.value, d.ln * (20.0 * std::numbers::log10e), theta);
    return {combine(d.value, theta, time, ducting, scatter).loss_db, time.los_p_db};
}

/// spread_over_places(): what the share of places and a building add, dB.
HWY_INLINE Lanes places_db(const P1812BatchModel::Job& job, const Paths& p) {
    const Lanes above_cover =
        job.above_ground_m.receiver_m - load<&P1812Row::receiver_cover_m>(p.batch, p.first);
    return place_correction_db(job.constants, place_deviation_db(job.spread, above_cover));
}

void Predict(const P1812BatchModel::Job& job, P1812Batch& batch) {
    const P1812Constants& c = job.constants;
    batch.fill_vectors(hn::Lanes(Doubles()));
    for (std::size_t first = 0; first < batch.size(); first += hn::Lanes(Doubles())) {
        const Paths paths = load_paths(job, batch, first);
        const Lanes median =
            diffraction<&P1812Row::median_transmitter_slope, &P1812Row::median_receiver_slope,
                        &P1812Row::median_scaled_nu>(job, paths, c.median_radius_km);
        const Lanes basic_db = paths.free_space + median;
        const bool half_of_time = c.time_percent >= 50.0;
        const Losses losses = half_of_time && diffraction_decides(c, paths, basic_db)
                                  ? Losses{basic_db, paths.free_space}
                                  : all_mechanisms(job, paths, median);
        const Lanes loss_db =
            max(losses.line_of_sight, losses.half_of_places + places_db(job, paths));
        hn::Store(loss_db.v, Doubles(), batch.loss_db.data() + first);
    }
}

} // namespace HWY_NAMESPACE
} // namespace earshot::propagation
HWY_AFTER_NAMESPACE();

#if HWY_ONCE

namespace earshot::propagation {

HWY_EXPORT(Predict);

P1812BatchModel::P1812BatchModel(const P1812Conditions& inputs, double transmitter_asl_m,
                                 AntennaHeights above_ground_m)
    : job_{P1812Constants(inputs),
           PlaceSpread(inputs),
           LowAntennas(inputs, above_ground_m),
           surface_of(inputs.frequency_mhz, land_ground, inputs.polarization),
           transmitter_asl_m,
           above_ground_m} {
    validate(inputs);
}

void P1812BatchModel::predict(P1812Batch& batch) const {
    HWY_DYNAMIC_DISPATCH(Predict)(job_, batch);
}

std::string vector_instruction_set() {
    // Better targets have lower bits; the compiled-in ones are what the dispatcher chooses from.
    const std::int64_t usable = hwy::SupportedTargets() & HWY_TARGETS;
    return hwy::TargetName(usable & -usable);
}

} // namespace earshot::propagation

#endif
