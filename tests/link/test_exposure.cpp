#include "earshot/base/error.hpp"
#include "geo/units.hpp"
#include "link/exposure.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <numbers>
#include <utility>

using namespace earshot;
using namespace earshot::link;

namespace {

/// Far-field power density, W/m2: FCC OET Bulletin 65 (edition 97-01), section 2, where `factor` is
/// what the ground makes of it: 1, 2.56 (1.6 times the field strength) or 4 (twice the field).
double power_density_w_m2(double eirp_w, double distance_m, double factor) {
    return factor * eirp_w / (4.0 * std::numbers::pi * distance_m * distance_m);
}

} // namespace

TEST_CASE("exposure: a published table of distances") {
    // FCC OET Bulletin 65, supplement B (edition 97-01): distances to the limits in the main beam
    // of eight 17-element Yagi antennas at 144 MHz, 24 dBi, with the EPA's ground reflection
    // of 2.56. The limits are 1 mW/cm2 (controlled) and 0.2 mW/cm2 (uncontrolled); distances in
    // whole feet.
    const double gain = std::pow(10.0, 2.4);
    const auto feet = [&](double power_w, double limit_w_m2) {
        return distance_of_density_m(power_w * gain, limit_w_m2, GroundReflection::typical) /
               geo::metres_per_foot;
    };
    CHECK(feet(150.0, 10.0) == Approx(90.0).margin(1.0));
    CHECK(feet(500.0, 10.0) == Approx(166.0).margin(1.0));
    CHECK(feet(1500.0, 10.0) == Approx(287.0).margin(1.0));
    CHECK(feet(1500.0, public_exposure_limit_w_m2(144.0)) == Approx(642.0).margin(1.0));
}

TEST_CASE("exposure: density and distance are each other's inverse") {
    for (const auto& [reflection, factor] : {std::pair(GroundReflection::none, 1.0),
                                             {GroundReflection::typical, 2.56},
                                             {GroundReflection::full, 4.0}}) {
        const double distance_m = distance_of_density_m(50.0, 2.0, reflection);
        CHECK(power_density_w_m2(50.0, distance_m, factor) == Approx(2.0));
    }
    // A sphere of 1 m radius has 4 pi m2.
    CHECK(distance_of_density_m(4.0 * std::numbers::pi, 1.0, GroundReflection::none) ==
          Approx(1.0));
    // Twice the field is four times the power.
    CHECK(distance_of_density_m(4.0 * std::numbers::pi, 4.0, GroundReflection::full) ==
          Approx(1.0));
}

TEST_CASE("exposure: limits for people at large") {
    // 47 CFR 1.1310 table 1 and ICNIRP 2020 table 5, whichever is less; W/m2.
    CHECK(public_exposure_limit_w_m2(30.0) == Approx(2.0));
    CHECK(public_exposure_limit_w_m2(146.0) == Approx(2.0));
    CHECK(public_exposure_limit_w_m2(350.0) == Approx(2.0));  // ICNIRP; the FCC has 2.33
    CHECK(public_exposure_limit_w_m2(450.0) == Approx(2.25)); // ICNIRP f/200; the FCC has 3
    CHECK(public_exposure_limit_w_m2(900.0) == Approx(4.5));
    CHECK(public_exposure_limit_w_m2(5000.0) == Approx(10.0));
    CHECK_THROWS_AS(public_exposure_limit_w_m2(29.0), Error);
    CHECK_THROWS_AS(public_exposure_limit_w_m2(NAN), Error);
}

TEST_CASE("exposure: of a radio") {
    // 50 W less 3 dB of cable plus 6 dB of gain: 50 x 10^0.3 = 99.76 W EIRP. By equation (6) of OET
    // Bulletin 65, R = sqrt(EIRP / (pi S)) = sqrt(99.76 / (pi 2)) = 3.985 m.
    Radio radio;
    radio.power_dbm = 46.9897;
    radio.feeder_loss_db = 3.0;
    radio.antenna_gain_dbi = 6.0;
    CHECK(exposure_distance_m(radio, 146.0) == Approx(3.985).margin(0.001));
    radio.body_loss_db = 20.0; // the body protects nobody else
    CHECK(exposure_distance_m(radio, 146.0) == Approx(3.985).margin(0.001));
    CHECK_THROWS_AS(distance_of_density_m(-1.0, 1.0, GroundReflection::none), Error);
    CHECK_THROWS_AS(distance_of_density_m(1.0, 0.0, GroundReflection::none), Error);
}
