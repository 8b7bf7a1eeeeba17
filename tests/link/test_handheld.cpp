#include "earshot/base/error.hpp"
#include "link/handheld.hpp"

#include <catch2/catch.hpp>

#include <cmath>

using namespace earshot;
using namespace earshot::link;

TEST_CASE("body loss: closer to the body costs more, at any frequency") {
    for (const double f : {30.0, 49.0, 146.0, 155.0, 223.0, 446.0, 465.0, 900.0, 6000.0}) {
        CHECK(body_loss_db(Carried::clear_of_body, f) == 0.0);
        CHECK(body_loss_db(Carried::at_face, f) > 0.0);
        CHECK(body_loss_db(Carried::on_chest, f) > body_loss_db(Carried::at_face, f));
        CHECK(body_loss_db(Carried::on_hip, f) > body_loss_db(Carried::on_chest, f));
    }
    // At the hip the loss falls with frequency, as ITU-R P.1406 figure 1 has it (as remembered).
    CHECK(body_loss_db(Carried::on_hip, 150.0) > body_loss_db(Carried::on_hip, 450.0));
    CHECK(body_loss_db(Carried::on_hip, 450.0) > body_loss_db(Carried::on_hip, 850.0));
}

TEST_CASE("body loss: does not jump") {
    for (const Carried c : {Carried::at_face, Carried::on_chest, Carried::on_hip}) {
        for (int step = 0; step < 530; ++step) {
            const double f = 30.0 * std::pow(1.01, step);
            CHECK(std::abs(body_loss_db(c, 1.01 * f) - body_loss_db(c, f)) < 0.1);
        }
    }
    // Halfway between 150 and 450 MHz in the logarithm: sqrt(150 x 450).
    CHECK(body_loss_db(Carried::on_hip, std::sqrt(150.0 * 450.0)) ==
          Approx((body_loss_db(Carried::on_hip, 150.0) + body_loss_db(Carried::on_hip, 450.0)) /
                 2.0));
    CHECK_THROWS_AS(body_loss_db(Carried::on_hip, 29.0), Error);
    CHECK_THROWS_AS(body_loss_db(Carried::on_hip, NAN), Error);
}

TEST_CASE("body loss: names") {
    for (const Carried c :
         {Carried::clear_of_body, Carried::at_face, Carried::on_chest, Carried::on_hip}) {
        CHECK(parse_carried(name_of(c)) == c);
    }
    CHECK_THROWS_WITH(parse_carried("pocket"), Catch::Contains("clear, face, chest, hip"));
}

TEST_CASE("antennas: a half-wave dipole") {
    // ITU-R V.573: 2.15 dB over an isotropic radiator.
    CHECK(antenna_gain_dbi("dipole", 146.0) == Approx(2.15));
    CHECK(find_antenna("dipole").gain_at(146.0)->evidence == Evidence::theory);
}

TEST_CASE("antennas: loss") {
    // By hand from the 2.15 dBi of ITU-R V.573.
    CHECK(antenna_loss_db(2.15) == 0.0);
    CHECK(antenna_loss_db(-4.5) == Approx(6.65));
    CHECK(antenna_loss_db(9.0) == 0.0);
}

TEST_CASE("antennas: reported comparisons of whips on radios") {
    // R. Witte K0NR on measurements of D. Kiefer K0DK, 2006: a half-wave whip is 5 to 8 dB better
    // than the stock antenna on 2 m and 3 to 7 dB better on 70 cm.
    const double vhf = antenna_gain_dbi("half-wave", 146.0) - antenna_gain_dbi("stock", 146.0);
    CHECK(vhf >= 5.0);
    CHECK(vhf <= 8.0);
    const double uhf = antenna_gain_dbi("half-wave", 440.0) - antenna_gain_dbi("stock", 440.0);
    CHECK(uhf >= 3.0);
    CHECK(uhf <= 7.0);
    // Cuyahoga Falls Amateur Radio Club, 2018: the stock antenna on 2 m has some -5 dBd.
    const BandGain stock = *find_antenna("stock").gain_at(146.0);
    CHECK(std::abs(stock.gain_dbi - (2.15 - 5.0)) <= stock.spread_db + 0.2);
    CHECK(stock.evidence == Evidence::reported);
}

TEST_CASE("antennas: every antenna of the table is usable") {
    for (const Antenna& antenna : antennas()) {
        CHECK(find_antenna(antenna.name).description == antenna.description);
        double end = 0.0;
        for (const BandGain& band : antenna.bands) {
            CHECK(band.lowest_mhz > end);
            CHECK(band.highest_mhz > band.lowest_mhz);
            CHECK(band.spread_db >= 0.0);
            // No antenna here is longer than a half wave, none beats a dipole.
            CHECK(band.gain_dbi <= 2.15);
            CHECK(antenna_gain_dbi(antenna.name, band.lowest_mhz) == band.gain_dbi);
            CHECK(antenna_gain_dbi(antenna.name, band.highest_mhz) == band.gain_dbi);
            end = band.highest_mhz;
        }
        // The weakest first: at both bands of handhelds no antenna is below the stock one.
        for (const double f : {155.0, 446.0}) {
            CHECK(antenna_gain_dbi(antenna.name, f) >= antenna_gain_dbi("stock", f));
        }
    }
    CHECK(antenna_gain_dbi("quarter-wave-counterpoise", 146.0) >
          antenna_gain_dbi("quarter-wave", 146.0));
    CHECK_FALSE(find_antenna("stock").gain_at(110.0));
    CHECK_THROWS_WITH(antenna_gain_dbi("stock", 110.0), Catch::Contains("110 MHz"));
    CHECK_THROWS_WITH(find_antenna("yagi"), Catch::Contains("j-pole"));
}
