#include "propagation/basic.hpp"
#include "propagation/plain.hpp"

#include <catch2/catch.hpp>

#include <cmath>

using namespace earshot::propagation;

TEST_CASE("free-space loss follows ITU-R P.525", "[basic]") {
    // ITU-R P.525-4, equation (4): 32.4 + 20 log f(MHz) + 20 log d(km), rounded to 0.1 dB.
    for (const double frequency_mhz : {30.0, 146.0, 446.0, 6000.0}) {
        for (const double distance_km : {0.1, 1.0, 16.09, 300.0}) {
            const double rounded =
                32.4 + 20.0 * std::log10(frequency_mhz) + 20.0 * std::log10(distance_km);
            CHECK(free_space_loss_db(distance_km, frequency_mhz) == Approx(rounded).margin(0.06));
        }
    }
    // 20 log10(4 pi 1 km / 0.299792458 m), worked out to seven figures.
    CHECK(free_space_loss_db(1.0, 1000.0) == Approx(92.44778).margin(1e-4));
}

TEST_CASE("the radio horizon is 4.12 sqrt(h) km for k = 4/3", "[basic]") {
    // The rule of ITU-R P.526 and every radio handbook: d = 4.12 (sqrt h1 + sqrt h2) km, h in m.
    const double radius_km = effective_earth_radius_km(standard_k_factor);
    for (const double height_m : {1.5, 10.0, 100.0, 1000.0}) {
        CHECK(plain::smooth_horizon_km(height_m, 0.0, radius_km) ==
              Approx(4.12 * std::sqrt(height_m)).epsilon(0.001));
    }
}

TEST_CASE("the first Fresnel radius is 17.3 sqrt(d1 d2 / (f d)) m", "[basic]") {
    // ITU-R P.530 equation (4a): 17.3 sqrt(d1 d2 / (f d)), d in km and f in GHz.
    for (const double d1_km : {0.5, 2.0, 9.0}) {
        const double d2_km = 10.0 - d1_km;
        CHECK(fresnel_radius_m(d1_km, d2_km, 146.0) ==
              Approx(17.3 * std::sqrt(d1_km * d2_km / (0.146 * 10.0))).epsilon(0.002));
    }
    CHECK(fresnel_radius_m(3.0, 4.0, 446.0, 4) ==
          Approx(2.0 * fresnel_radius_m(3.0, 4.0, 446.0, 1)));
}

TEST_CASE("the earth bulges d1 d2 / 17 m midway for k = 4/3", "[basic]") {
    // d1 d2 / 17 with d in km: the handbook form of d1 d2 / (2 k a) (common practice, no source).
    const double radius_km = effective_earth_radius_km(standard_k_factor);
    CHECK(earth_bulge_m(20.0, 30.0, radius_km) == Approx(20.0 * 30.0 / 17.0).epsilon(0.002));
    CHECK(earth_bulge_m(0.0, 50.0, radius_km) == 0.0);
}
