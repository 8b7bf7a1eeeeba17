#include "propagation/knife_edge.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <numbers>

using namespace earshot::propagation;

namespace {

/// Composite Simpson's rule: an independent road to the same integrals.
template <typename Function>
double integrate(Function f, double from, double to, int intervals) {
    const double h = (to - from) / intervals;
    double sum = f(from) + f(to);
    for (int i = 1; i < intervals; ++i) {
        sum += (i % 2 == 1 ? 4.0 : 2.0) * f(from + i * h);
    }
    return sum * h / 3.0;
}

} // namespace

TEST_CASE("Fresnel integrals match Abramowitz and Stegun", "[knife-edge]") {
    // Handbook of Mathematical Functions (1964), Table 7.7, seven decimals.
    struct Row {
        double x, c, s;
    };
    for (const Row& row : {Row{0.5, 0.4923442, 0.0647324}, Row{1.0, 0.7798934, 0.4382591},
                           Row{2.0, 0.4882534, 0.3434157}, Row{5.0, 0.5636312, 0.4991914}}) {
        CAPTURE(row.x);
        CHECK(fresnel_integrals(row.x).c == Approx(row.c).margin(6e-8));
        CHECK(fresnel_integrals(row.x).s == Approx(row.s).margin(6e-8));
        CHECK(fresnel_integrals(-row.x).c == Approx(-row.c).margin(6e-8));
    }
}

TEST_CASE("Fresnel integrals match numerical integration on both sides of the seam",
          "[knife-edge]") {
    constexpr double half_pi = std::numbers::pi / 2.0;
    for (const double x : {0.1, 1.2, 1.799, 1.801, 2.5, 4.0, 7.3}) {
        CAPTURE(x);
        const double c =
            integrate([](double t) { return std::cos(half_pi * t * t); }, 0.0, x, 20000);
        const double s =
            integrate([](double t) { return std::sin(half_pi * t * t); }, 0.0, x, 20000);
        CHECK(fresnel_integrals(x).c == Approx(c).margin(1e-10));
        CHECK(fresnel_integrals(x).s == Approx(s).margin(1e-10));
    }
}

TEST_CASE("the loss of one edge has its published values", "[knife-edge]") {
    // ITU-R P.526-15 section 4.1: a grazing ray loses half the field, 20 log 2 = 6.02 dB.
    CHECK(knife_edge_loss_exact_db(0.0) == Approx(20.0 * std::log10(2.0)).margin(1e-9));
    CHECK(knife_edge_loss_itu_db(0.0) == Approx(6.0).margin(0.05));
    // Read off the figure of J(nu) in ITU-R P.526 (figure 9 of P.526-15; values from memory, as
    // fine as the figure can be read).
    CHECK(knife_edge_loss_itu_db(1.0) == Approx(13.9).margin(0.3));
    CHECK(knife_edge_loss_itu_db(2.0) == Approx(19.0).margin(0.3));
    CHECK(knife_edge_loss_itu_db(3.0) == Approx(22.5).margin(0.3));
    // P.526-15: J is zero from nu = -0.78 down; the form meets it there.
    CHECK(knife_edge_loss_itu_db(-0.78) == 0.0);
    CHECK(knife_edge_loss_itu_db(-0.7799) == Approx(0.0).margin(0.02));
}

TEST_CASE("the ITU form stays close to the exact one", "[knife-edge]") {
    // ITU-R P.526-15 gives equation (31) as an approximation of (30) for nu > -0.78; measured
    // here, it stays within 0.5 dB, the most near nu = -0.7, and within 0.15 dB for nu >= 0.
    for (double nu = -0.7; nu < 20.0; nu += 0.01) {
        CAPTURE(nu);
        const double difference = knife_edge_loss_itu_db(nu) - knife_edge_loss_exact_db(nu);
        CHECK(std::abs(difference) < (nu >= 0.0 ? 0.15 : 0.7));
    }
}

TEST_CASE("far in the shadow the exact form goes over into its limit without a step",
          "[knife-edge]") {
    const double below = knife_edge_loss_exact_db(100.0 - 1e-6);
    const double above = knife_edge_loss_exact_db(100.0 + 1e-6);
    CHECK(above - below == Approx(0.0).margin(1e-4));
}

TEST_CASE("nu follows ITU-R P.526 equation (26) and the first Fresnel zone", "[knife-edge]") {
    // One first-Fresnel radius is nu = sqrt 2 by definition (P.526-15 section 4.1, nu against h/R).
    const double wavelength_m = 2.0;
    const double d1_km = 3.0;
    const double d2_km = 7.0;
    const double radius_m = std::sqrt(wavelength_m * 3000.0 * 7000.0 / 10000.0);
    CHECK(diffraction_parameter(radius_m, d1_km, d2_km, wavelength_m) ==
          Approx(std::numbers::sqrt2));
    CHECK(diffraction_parameter(-radius_m, d2_km, d1_km, wavelength_m) ==
          Approx(-std::numbers::sqrt2));
}
