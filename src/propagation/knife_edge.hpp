#pragma once

#include "earshot/propagation/conditions.hpp"

namespace earshot::propagation {

/// Fresnel integrals C(x) = int_0^x cos(pi t^2 / 2) dt and S(x) likewise with sin.
struct FresnelIntegrals {
    double c = 0.0;
    double s = 0.0;
};

/// Fresnel integrals to about 1e-12 (Abramowitz and Stegun, section 7.3: power series 7.3.11 and
/// 7.3.13 for small arguments, auxiliary functions f and g of 7.3.5 and 7.3.6 by continued
/// fraction of the complementary error function beyond). Any finite `x`.
[[nodiscard]] FresnelIntegrals fresnel_integrals(double x);

/// Loss of a perfectly absorbing knife edge, dB, by the complex Fresnel integral:
/// J(nu) = -20 log10( sqrt((1 - C - S)^2 + (C - S)^2) / 2 ) (ITU-R P.526-15, equation (30)).
/// Negative (a gain, at most 1.4 dB) in the lit region where the exact form ripples.
[[nodiscard]] double knife_edge_loss_exact_db(double nu);

/// 6.9 + 20 log10( sqrt((nu - 0.1)^2 + 1) + nu - 0.1 ) for nu > -0.78, else 0, dB (ITU-R P.526-15,
/// equation (31)).
[[nodiscard]] double knife_edge_loss_itu_db(double nu);

[[nodiscard]] double knife_edge_loss_db(double nu, KnifeEdgeForm form);

/// Fresnel-Kirchhoff parameter of an edge `height_m` above (positive) or below (negative) the line
/// between points d1 and d2 away: nu = h sqrt(2 (1/d1 + 1/d2) / lambda) (ITU-R P.526-15, equation
/// (26)).
[[nodiscard]] double diffraction_parameter(double height_m, double d1_km, double d2_km,
                                           double wavelength_m);

} // namespace earshot::propagation
