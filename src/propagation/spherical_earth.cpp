#include "propagation/spherical_earth.hpp"

#include "propagation/basic.hpp"
#include "propagation/plain.hpp"

namespace earshot::propagation {

Surface surface_of(double frequency_mhz, Ground ground, Polarization polarization) {
    const double loss_tangent_term = 18000.0 * ground.conductivity_s_m / frequency_mhz;
    const auto size = [&](double permittivity) {
        return std::hypot(permittivity, loss_tangent_term);
    };
    const double horizontal = 0.36 / std::cbrt(frequency_mhz) /
                              std::sqrt(size(ground.relative_permittivity - 1.0)); // (29a)
    const bool vertical = polarization == Polarization::vertical;
    return {vertical ? horizontal * size(ground.relative_permittivity) : horizontal, // (29b)
            2.188 * std::cbrt(frequency_mhz), 0.009575 * std::cbrt(frequency_mhz * frequency_mhz)};
}

FirstTerm spherical_earth_first_term(double distance_km, double transmitter_height_m,
                                     double receiver_height_m, double radius_km,
                                     double frequency_mhz, Ground ground,
                                     Polarization polarization) {
    return plain::first_term(distance_km, transmitter_height_m, receiver_height_m, radius_km,
                             surface_of(frequency_mhz, ground, polarization));
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
    return plain::spherical_earth(distance_km, transmitter_height_m, receiver_height_m, radius_km,
                                  wavelength_m(frequency_mhz), mixed_first_term);
}

} // namespace earshot::propagation
