#include "earshot/base/error.hpp"
#include "earshot/propagation/p1812.hpp"
#include "propagation/basic.hpp"
#include "propagation/knife_edge.hpp"
#include "propagation/multiple_edges.hpp"
#include "propagation/normal_quantile.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>

namespace earshot::propagation {
namespace {

// Distance over land that stands for "far from any coast", km: beyond it the formulas see no sea.
constexpr double far_from_coast_km = 500.0;

void require_between(double value, double low, double high, const char* what, const char* unit) {
    if (!(value >= low && value <= high)) {
        throw_usage(fmt::format("{} is {}{}: give a value from {} to {}{}", what, value, unit, low,
                                high, unit));
    }
}

void check(const PathGeometry& geometry, const P1812Inputs& inputs) {
    constexpr double no_limit = std::numeric_limits<double>::max();
    require_between(inputs.frequency_mhz, lowest_frequency_mhz, highest_frequency_mhz, "frequency",
                    " MHz");
    require_between(inputs.time_percent, 1.0, 50.0, "share of time", " %");
    require_between(inputs.location_percent, 1.0, 99.0, "share of places", " %");
    require_between(inputs.path_centre_latitude_deg, -90.0, 90.0, "latitude of the path", " deg");
    require_between(inputs.refractivity.n0, 100.0, 600.0, "refractivity at sea level", " N-units");
    require_between(inputs.location_area_width_m, 1.0, 100e3, "width of the area", " m");
    require_between(inputs.transmitter_coast_km.value_or(0.0), 0.0, no_limit,
                    "distance from the transmitter to the coast", " km");
    require_between(inputs.receiver_coast_km.value_or(0.0), 0.0, no_limit,
                    "distance from the receiver to the coast", " km");
    require_between(inputs.location_deviation_db.value_or(0.0), 0.0, 100.0,
                    "deviation among places", " dB");
    if (inputs.building_entry) {
        require_between(inputs.building_entry->median_db, 0.0, 200.0, "building entry loss", " dB");
        require_between(inputs.building_entry->deviation_db, 0.0, 100.0,
                        "deviation of building entry loss", " dB");
    }
    const double median_km = effective_radii(inputs.refractivity.delta_n).median_km;
    if (!(std::abs(geometry.radii.median_km - median_km) < 1e-6 * median_km)) {
        throw_usage(fmt::format("path was analysed for an effective earth radius of {:.1f} km but "
                                "{} N-units/km means {:.1f} km: use one of them for both",
                                geometry.radii.median_km, inputs.refractivity.delta_n, median_km));
    }
}

std::vector<std::string> warnings(const PathGeometry& geometry, const P1812Inputs& inputs) {
    std::vector<std::string> list;
    const auto warn_outside = [&list](double value, double low, double high, const char* what,
                                      const char* unit) {
        if (value < low || value > high) {
            list.push_back(fmt::format("{} of {:g} {} is outside the range from {:g} to {:g} {} "
                                       "that ITU-R P.1812 was made for",
                                       what, value, unit, low, high, unit));
        }
    };
    warn_outside(geometry.distance_km, 0.25, 3000.0, "path length", "km");
    warn_outside(geometry.above_ground_m.transmitter_m, 1.0, 3000.0, "transmitter height", "m");
    warn_outside(geometry.above_ground_m.receiver_m, 1.0, 3000.0, "receiver height", "m");
    if (!inputs.location_deviation_db && inputs.location_percent != 50.0) {
        warn_outside(inputs.location_area_width_m, 50.0, 1000.0, "area width", "m");
    }
    if (geometry.middle_interpolated) {
        list.emplace_back("profile has no point between its ends; the ground between them is taken "
                          "as a straight slope");
    }
    return list;
}

// beta_0: share of an average year with strong ducting near the ground (section 4.1).
void derive_beta0(P1812Result& r) {
    const PathGeometry& g = r.geometry;
    const double latitude = std::abs(r.inputs.path_centre_latitude_deg);
    r.ducting.tau = 1.0 - std::exp(-4.12e-4 * std::pow(g.longest_inland_km, 2.41));
    const double tau = r.ducting.tau;
    const double sum = std::pow(10.0, -g.longest_land_km / (16.0 - 6.6 * tau)) +
                       std::pow(10.0, -5.0 * (0.496 + 0.354 * tau));
    r.mu1 = std::min(1.0, std::pow(sum, 0.2));
    if (latitude <= 70.0) {
        r.mu4 = std::pow(r.mu1, -0.935 + 0.0176 * latitude);
        r.beta0_percent = std::pow(10.0, -0.015 * latitude + 1.67) * r.mu1 * r.mu4;
    } else {
        r.mu4 = std::pow(r.mu1, 0.3);
        r.beta0_percent = 4.17 * r.mu1 * r.mu4;
    }
}

void derive_line_of_sight(P1812Result& r) {
    const PathGeometry& g = r.geometry;
    const double slant_km =
        std::hypot(g.distance_km, (g.transmitter_asl_m - g.receiver_asl_m) / 1000.0);
    // The Recommendation rounds the constant of free space to 92.4 dB; 92.45 would be nearer, and
    // free_space_loss_db() nearer still. Its own results stand on 92.4.
    r.free_space_db =
        92.4 + 20.0 * std::log10(r.inputs.frequency_mhz / 1000.0) + 20.0 * std::log10(slant_km);
    const double focusing =
        2.6 * (1.0 - std::exp(-0.1 * (g.transmitter_horizon_km + g.receiver_horizon_km)));
    r.multipath_p_db = focusing * std::log10(r.inputs.time_percent / 50.0);
    r.multipath_beta_db = focusing * std::log10(r.beta0_percent / 50.0);
    r.los_p_db = r.free_space_db + r.multipath_p_db;
    r.los_beta_db = r.free_space_db + r.multipath_beta_db;
}

// Equations (14) to (20): the diffraction parameter of the one edge that stands for the path.
double bullington_nu(const BullingtonTerms& terms, double distance_km, double wave_m) {
    if (terms.line_of_sight()) {
        return terms.scaled_nu_max / std::sqrt(wave_m);
    }
    return equivalent_edge(terms.transmitter_slope, terms.direct_slope, terms.receiver_slope,
                           distance_km, wave_m)
        .nu;
}

// Equation (21): an edge's loss and the empirical share that other obstacles add.
double bullington_loss_db(double nu, double distance_km) {
    const double edge_db = knife_edge_loss_itu_db(nu);
    return edge_db + bullington_correction_db(edge_db, distance_km);
}

// Attachment 4 to annex 1, equations (105) to (110): nu of a smooth path from the sphere itself.
double closed_form_smooth_nu(double distance_km, double height_t, double height_r, double radius_km,
                             double wave_m) {
    if (distance_km < smooth_horizon_distance_km(height_t, height_r, radius_km)) {
        const SmoothClearance nearest =
            smooth_earth_clearance(distance_km, height_t, height_r, radius_km);
        return diffraction_parameter(-nearest.clearance_m, nearest.transmitter_side_km,
                                     nearest.receiver_side_km, wave_m);
    }
    const auto tangent_slope = [&](double height_m) {
        return 500.0 * distance_km / radius_km - 2.0 * std::sqrt(500.0 * height_m / radius_km);
    };
    return bullington_nu({tangent_slope(height_t), (height_r - height_t) / distance_km,
                          tangent_slope(height_r), 0.0},
                         distance_km, wave_m);
}

DeltaBullington delta_bullington(const PathGeometry& g, const P1812Inputs& inputs,
                                 const BullingtonTerms& actual, const BullingtonTerms& smooth,
                                 double radius_km) {
    const double wave_m = wavelength_m(inputs.frequency_mhz);
    const double height_t = g.diffraction_height_transmitter_m();
    const double height_r = g.diffraction_height_receiver_m();
    DeltaBullington result;
    result.actual_nu = bullington_nu(actual, g.distance_km, wave_m);
    result.actual_loss_db = bullington_loss_db(result.actual_nu, g.distance_km);
    result.smooth_nu =
        inputs.smooth_path == SmoothPathMethod::profile
            ? bullington_nu(smooth, g.distance_km, wave_m)
            : closed_form_smooth_nu(g.distance_km, height_t, height_r, radius_km, wave_m);
    result.smooth_loss_db = bullington_loss_db(result.smooth_nu, g.distance_km);
    result.spherical =
        spherical_earth_loss(g.distance_km, height_t, height_r, radius_km, inputs.frequency_mhz,
                             inputs.polarization, g.sea_fraction);
    result.loss_db =
        result.actual_loss_db + std::max(0.0, result.spherical.loss_db - result.smooth_loss_db);
    return result;
}

void derive_diffraction(P1812Result& r) {
    const PathGeometry& g = r.geometry;
    r.median = delta_bullington(g, r.inputs, g.actual_median, g.smooth_median, g.radii.median_km);
    r.beta = delta_bullington(g, r.inputs, g.actual_beta, g.smooth_beta, g.radii.beta_km);
    r.time_interpolation = r.inputs.time_percent > r.beta0_percent
                               ? normal_exceedance_deviate(r.inputs.time_percent / 100.0) /
                                     normal_exceedance_deviate(r.beta0_percent / 100.0)
                               : 1.0;
    r.diffraction_p_db =
        r.median.loss_db + (r.beta.loss_db - r.median.loss_db) * r.time_interpolation;
    r.diffraction_median_basic_db = r.free_space_db + r.median.loss_db;
    r.diffraction_basic_db = r.los_p_db + r.diffraction_p_db;
}

void derive_troposcatter(P1812Result& r) {
    const double log_f = std::log10(r.inputs.frequency_mhz / 1000.0);
    const double log_half_f = log_f - std::log10(2.0);
    const double frequency_db = 25.0 * log_f - 2.5 * log_half_f * log_half_f; // (45)
    r.troposcatter_db = 190.1 + frequency_db + 20.0 * std::log10(r.geometry.distance_km) +
                        0.573 * r.geometry.angular_distance_mrad - 0.15 * r.inputs.refractivity.n0 -
                        10.125 * std::pow(std::log10(50.0 / r.inputs.time_percent), 0.7);
}

// Equations (48), (48a): hills near a terminal keep it out of the duct.
double site_shielding_db(double angle_mrad, double horizon_km, double frequency_ghz) {
    const double excess_mrad = angle_mrad - 0.1 * horizon_km;
    if (excess_mrad <= 0.0) {
        return 0.0;
    }
    return 20.0 * std::log10(1.0 + 0.361 * excess_mrad * std::sqrt(frequency_ghz * horizon_km)) +
           0.264 * excess_mrad * std::cbrt(frequency_ghz);
}

// Equation (49): a terminal near the sea, and low over it, couples well into a duct above it.
double sea_coupling_db(double coast_km, double horizon_km, double asl_m, double sea_fraction) {
    if (sea_fraction < 0.75 || coast_km > horizon_km || coast_km > 5.0) {
        return 0.0;
    }
    return -3.0 * std::exp(-0.25 * coast_km * coast_km) * (1.0 + std::tanh(0.07 * (50.0 - asl_m)));
}

void derive_ducting(P1812Result& r) {
    const PathGeometry& g = r.geometry;
    const double d = g.distance_km;
    const double f_ghz = r.inputs.frequency_mhz / 1000.0;
    Ducting& duct = r.ducting;
    const auto coast_km = [](const std::optional<double>& given,
                             const std::optional<double>& found) {
        return given.value_or(found.value_or(far_from_coast_km));
    };

    if (f_ghz < 0.5) {
        duct.wavelength_correction_db = 45.375 - 137.0 * f_ghz + 92.5 * f_ghz * f_ghz;
    }
    duct.transmitter_shielding_db =
        site_shielding_db(g.transmitter_angle_mrad, g.transmitter_horizon_km, f_ghz);
    duct.receiver_shielding_db =
        site_shielding_db(g.receiver_angle_mrad, g.receiver_horizon_km, f_ghz);
    duct.transmitter_coupling_db =
        sea_coupling_db(coast_km(r.inputs.transmitter_coast_km, g.transmitter_coast_km),
                        g.transmitter_horizon_km, g.transmitter_asl_m, g.sea_fraction);
    duct.receiver_coupling_db =
        sea_coupling_db(coast_km(r.inputs.receiver_coast_km, g.receiver_coast_km),
                        g.receiver_horizon_km, g.receiver_asl_m, g.sea_fraction);
    duct.fixed_loss_db = 102.45 + 20.0 * std::log10(f_ghz) +
                         20.0 * std::log10(g.transmitter_horizon_km + g.receiver_horizon_km) +
                         duct.wavelength_correction_db + duct.transmitter_shielding_db +
                         duct.receiver_shielding_db + duct.transmitter_coupling_db +
                         duct.receiver_coupling_db;

    duct.specific_attenuation_db_mrad = 5e-5 * g.radii.median_km * std::cbrt(f_ghz);
    duct.angular_distance_mrad =
        1000.0 * d / g.radii.median_km +
        std::min(g.transmitter_angle_mrad, 0.1 * g.transmitter_horizon_km) +
        std::min(g.receiver_angle_mrad, 0.1 * g.receiver_horizon_km);

    duct.alpha = std::max(-3.4, -0.6 - 3.5e-9 * std::pow(d, 3.1) * duct.tau);
    const double root_sum =
        std::sqrt(g.ducting_height_transmitter_m()) + std::sqrt(g.ducting_height_receiver_m());
    duct.mu2 = std::min(
        1.0, std::pow(500.0 / g.radii.median_km * d * d / (root_sum * root_sum), duct.alpha));
    if (g.roughness_m > 10.0) {
        const double between_km =
            std::min(d - g.transmitter_horizon_km - g.receiver_horizon_km, 40.0);
        duct.mu3 = std::exp(-4.6e-5 * (g.roughness_m - 10.0) * (43.0 + 6.0 * between_km));
    } else {
        duct.mu3 = 1.0;
    }
    // Antennas on the ground make mu2 vanish; the floor keeps the logarithm finite.
    duct.beta_percent = std::max(1e-300, r.beta0_percent * duct.mu2 * duct.mu3);
    const double log_beta = std::log10(duct.beta_percent);
    duct.gamma =
        1.076 / std::pow(2.0058 - log_beta, 1.012) *
        std::exp(-(9.51 - 4.8 * log_beta + 0.198 * log_beta * log_beta) * 1e-6 * std::pow(d, 1.13));
    const double log_ratio = std::log10(r.inputs.time_percent) - log_beta;
    duct.time_variability_db =
        -12.0 + (1.2 + 3.7e-3 * d) * log_ratio + 12.0 * std::pow(10.0, duct.gamma * log_ratio);
    duct.variable_loss_db =
        duct.specific_attenuation_db_mrad * duct.angular_distance_mrad + duct.time_variability_db;
    duct.loss_db = duct.fixed_loss_db + duct.variable_loss_db;
}

// Falls from 1 to 0 as `value` passes `middle`; `sharpness` is 3 zeta or 3 kappa.
double fade_out(double value, double middle, double sharpness) {
    return 1.0 - 0.5 * (1.0 + std::tanh(sharpness * (value - middle) / middle));
}

// 2.5 ln(exp(a / 2.5) + exp(b / 2.5)), without overflow where a loss is large.
double soft_maximum_db(double a, double b) {
    constexpr double eta = 2.5;
    return std::max(a, b) + eta * std::log1p(std::exp(-std::abs(a - b) / eta));
}

void combine(P1812Result& r) {
    const PathGeometry& g = r.geometry;
    r.angle_interpolation = fade_out(g.angular_distance_mrad, 0.3, 3.0 * 0.8);
    r.distance_interpolation = fade_out(g.distance_km, 20.0, 3.0 * 0.5);

    const double land_diffraction_db = (1.0 - g.sea_fraction) * r.diffraction_p_db;
    r.least_los_diffraction_db =
        r.inputs.time_percent < r.beta0_percent
            ? r.los_p_db + land_diffraction_db
            : r.diffraction_median_basic_db +
                  (r.los_beta_db + land_diffraction_db - r.diffraction_median_basic_db) *
                      r.time_interpolation;
    r.least_los_ducting_db = soft_maximum_db(r.ducting.loss_db, r.los_p_db);
    r.diffraction_ducting_db =
        r.least_los_ducting_db > r.diffraction_basic_db
            ? r.diffraction_basic_db
            : r.least_los_ducting_db +
                  (r.diffraction_basic_db - r.least_los_ducting_db) * r.distance_interpolation;
    r.modified_db = r.diffraction_ducting_db +
                    (r.least_los_diffraction_db - r.diffraction_ducting_db) * r.angle_interpolation;
    // -5 log10(10^(-0.2 a) + 10^(-0.2 b)), referred to the smaller loss so that neither underflows.
    const double smaller = std::min(r.troposcatter_db, r.modified_db);
    const double gap = std::abs(r.troposcatter_db - r.modified_db);
    r.median_places_db = smaller - 5.0 * std::log10(1.0 + std::pow(10.0, -0.2 * gap));
}

// Equations (64), (65): spread of the loss among places near the receiver, which dies out as the
// receiver rises above the cover.
double location_deviation_db(const PathGeometry& g, const P1812Inputs& inputs) {
    const double at_ground = (0.024 * inputs.frequency_mhz / 1000.0 + 0.52) *
                             std::pow(inputs.location_area_width_m, 0.28);
    const double above_cover_m = g.above_ground_m.receiver_m - g.receiver_cover_m;
    return at_ground * std::clamp(1.0 - above_cover_m / 10.0, 0.0, 1.0);
}

void spread_over_places(P1812Result& r) {
    const PathGeometry& g = r.geometry;
    // Places at sea are all alike.
    double deviation =
        g.receiver_at_sea
            ? 0.0
            : r.inputs.location_deviation_db.value_or(location_deviation_db(g, r.inputs));
    double entry_db = 0.0;
    if (r.inputs.building_entry) {
        entry_db = r.inputs.building_entry->median_db;
        deviation = std::hypot(deviation, r.inputs.building_entry->deviation_db);
    }
    r.location_deviation_db = deviation;
    r.location_correction_db =
        entry_db - normal_exceedance_deviate(r.inputs.location_percent / 100.0) * deviation;
    r.loss_db = std::max(r.los_p_db, r.median_places_db + r.location_correction_db);
    r.field_strength_dbuv_m =
        199.36 + 20.0 * std::log10(r.inputs.frequency_mhz / 1000.0) - r.loss_db;
}

} // namespace

P1812Result p1812_loss(const PathGeometry& geometry, const P1812Inputs& inputs) {
    check(geometry, inputs);
    P1812Result result;
    result.geometry = geometry;
    result.inputs = inputs;
    result.warnings = warnings(geometry, inputs);
    derive_beta0(result);
    derive_line_of_sight(result);
    derive_diffraction(result);
    derive_troposcatter(result);
    derive_ducting(result);
    combine(result);
    spread_over_places(result);
    return result;
}

P1812Result p1812(const PathView& path, AntennaHeights heights, const P1812Inputs& inputs) {
    return p1812_loss(analyse_path(path, heights, effective_radii(inputs.refractivity.delta_n)),
                      inputs);
}

} // namespace earshot::propagation
