#include "earshot/base/error.hpp"
#include "propagation/basic.hpp"
#include "propagation/p1812.hpp"
#include "propagation/p1812/constants.hpp"
#include "propagation/plain.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>

namespace earshot::propagation {
namespace {

using namespace plain;

// Distance over land that stands for "far from any coast", km: beyond it the formulas see no sea.
constexpr double far_from_coast_km = 500.0;

void require_between(double value, double low, double high, const char* what, const char* unit) {
    if (!(value >= low && value <= high)) {
        throw_usage(fmt::format("{} is {}{}: give a value from {} to {}{}", what, value, unit, low,
                                high, unit));
    }
}

void check(const PathGeometry& geometry, const P1812Inputs& inputs) {
    validate(inputs);
    constexpr double no_limit = std::numeric_limits<double>::max();
    require_between(inputs.path_centre_latitude_deg, -90.0, 90.0, "latitude of the path", " deg");
    require_between(inputs.transmitter_coast_km.value_or(0.0), 0.0, no_limit,
                    "distance from the transmitter to the coast", " km");
    require_between(inputs.receiver_coast_km.value_or(0.0), 0.0, no_limit,
                    "distance from the receiver to the coast", " km");
    const double median_km = effective_radii(inputs.refractivity.delta_n).median_km;
    if (!(std::abs(geometry.radii.median_km - median_km) < 1e-6 * median_km)) {
        throw_usage(fmt::format("path was analysed for an effective earth radius of {:.1f} km but "
                                "{} N-units/km means {:.1f} km: use one of them for both",
                                geometry.radii.median_km, inputs.refractivity.delta_n, median_km));
    }
}

void warn_outside(std::vector<std::string>& list, double value, double low, double high,
                  const char* what, const char* unit) {
    if (value < low || value > high) {
        list.push_back(fmt::format("{} of {:g} {} is outside the range from {:g} to {:g} {} "
                                   "that ITU-R P.1812 was made for",
                                   what, value, unit, low, high, unit));
    }
}

std::vector<std::string> warnings_of_path(const PathGeometry& geometry, const P1812Inputs& inputs) {
    std::vector<std::string> list;
    warn_outside(list, geometry.distance_km, 0.25, 3000.0, "path length", "km");
    for (std::string& warning : warnings(inputs, geometry.above_ground_m)) {
        list.push_back(std::move(warning));
    }
    if (geometry.middle_interpolated) {
        list.emplace_back("profile has no point between its ends; the ground between them is taken "
                          "as a straight slope");
    }
    return list;
}

Slopes<double> slopes_of(const BullingtonTerms& terms) {
    return {terms.transmitter_slope, terms.direct_slope, terms.receiver_slope, terms.scaled_nu_max};
}

DeltaBullington delta_bullington(const PathGeometry& g, const P1812Inputs& inputs,
                                 const P1812Constants& c, const BullingtonTerms& actual,
                                 const BullingtonTerms& smooth, double radius_km) {
    DeltaBullington result;
    const LowAntennas low(inputs, g.above_ground_m);
    result.actual_nu = bullington_nu(slopes_of(actual), g.distance_km, c.root_wavelength_m);
    result.actual_loss_db = bullington_db(result.actual_nu, g.distance_km);
    result.smooth_nu = bullington_nu(slopes_of(smooth), g.distance_km, c.root_wavelength_m);
    result.smooth_loss_db = bullington_db(result.smooth_nu, g.distance_km);
    result.spherical = spherical_earth_loss(
        g.distance_km, g.diffraction_height_transmitter_m(), g.diffraction_height_receiver_m(),
        radius_km, inputs.frequency_mhz, inputs.polarization, g.sea_fraction);
    const double other_share = other_obstacles_share(knife_edge_db(result.actual_nu));
    result.beside_db =
        ground_beside_both_db(ground_beside_db(low.transmitter, g.transmitter_arrival),
                              ground_beside_db(low.receiver, g.receiver_arrival), other_share);
    result.loss_db = delta_bullington_db(result.actual_loss_db, result.smooth_loss_db,
                                         result.spherical.loss_db, result.beside_db, other_share);
    return result;
}

// Equation (49): a terminal near the sea, and low over it, couples well into a duct above it.
double sea_coupling_db(double coast_km, double horizon_km, double asl_m, double sea_fraction) {
    if (sea_fraction < 0.75 || coast_km > horizon_km || coast_km > 5.0) {
        return 0.0;
    }
    return -3.0 * std::exp(-0.25 * coast_km * coast_km) * (1.0 + std::tanh(0.07 * (50.0 - asl_m)));
}

// Section 4.5, less what depends on time.
void derive_duct_entry(P1812Result& r, const P1812Constants& c) {
    const PathGeometry& g = r.geometry;
    Ducting& duct = r.ducting;
    const auto coast_km = [](const std::optional<double>& given,
                             const std::optional<double>& found) {
        return given.value_or(found.value_or(far_from_coast_km));
    };
    const auto shielding_db = [](const SiteShielding<double>& site) {
        return 20.0 * std::log10(site.factor) + site.rest_db;
    };
    duct.wavelength_correction_db = c.duct_wavelength_db;
    const SiteShielding<double> site_t =
        site_shielding(c, g.transmitter_angle_mrad, g.transmitter_horizon_km);
    const SiteShielding<double> site_r =
        site_shielding(c, g.receiver_angle_mrad, g.receiver_horizon_km);
    duct.transmitter_shielding_db = shielding_db(site_t);
    duct.receiver_shielding_db = shielding_db(site_r);
    duct.transmitter_coupling_db =
        sea_coupling_db(coast_km(r.inputs.transmitter_coast_km, g.transmitter_coast_km),
                        g.transmitter_horizon_km, g.transmitter_asl_m, g.sea_fraction);
    duct.receiver_coupling_db =
        sea_coupling_db(coast_km(r.inputs.receiver_coast_km, g.receiver_coast_km),
                        g.receiver_horizon_km, g.receiver_asl_m, g.sea_fraction);
    duct.fixed_loss_db =
        fixed_duct_db(c, g.transmitter_horizon_km + g.receiver_horizon_km, site_t, site_r) +
        duct.transmitter_coupling_db + duct.receiver_coupling_db;
    duct.specific_attenuation_db_mrad = c.duct_attenuation_db_mrad;
    duct.angular_distance_mrad =
        duct_angle_mrad(1000.0 * g.distance_km / g.radii.median_km, g.transmitter_angle_mrad,
                        g.receiver_angle_mrad, g.transmitter_horizon_km, g.receiver_horizon_km);
}

// Puts the steps of the formulas in the result's own terms.
void keep(P1812Result& r, const DuctShare<double>& share, const OverTime<double>& time,
          const DuctTime<double>& often, const Combined<double>& combined) {
    r.mu1 = exp10(share.log_mu1);
    r.mu4 = exp10(share.log_mu4);
    r.beta0_percent = exp10(share.log_beta0);
    r.multipath_p_db = time.multipath_p_db;
    r.multipath_beta_db = time.multipath_beta_db;
    r.los_p_db = time.los_p_db;
    r.los_beta_db = time.los_beta_db;
    r.time_interpolation = time.interpolation;
    r.diffraction_p_db = time.diffraction_p_db;
    r.diffraction_median_basic_db = time.median_basic_db;
    r.diffraction_basic_db = time.basic_db;
    r.ducting.tau = share.tau;
    r.ducting.alpha = often.alpha;
    r.ducting.mu2 = exp10(often.log_mu2);
    r.ducting.mu3 = exp10(often.log_mu3);
    r.ducting.beta_percent = exp10(often.log_beta);
    r.ducting.gamma = often.gamma;
    r.ducting.time_variability_db = often.variability_db;
    r.angle_interpolation = combined.angle_share;
    r.distance_interpolation = combined.distance_share;
    r.least_los_diffraction_db = time.least_los_db;
    r.least_los_ducting_db = combined.least_ducting_db;
    r.diffraction_ducting_db = combined.diffraction_ducting_db;
    r.modified_db = combined.modified_db;
    r.median_places_db = combined.loss_db;
}

// Sections 4.1 to 4.7: the loss at half of the places.
void derive_median_places(P1812Result& r, const P1812Constants& c) {
    const PathGeometry& g = r.geometry;
    const auto logged = [](double x) { return Logged<double>{x, std::log(x)}; };
    const double horizons_km = g.transmitter_horizon_km + g.receiver_horizon_km;
    r.free_space_db =
        slant_free_space_db(g.distance_km, g.receiver_asl_m - g.transmitter_asl_m, c.free_space_db);
    r.median =
        delta_bullington(g, r.inputs, c, g.actual_median, g.smooth_median, g.radii.median_km);
    r.beta = delta_bullington(g, r.inputs, c, g.actual_beta, g.smooth_beta, g.radii.beta_km);
    const DuctShare<double> share = duct_share(g.longest_land_km, logged(g.longest_inland_km),
                                               r.inputs.path_centre_latitude_deg);
    const OverTime<double> time = over_time(c, r.free_space_db, horizons_km, share.log_beta0,
                                            r.median.loss_db, r.beta.loss_db, 1.0 - g.sea_fraction);
    r.troposcatter_db = troposcatter_db(c, g.distance_km, 20.0 * std::log10(g.distance_km),
                                        g.angular_distance_mrad);
    derive_duct_entry(r, c);
    Ducting& duct = r.ducting;
    const DuctTime<double> often =
        duct_time(c, logged(g.distance_km), share, g.ducting_height_transmitter_m(),
                  g.ducting_height_receiver_m(), horizons_km, g.roughness_m);
    duct.variable_loss_db =
        duct.specific_attenuation_db_mrad * duct.angular_distance_mrad + often.variability_db;
    duct.loss_db = duct.fixed_loss_db + duct.variable_loss_db;
    keep(r, share, time, often,
         combine(g.distance_km, g.angular_distance_mrad, time, duct.loss_db, r.troposcatter_db));
}

void spread_over_places(P1812Result& r, const P1812Constants& c) {
    const PathGeometry& g = r.geometry;
    r.location_deviation_db = location_deviation_db(
        r.inputs, g.above_ground_m.receiver_m - g.receiver_cover_m, g.receiver_at_sea);
    r.location_correction_db = place_correction_db(c, r.location_deviation_db);
    r.loss_db = std::max(r.los_p_db, r.median_places_db + r.location_correction_db);
    r.field_strength_dbuv_m =
        199.36 + 20.0 * std::log10(r.inputs.frequency_mhz / 1000.0) - r.loss_db;
}

} // namespace

void validate(const P1812Conditions& conditions) {
    require_between(conditions.frequency_mhz, lowest_frequency_mhz, highest_frequency_mhz,
                    "frequency", " MHz");
    require_between(conditions.time_percent, 1.0, 50.0, "share of time", " %");
    require_between(conditions.location_percent, 1.0, 99.0, "share of places", " %");
    require_between(conditions.refractivity.n0, 100.0, 600.0, "refractivity at sea level",
                    " N-units");
    require_between(conditions.location_area_width_m, 1.0, 100e3, "width of the area", " m");
    require_between(conditions.location_deviation_db.value_or(0.0), 0.0, 100.0,
                    "deviation among places", " dB");
    if (conditions.building_entry) {
        require_between(conditions.building_entry->median_db, 0.0, 200.0, "building entry loss",
                        " dB");
        require_between(conditions.building_entry->deviation_db, 0.0, 100.0,
                        "deviation of building entry loss", " dB");
    }
}

std::vector<std::string> warnings(const P1812Conditions& conditions, AntennaHeights heights) {
    std::vector<std::string> list;
    warn_outside(list, heights.transmitter_m, 1.0, 3000.0, "transmitter height", "m");
    warn_outside(list, heights.receiver_m, 1.0, 3000.0, "receiver height", "m");
    if (!conditions.location_deviation_db && conditions.location_percent != 50.0) {
        warn_outside(list, conditions.location_area_width_m, 50.0, 1000.0, "area width", "m");
    }
    return list;
}

double location_deviation_db(const P1812Conditions& conditions, double above_cover_m, bool at_sea) {
    if (at_sea) {
        return conditions.building_entry ? conditions.building_entry->deviation_db : 0.0;
    }
    return place_deviation_db(PlaceSpread(conditions), above_cover_m);
}

P1812Result p1812_loss(const PathGeometry& geometry, const P1812Inputs& inputs) {
    check(geometry, inputs);
    P1812Result result;
    result.geometry = geometry;
    result.inputs = inputs;
    result.warnings = warnings_of_path(geometry, inputs);
    const P1812Constants constants(inputs);
    derive_median_places(result, constants);
    spread_over_places(result, constants);
    return result;
}

P1812Result p1812(const PathView& path, AntennaHeights heights, const P1812Inputs& inputs) {
    return p1812_loss(analyse_path(path, heights, effective_radii(inputs.refractivity.delta_n)),
                      inputs);
}

} // namespace earshot::propagation
