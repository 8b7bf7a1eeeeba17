#include "propagation/rounded_obstacle.hpp"

#include "propagation/basic.hpp"
#include "propagation/knife_edge.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace earshot::propagation {

RoundedObstacle rounded_obstacle_loss(double height_m, double d1_km, double d2_km, double radius_m,
                                      double frequency_mhz) {
    const double wave_m = wavelength_m(frequency_mhz);
    RoundedObstacle result;
    result.nu = diffraction_parameter(height_m, d1_km, d2_km, wave_m);
    result.knife_edge_db = knife_edge_loss_itu_db(result.nu);
    if (radius_m > 0.0) {
        // The radius in wavelengths to the one-third power sets the scale of both parameters.
        const double scale = std::cbrt(std::numbers::pi * radius_m / wave_m);
        result.m = radius_m * (d1_km + d2_km) / (1000.0 * d1_km * d2_km) / scale;
        result.n = height_m * scale * scale / radius_m;
        const double m = result.m;
        const double mn = m * result.n;
        const double grazing = 7.2 * std::sqrt(m) - 2.0 * m + 3.6 * m * std::sqrt(m) - 0.8 * m * m;
        const double raised = mn <= 4.0 ? 12.5 * mn : -6.0 - 20.0 * std::log10(mn) + 17.0 * mn;
        result.curvature_db = std::max(0.0, grazing + raised);
    }
    result.loss_db = result.knife_edge_db + result.curvature_db;
    return result;
}

} // namespace earshot::propagation
