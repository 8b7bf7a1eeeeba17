#include "propagation/basic.hpp"
#include "propagation/plain.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <numbers>

using namespace earshot::propagation;

namespace {

using Complex = std::complex<double>;

// Zeros of the Airy function Ai, with sign turned (Abramowitz and Stegun, table 10.13).
constexpr std::array<double, 10> airy_zeros{2.33810741,  4.08794944, 5.52055983,  6.78670809,
                                            7.94413359,  9.02265085, 10.04017434, 11.00852430,
                                            11.93601556, 12.82877675};
// Ai'(-2.33810741), the same table.
constexpr double airy_slope_at_first_zero = 0.70121082;

// Ai by its power series (Abramowitz and Stegun 10.4.2 to 10.4.5), good to |z| = 8.
Complex airy(Complex z) {
    const Complex z3 = z * z * z;
    Complex f = 1.0;
    Complex g = z;
    Complex f_term = 1.0;
    Complex g_term = z;
    for (int k = 1; k < 80; ++k) {
        const double n = 3.0 * k;
        f_term *= z3 / ((n - 1.0) * n);
        g_term *= z3 / (n * (n + 1.0));
        f += f_term;
        g += g_term;
    }
    return 0.35502805388781724 * f - 0.25881940379280680 * g;
}

double db(double ratio) {
    return 20.0 * std::log10(ratio);
}

// Field beyond the horizon of a sphere that does not let horizontally polarized waves in, from the
// residue series of V. A. Fock ("Electromagnetic Diffraction and Propagation Problems", 1965,
// chapter 10), with distance and heights in the same natural units as X and Y of P.526.
double fock_distance_term_db(double x, std::size_t modes) {
    Complex sum = 0.0;
    for (std::size_t s = 0; s < modes; ++s) {
        const Complex zero = std::polar(airy_zeros[s], std::numbers::pi / 3.0);
        sum += std::exp(Complex(0.0, 1.0) * x * zero);
    }
    return db(2.0 * std::sqrt(std::numbers::pi * x) * std::abs(sum));
}

double fock_height_gain_db(double y) {
    const Complex turn = std::polar(1.0, 2.0 * std::numbers::pi / 3.0);
    const Complex zero = std::polar(airy_zeros[0], std::numbers::pi / 3.0);
    return db(std::abs(airy((zero - y) * turn)) / airy_slope_at_first_zero);
}

// Ground so dense that the wave sees a wall: beta becomes 1.
constexpr Ground perfect{1e9, 1e6};

} // namespace

TEST_CASE("spherical earth: the first term agrees with Fock's residue series") {
    // P.526-15 section 3.1.1 gives its formulas as approximations of the residue series.
    const double f_mhz = 300.0;
    const double radius_km = 8500.0;
    const double km_per_x = 1.0 / (2.188 * std::cbrt(f_mhz / (radius_km * radius_km)));
    const double m_per_y = 1.0 / (0.009575 * std::cbrt(f_mhz * f_mhz / radius_km));
    for (double x = 0.6; x < 12.0; x *= 1.15) {
        const FirstTerm term = spherical_earth_first_term(x * km_per_x, m_per_y, m_per_y, radius_km,
                                                          f_mhz, perfect, Polarization::horizontal);
        CHECK(term.beta == Approx(1.0).margin(1e-6));
        CHECK(term.x == Approx(x));
        CHECK(term.distance_term_db == Approx(fock_distance_term_db(x, 10)).margin(0.35));
    }
    for (double y = 0.05; y < 7.0; y *= 1.2) {
        const FirstTerm term =
            spherical_earth_first_term(2.0 * km_per_x, y * m_per_y, m_per_y, radius_km, f_mhz,
                                       perfect, Polarization::horizontal);
        CHECK(term.y_transmitter == Approx(y));
        CHECK(term.transmitter_gain_db == Approx(fock_height_gain_db(y)).margin(0.35));
    }
}

TEST_CASE("spherical earth: normalized distance and height follow from the wave's own units") {
    // X = (pi / (lambda a^2))^(1/3) d and Y = 2 (pi^2 / (lambda^2 a))^(1/3) h in one unit of length
    // (P.526-15 equations (14) and (15)); the practical forms round the constants to 4 digits.
    const double f_mhz = 146.0;
    const double a_m = 8.5e6;
    const double wave = wavelength_m(f_mhz);
    const FirstTerm term = spherical_earth_first_term(60.0, 10.0, 2.0, a_m / 1000.0, f_mhz, perfect,
                                                      Polarization::horizontal);
    CHECK(term.x == Approx(std::cbrt(std::numbers::pi / (wave * a_m * a_m)) * 60e3).epsilon(5e-4));
    CHECK(term.y_transmitter ==
          Approx(2.0 * std::cbrt(std::pow(std::numbers::pi / wave, 2) / a_m) * 10.0).epsilon(5e-4));
}

