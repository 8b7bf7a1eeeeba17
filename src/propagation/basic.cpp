#include "propagation/basic.hpp"

#include <cmath>
#include <numbers>

namespace earshot::propagation {

double wavelength_m(double frequency_mhz) {
    return speed_of_light_m_s / (frequency_mhz * 1e6);
}

double free_space_loss_db(double distance_km, double frequency_mhz) {
    return 20.0 *
           std::log10(4.0 * std::numbers::pi * distance_km * 1000.0 / wavelength_m(frequency_mhz));
}

double effective_earth_radius_km(double k_factor) {
    return k_factor * earth_radius_km;
}

double fresnel_radius_m(double d1_km, double d2_km, double frequency_mhz, int n) {
    return std::sqrt(n * wavelength_m(frequency_mhz) * 1000.0 * d1_km * d2_km / (d1_km + d2_km));
}

} // namespace earshot::propagation
