#include "propagation/p1812/constants.hpp"

#include "propagation/basic.hpp"
#include "propagation/normal_quantile.hpp"

#include <cmath>

namespace earshot::propagation {

PlaceSpread::PlaceSpread(const P1812Conditions& conditions)
    : in_building_db(conditions.building_entry.value_or(BuildingEntry{}).deviation_db) {
    if (conditions.location_deviation_db) {
        fixed_db = *conditions.location_deviation_db;
    } else {
        at_cover_db = (0.024 * conditions.frequency_mhz / 1000.0 + 0.52) *
                      std::pow(conditions.location_area_width_m, 0.28);
    }
}

LowAntennas::LowAntennas(const P1812Conditions& conditions, AntennaHeights heights) {
    if (conditions.short_range) {
        const auto over_ground = [&](double height_m) {
            return low_antenna(height_m, conditions.frequency_mhz, conditions.polarization);
        };
        transmitter = over_ground(heights.transmitter_m);
        receiver = over_ground(heights.receiver_m);
    }
}

P1812Constants::P1812Constants(const P1812Conditions& inputs) {
    const double f_ghz = inputs.frequency_mhz / 1000.0;
    const double log_f = std::log10(f_ghz);
    time_percent = inputs.time_percent;
    log_time = std::log10(time_percent);
    time_deviate = normal_exceedance_deviate(time_percent / 100.0);
    wavelength_m = propagation::wavelength_m(inputs.frequency_mhz);
    root_wavelength_m = std::sqrt(wavelength_m);
    // The Recommendation rounds the constant of free space to 92.4 dB; 92.45 would be nearer, and
    // free_space_loss_db() nearer still. Its own results stand on 92.4.
    free_space_db = 92.4 + 20.0 * log_f;
    const EffectiveRadii radii = effective_radii(inputs.refractivity.delta_n);
    median_radius_km = radii.median_km;
    beta_radius_km = radii.beta_km;
    const double log_half_f = log_f - std::log10(2.0);
    const double frequency_db = 25.0 * log_f - 2.5 * log_half_f * log_half_f; // (45)
    troposcatter_db = 190.1 + frequency_db - 0.15 * inputs.refractivity.n0 -
                      10.125 * std::pow(std::log10(50.0 / time_percent), 0.7);
    // So that nothing jumps where it sets in. Our own: at 60 km scatter is gone.
    scatter_fade_db_km = inputs.short_range ? 1.0 : 0.0;
    duct_wavelength_db = f_ghz < 0.5 ? 45.375 - 137.0 * f_ghz + 92.5 * f_ghz * f_ghz : 0.0;
    duct_db = 102.45 + 20.0 * log_f + duct_wavelength_db;
    root_f_ghz = std::sqrt(f_ghz);
    cube_root_f_ghz = std::cbrt(f_ghz);
    duct_attenuation_db_mrad = 5e-5 * median_radius_km * cube_root_f_ghz;
    entry_loss_db = inputs.building_entry.value_or(BuildingEntry{}).median_db;
    place_deviate = normal_exceedance_deviate(inputs.location_percent / 100.0);
}

} // namespace earshot::propagation
