#include "propagation/knife_edge.hpp"

#include "propagation/plain.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

namespace earshot::propagation {
namespace {

// C and S from their Maclaurin series, A&S 7.3.11 and 7.3.13. Used up to |x| = 1.8, where the
// largest term stays below 20 and so costs at most two of the sixteen digits.
FresnelIntegrals fresnel_by_series(double x) {
    const double t = std::numbers::pi / 2.0 * x * x;
    double term = x; // x (pi/2 x^2)^k / k!, whose even k belong to C and odd k to S
    FresnelIntegrals sum{x, 0.0};
    for (int k = 1; k < 60; ++k) {
        term *= t / k;
        const double part = term / (2 * k + 1);
        const bool negative = (k / 2) % 2 == 1;
        double& target = k % 2 == 0 ? sum.c : sum.s;
        target += negative ? -part : part;
        if (part < 1e-17 * std::abs(sum.c)) {
            break;
        }
    }
    return sum;
}

// C + iS = (1 + i)/2 * erf(z) with z = sqrt(pi)/2 (1 - i) x (A&S 7.3.22), and erfc(z) by its
// continued fraction (A&S 7.1.14), evaluated from the front by the modified Lentz method.
FresnelIntegrals fresnel_by_continued_fraction(double x) {
    using Complex = std::complex<double>;
    const Complex z = std::sqrt(std::numbers::pi) / 2.0 * Complex(1.0, -1.0) * x;
    constexpr double tiny = 1e-300;
    Complex fraction = z;
    Complex c = fraction;
    Complex d = 0.0;
    for (int k = 1; k < 500; ++k) {
        const double a = k / 2.0;
        d = z + a * d;
        d = 1.0 / (std::abs(d) < tiny ? Complex(tiny) : d);
        c = z + a / c;
        const Complex step = c * d;
        fraction *= step;
        if (std::abs(step - 1.0) < 1e-16) {
            break;
        }
    }
    const Complex erfc = std::exp(-z * z) / (std::sqrt(std::numbers::pi) * fraction);
    const Complex integral = Complex(0.5, 0.5) * (1.0 - erfc);
    return {integral.real(), integral.imag()};
}

} // namespace

FresnelIntegrals fresnel_integrals(double x) {
    const double magnitude = std::abs(x);
    FresnelIntegrals value =
        magnitude <= 1.8 ? fresnel_by_series(magnitude) : fresnel_by_continued_fraction(magnitude);
    if (x < 0.0) {
        value = {-value.c, -value.s};
    }
    return value;
}

double knife_edge_loss_exact_db(double nu) {
    if (nu > 100.0) {
        // The field falls as 1 / (pi nu sqrt 2) (P.526-15 equation (31) tends to the same); the
        // difference of near-equal integrals would lose its digits here.
        return 20.0 * std::log10(std::numbers::pi * std::numbers::sqrt2 * nu);
    }
    const auto [c, s] = fresnel_integrals(nu);
    return -20.0 * std::log10(std::hypot(1.0 - c - s, c - s) / 2.0);
}

double knife_edge_loss_itu_db(double nu) {
    return std::isnan(nu) ? nu : plain::knife_edge_db(nu);
}

double knife_edge_loss_db(double nu, KnifeEdgeForm form) {
    return form == KnifeEdgeForm::exact ? knife_edge_loss_exact_db(nu) : knife_edge_loss_itu_db(nu);
}

double diffraction_parameter(double height_m, double d1_km, double d2_km, double wavelength_m) {
    return plain::scaled_nu(height_m, d1_km, d2_km) / std::sqrt(wavelength_m);
}

} // namespace earshot::propagation
