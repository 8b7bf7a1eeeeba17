#include "propagation/low_antenna.hpp"

#include "propagation/basic.hpp"
#include "propagation/plain.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <cstddef>
#include <numbers>

namespace earshot::propagation {

double least_effective_height_m(double frequency_mhz, Ground ground, Polarization polarization) {
    const std::complex<double> permittivity(ground.relative_permittivity,
                                            -18000.0 * ground.conductivity_s_m / frequency_mhz);
    const double horizontal = wavelength_m(frequency_mhz) /
                              (2.0 * std::numbers::pi * std::sqrt(std::abs(permittivity - 1.0)));
    return polarization == Polarization::vertical ? horizontal * std::abs(permittivity)
                                                  : horizontal;
}

LowAntenna low_antenna(double height_m, double frequency_mhz, Polarization polarization) {
    constexpr double reference_m = 10.0; // of P.1546 over open country
    const double effective_m =
        std::hypot(height_m, least_effective_height_m(frequency_mhz, land_ground, polarization));
    const double per_decade_db = 3.2 + 6.2 * std::log10(frequency_mhz);
    return {4.0 * std::numbers::pi * effective_m / wavelength_m(frequency_mhz) / 1000.0,
            per_decade_db * std::log10(reference_m / std::clamp(height_m, 1.0, reference_m))};
}

double ground_slope_beside(std::span<const double> distance_km, std::span<const double> ground_m,
                           double reach_km, End end) {
    const bool at_last = end == End::last;
    const double at_km = at_last ? distance_km.back() - reach_km : reach_km;
    const auto right = static_cast<std::size_t>(
        std::lower_bound(distance_km.begin() + 1, distance_km.end() - 1, at_km) -
        distance_km.begin());
    const double there_m =
        std::lerp(ground_m[right - 1], ground_m[right],
                  (at_km - distance_km[right - 1]) / (distance_km[right] - distance_km[right - 1]));
    return (there_m - (at_last ? ground_m.back() : ground_m.front())) / reach_km;
}

double ground_beside_db(const LowAntenna& antenna, double slope) {
    return plain::ground_beside_db(antenna, slope);
}

} // namespace earshot::propagation
