#include "propagation/spherical_earth.hpp"

#include "propagation/basic.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace earshot::propagation {
namespace {

double square(double value) {
    return value * value;
}

// Normalized surface admittance, P.1812-8 equations (29a) and (29b).
double surface_admittance(double radius_km, double frequency_mhz, Ground ground,
                          Polarization polarization) {
    const double loss_tangent_term = 18000.0 * ground.conductivity_s_m / frequency_mhz;
    const double horizontal =
        0.36 / std::cbrt(radius_km * frequency_mhz) /
        std::pow(square(ground.relative_permittivity - 1.0) + square(loss_tangent_term), 0.25);
    if (polarization == Polarization::horizontal) {
        return horizontal;
    }
    return horizontal * std::sqrt(square(ground.relative_permittivity) + square(loss_tangent_term));
}

double distance_term_db(double x) {
    if (x >= 1.6) {
        return 11.0 + 10.0 * std::log10(x) - 17.6 * x;
    }
    return -20.0 * std::log10(x) - 5.6488 * std::pow(x, 1.425);
}

double height_gain_db(double y, double beta, double k) {
    const double b = beta * y;
    const double gain = b > 2.0 ? 17.6 * std::sqrt(b - 1.1) - 5.0 * std::log10(b - 1.1) - 8.0
                                : 20.0 * std::log10(b + 0.1 * b * b * b);
    return std::max(gain, 2.0 + 20.0 * std::log10(k));
}

} // namespace

FirstTerm spherical_earth_first_term(double distance_km, double transmitter_height_m,
                                     double receiver_height_m, double radius_km,
                                     double frequency_mhz, Ground ground,
                                     Polarization polarization) {
    FirstTerm term;
    term.k = surface_admittance(radius_km, frequency_mhz, ground, polarization);
    const double k2 = square(term.k);
    const double k4 = square(k2);
    term.beta = (1.0 + 1.6 * k2 + 0.67 * k4) / (1.0 + 4.5 * k2 + 1.53 * k4);
    term.x = 2.188 * term.beta * std::cbrt(frequency_mhz / square(radius_km)) * distance_km;
    const double y_per_m = 0.009575 * term.beta * std::cbrt(square(frequency_mhz) / radius_km);
    term.y_transmitter = y_per_m * transmitter_height_m;
    term.y_receiver = y_per_m * receiver_height_m;
    term.distance_term_db = distance_term_db(term.x);
    term.transmitter_gain_db = height_gain_db(term.y_transmitter, term.beta, term.k);
    term.receiver_gain_db = height_gain_db(term.y_receiver, term.beta, term.k);
    term.loss_db = -term.distance_term_db - term.transmitter_gain_db - term.receiver_gain_db;
    return term;
}

double smooth_horizon_distance_km(double transmitter_height_m, double receiver_height_m,
                                  double radius_km) {
    return radio_horizon_km(transmitter_height_m, radius_km) +
           radio_horizon_km(receiver_height_m, radius_km);
}

SmoothClearance smooth_earth_clearance(double distance_km, double transmitter_height_m,
                                       double receiver_height_m, double radius_km) {
    const double height_sum_m = transmitter_height_m + receiver_height_m;
    const double c = (transmitter_height_m - receiver_height_m) / height_sum_m;
    const double m = 250.0 * square(distance_km) / (radius_km * height_sum_m);
    // The clearance is stationary where a cubic in the position vanishes; b is its middle root,
    // in closed form. Rounding can push the argument of acos just past 1 when c is 1.
    const double cosine = 1.5 * c * std::sqrt(3.0 * m / ((m + 1.0) * square(m + 1.0)));
    const double b = 2.0 * std::sqrt((m + 1.0) / (3.0 * m)) *
                     std::cos((std::numbers::pi + std::acos(std::clamp(cosine, -1.0, 1.0))) / 3.0);
    SmoothClearance nearest;
    nearest.transmitter_side_km = distance_km / 2.0 * (1.0 + b);
    nearest.receiver_side_km = distance_km - nearest.transmitter_side_km;
    const double t = nearest.transmitter_side_km;
    const double r = nearest.receiver_side_km;
    nearest.clearance_m = (transmitter_height_m * r + receiver_height_m * t) / distance_km -
                          earth_bulge_m(t, r, radius_km);
    return nearest;
}

SphericalEarthLoss spherical_earth_loss(double distance_km, double transmitter_height_m,
                                        double receiver_height_m, double radius_km,
                                        double frequency_mhz, Polarization polarization,
                                        double sea_fraction) {
    const auto mixed_first_term = [&](double first_term_radius_km) {
        const auto over = [&](Ground ground) {
            return spherical_earth_first_term(distance_km, transmitter_height_m, receiver_height_m,
                                              first_term_radius_km, frequency_mhz, ground,
                                              polarization)
                .loss_db;
        };
        // Most paths are all land, and the other ground would then be computed in vain.
        const double land = sea_fraction < 1.0 ? (1.0 - sea_fraction) * over(land_ground) : 0.0;
        const double sea = sea_fraction > 0.0 ? sea_fraction * over(sea_ground) : 0.0;
        return land + sea;
    };

    SphericalEarthLoss loss;
    loss.los_distance_km =
        smooth_horizon_distance_km(transmitter_height_m, receiver_height_m, radius_km);
    loss.line_of_sight = distance_km < loss.los_distance_km;
    if (!loss.line_of_sight) {
        loss.radius_used_km = radius_km;
        loss.first_term_db = mixed_first_term(radius_km);
        loss.loss_db = loss.first_term_db;
        return loss;
    }
    loss.nearest =
        smooth_earth_clearance(distance_km, transmitter_height_m, receiver_height_m, radius_km);
    // 0.552 of the first Fresnel radius' scale, written with the rounded constant of P.1812-8.
    loss.required_clearance_m =
        17.456 * std::sqrt(loss.nearest.transmitter_side_km * loss.nearest.receiver_side_km *
                           wavelength_m(frequency_mhz) / distance_km);
    if (loss.nearest.clearance_m > loss.required_clearance_m) {
        return loss;
    }
    // The radius at which these antennas would just see each other.
    loss.radius_used_km =
        500.0 *
        square(distance_km / (std::sqrt(transmitter_height_m) + std::sqrt(receiver_height_m)));
    loss.first_term_db = mixed_first_term(loss.radius_used_km);
    loss.loss_db = std::max(0.0, loss.first_term_db) *
                   (1.0 - loss.nearest.clearance_m / loss.required_clearance_m);
    return loss;
}

} // namespace earshot::propagation
