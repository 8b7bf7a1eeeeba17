#include "earshot/base/error.hpp"
#include "propagation/noise.hpp"

#include <catch2/catch.hpp>

#include <cmath>

using namespace earshot;
using namespace earshot::propagation;

TEST_CASE("noise: medians of ITU-R P.372 where the logarithm is 2") {
    // Constants of P.372-16 part 3 (and of equation (13) in part 4 for the sky), worked by hand at
    // 100 MHz.
    CHECK(man_made_noise(NoiseEnvironment::city, 100.0).median_db == Approx(21.4));
    CHECK(man_made_noise(NoiseEnvironment::residential, 100.0).median_db == Approx(17.1));
    CHECK(man_made_noise(NoiseEnvironment::rural, 100.0).median_db == Approx(11.8));
    CHECK(man_made_noise(NoiseEnvironment::quiet_rural, 100.0).median_db == Approx(-3.6));
    CHECK(galactic_noise(100.0).median_db == Approx(6.0));
    // Deciles of the same part, as quoted in public source code that implements P.372-17.
    CHECK(man_made_noise(NoiseEnvironment::city, 100.0).upper_decile_db == 11.0);
    CHECK(man_made_noise(NoiseEnvironment::residential, 100.0).lower_decile_db == 5.3);
    CHECK(galactic_noise(100.0).upper_decile_db == 2.0);
}

TEST_CASE("noise: where the formulas hold") {
    CHECK_FALSE(man_made_noise(NoiseEnvironment::rural, 250.0).extrapolated);
    CHECK(man_made_noise(NoiseEnvironment::rural, 251.0).extrapolated);
    CHECK_FALSE(man_made_noise(NoiseEnvironment::quiet_rural, 30.0).extrapolated);
    CHECK(man_made_noise(NoiseEnvironment::quiet_rural, 50.0).extrapolated);
    CHECK_FALSE(man_made_noise(NoiseEnvironment::city, 450.0).extrapolated);
    CHECK(man_made_noise(NoiseEnvironment::city, 901.0).extrapolated);
    CHECK_FALSE(galactic_noise(100.0).extrapolated);
    CHECK(galactic_noise(101.0).extrapolated);
    CHECK_THROWS_AS(man_made_noise(NoiseEnvironment::city, 29.0), Error);
    CHECK_THROWS_AS(galactic_noise(NAN), Error);
}

TEST_CASE("noise: the two lines for a city meet") {
    // 76.8 - 44.3 = (27.7 - 12.3) log10 f: 128.9 MHz.
    const double crossing = std::pow(10.0, 32.5 / 15.4);
    CHECK(man_made_noise(NoiseEnvironment::city, 0.999 * crossing).median_db ==
          Approx(man_made_noise(NoiseEnvironment::city, 1.001 * crossing).median_db).margin(0.02));
    // CCIR Report 258 at 450 MHz, by hand: 44.3 - 12.3 x 2.65321.
    CHECK(man_made_noise(NoiseEnvironment::city, 450.0).median_db == Approx(11.666).margin(1e-3));
}

TEST_CASE("noise: louder surroundings stay louder") {
    for (const double f : {30.0, 49.0, 146.0, 223.0, 446.0, 900.0}) {
        double before = INFINITY;
        for (const NoiseEnvironment e : {NoiseEnvironment::city, NoiseEnvironment::residential,
                                         NoiseEnvironment::rural, NoiseEnvironment::quiet_rural}) {
            const double now = external_noise_figure_db(e, f);
            CHECK(now < before);
            CHECK(now > galactic_noise(f).median_db);
            CHECK(now > man_made_noise(e, f).median_db);
            before = now;
        }
    }
}

TEST_CASE("noise: names") {
    for (const NoiseEnvironment e : {NoiseEnvironment::city, NoiseEnvironment::residential,
                                     NoiseEnvironment::rural, NoiseEnvironment::quiet_rural}) {
        CHECK(parse_noise_environment(name_of(e)) == e);
    }
    CHECK_THROWS_WITH(parse_noise_environment("forest"), Catch::Contains("quiet-rural"));
}

TEST_CASE("noise: thermal noise of a resistor at 290 K") {
    // -174 dBm in 1 Hz: ITU-R P.372-16 part 1 (-204 dBW).
    CHECK(noise_floor_dbm(0.0, 1.0) == Approx(-173.975).margin(1e-3));
    CHECK(noise_floor_dbm(7.0, 10000.0) == Approx(-126.975).margin(1e-3));
    CHECK_THROWS_AS(noise_floor_dbm(7.0, 0.0), Error);
}

TEST_CASE("noise: at the connector") {
    // No external noise but that of a body at 290 K: the receiver alone.
    CHECK(connector_noise_figure_db(8.0, 0.0, 0.0) == Approx(8.0));
    // Powers by hand: 10 + 100 - 1 = 109.
    CHECK(connector_noise_figure_db(10.0, 20.0, 0.0) == Approx(20.374).margin(1e-3));
    // An antenna that loses 10 dB lets through a tenth: 10 + 9.9 = 19.9.
    CHECK(connector_noise_figure_db(10.0, 20.0, 10.0) == Approx(12.989).margin(1e-3));
    // A cold sky makes it quieter than a resistor: 10 + 0.1 - 1 = 9.1.
    CHECK(connector_noise_figure_db(10.0, -10.0, 0.0) == Approx(9.590).margin(1e-3));
    CHECK_THROWS_AS(connector_noise_figure_db(-1.0, 20.0, 0.0), Error);
    CHECK_THROWS_AS(connector_noise_figure_db(8.0, 20.0, -1.0), Error);
}

TEST_CASE("noise: level and loss refer to the connector alike") {
    // P.372-16 part 1 refers noise to the antenna: f = f_a + (l - 1) + l (f_r - 1). The ratio
    // of signal to noise must be the same there and, both weakened by l, at the connector.
    const auto ratio = [](double db) { return std::pow(10.0, db / 10.0); };
    for (const double loss_db : {0.0, 3.0, 8.0}) {
        const double l = ratio(loss_db);
        const double at_antenna = ratio(12.0) + (l - 1.0) + l * (ratio(9.0) - 1.0);
        CHECK(connector_noise_figure_db(9.0, 12.0, loss_db) ==
              Approx(10.0 * std::log10(at_antenna) - loss_db));
    }
}

TEST_CASE("noise: noise figure from sensitivity") {
    // A quarter microvolt across 50 ohms, -119.03 dBm, is the sensitivity usually stated for 12 dB
    // SINAD (common practice), and 5 to 12 dB the noise figure usually found behind it.
    for (const FmChannel channel : {FmChannel::wide, FmChannel::narrow}) {
        const double noise_db = receiver_noise_figure_db(-119.03, channel);
        CHECK(noise_db > 5.0);
        CHECK(noise_db < 12.0);
        const FmDemands& demands = fm_demands(channel);
        CHECK(noise_floor_dbm(noise_db, demands.noise_bandwidth_hz) +
                  demands.steady_12db_sinad_db ==
              Approx(-119.03));
    }
    CHECK_THROWS_WITH(receiver_noise_figure_db(-140.0, FmChannel::wide),
                      Catch::Contains("-140.0 dBm"));
}