TEST_CASE("spherical earth: ground and polarization") {
    const auto loss = [](double f_mhz, Ground ground, Polarization polarization) {
        return spherical_earth_first_term(100.0, 2.0, 2.0, 8500.0, f_mhz, ground, polarization);
    };
    // Below about 300 MHz vertical polarization over the sea is much the better and over land
    // somewhat the better; from 3 GHz it hardly matters over land (P.526-15 section 3.1.1.2: beta
    // is close to 1 for horizontal polarization everywhere and for vertical above 20 MHz over land,
    // above 300 MHz over sea).
    CHECK(loss(30.0, sea_ground, Polarization::vertical).loss_db <
          loss(30.0, sea_ground, Polarization::horizontal).loss_db - 20.0);
    CHECK(loss(30.0, land_ground, Polarization::vertical).loss_db <
          loss(30.0, land_ground, Polarization::horizontal).loss_db);
    CHECK(loss(30.0, sea_ground, Polarization::horizontal).beta == Approx(1.0).margin(0.01));
    CHECK(loss(300.0, sea_ground, Polarization::vertical).beta == Approx(1.0).margin(0.02));
    CHECK(loss(30.0, land_ground, Polarization::vertical).beta == Approx(1.0).margin(0.05));
    CHECK(loss(30.0, sea_ground, Polarization::vertical).beta < 0.9);
    // Height gain stops falling as antennas come down to the ground.
    const FirstTerm flat = spherical_earth_first_term(100.0, 0.0, 0.0, 8500.0, 100.0, land_ground,
                                                      Polarization::vertical);
    CHECK(flat.transmitter_gain_db == Approx(2.0 + db(flat.k)));
    CHECK(std::isfinite(flat.loss_db));
}

TEST_CASE("spherical earth: horizon distance is 4.12 root h for the 4/3 earth") {
    // P.526-15 and common practice: d = 4.12 (sqrt h1 + sqrt h2) km.
    const double radius = effective_earth_radius_km(standard_k_factor);
    CHECK(plain::smooth_horizon_km(100.0, 25.0, radius) ==
          Approx(4.12 * (10.0 + 5.0)).epsilon(1e-3));
}

TEST_CASE("spherical earth: least clearance is the least of all points of the path") {
    struct Case {
        double distance_km, transmitter_m, receiver_m;
    };
    const double radius = 8500.0;
    for (const Case& c : {Case{30, 100, 50}, Case{30, 50, 100}, Case{10, 30, 30}, Case{50, 400, 2},
                          Case{5, 300, 0.5}, Case{1, 2, 2}}) {
        REQUIRE(c.distance_km < plain::smooth_horizon_km(c.transmitter_m, c.receiver_m, radius));
        const SmoothClearance found =
            plain::smooth_clearance(c.distance_km, c.transmitter_m, c.receiver_m, radius);
        // The standard's point is where the clearance measured in the first Fresnel radius' own
        // shape is stationary; compare it with a direct search for the least height divided by the
        // root of d1 d2.
        double least = 1e9;
        double at = 0.0;
        for (int i = 1; i < 20000; ++i) {
            const double t = c.distance_km * i / 20000.0;
            const double r = c.distance_km - t;
            const double height = (c.transmitter_m * r + c.receiver_m * t) / c.distance_km -
                                  1000.0 * t * r / (2.0 * radius);
            const double scaled = height / std::sqrt(t * r);
            if (scaled < least) {
                least = scaled;
                at = t;
            }
        }
        INFO(c.distance_km << " km, " << c.transmitter_m << " m, " << c.receiver_m << " m");
        CHECK(found.transmitter_side_km == Approx(at).margin(1e-3 * c.distance_km));
        CHECK(found.clearance_m / std::sqrt(found.transmitter_side_km * found.receiver_side_km) ==
              Approx(least).epsilon(1e-4));
        CHECK(found.transmitter_side_km + found.receiver_side_km == Approx(c.distance_km));
    }
}

TEST_CASE("spherical earth: loss over distance") {
    const auto loss = [](double distance_km, double sea = 0.0,
                         Polarization polarization = Polarization::vertical) {
        return spherical_earth_loss(distance_km, 50.0, 10.0, 8500.0, 150.0, polarization, sea);
    };
    CHECK(loss(2.0).loss_db == 0.0);
    CHECK(loss(2.0).nearest.clearance_m > loss(2.0).required_clearance_m);
    double before = 0.0;
    for (double d = 2.0; d < 300.0; d += 0.25) {
        const double now = loss(d).loss_db;
        CHECK(now >= before);
        before = now;
    }
    // Both branches meet at the horizon: the marginal radius there is the radius itself.
    const double horizon = loss(30.0).los_distance_km;
    CHECK(loss(horizon * (1.0 - 1e-9)).loss_db ==
          Approx(loss(horizon * (1.0 + 1e-9)).loss_db).margin(1e-3));
    // A path half over sea lies midway in dB (P.1812-8 equation (28)).
    CHECK(loss(80.0, 0.5).loss_db ==
          Approx((loss(80.0, 0.0).loss_db + loss(80.0, 1.0).loss_db) / 2.0));
    // The path is the same from either end.
    CHECK(spherical_earth_loss(80.0, 50.0, 10.0, 8500.0, 150.0, Polarization::vertical, 0.3)
              .loss_db ==
          Approx(spherical_earth_loss(80.0, 10.0, 50.0, 8500.0, 150.0, Polarization::vertical, 0.3)
                     .loss_db));
}
