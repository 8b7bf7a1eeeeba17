#include "earshot/base/error.hpp"
#include "link/receiver_noise.hpp"

#include <catch2/catch.hpp>

using namespace earshot;
using namespace earshot::link;
using propagation::FmChannel;
using propagation::VoiceQuality;

namespace {

Radio handheld(double gain_dbi, double sensitivity_dbm) {
    Radio radio;
    radio.antenna_gain_dbi = gain_dbi;
    radio.threshold_dbm = sensitivity_dbm;
    return radio;
}

} // namespace

TEST_CASE("without noise from outside only the quality raises the level", "[link]") {
    Radio radio = handheld(0.0, -119.0);
    add_noise(radio, FmChannel::narrow, VoiceQuality::twelve_db_sinad, std::nullopt);
    CHECK(radio.threshold_dbm == -119.0);
    CHECK_FALSE(radio.needed);
    const auto& demands = propagation::fm_demands(FmChannel::narrow);
    add_noise(radio, FmChannel::narrow, VoiceQuality::easily_understood, std::nullopt);
    CHECK(radio.threshold_dbm ==
          Approx(-119.0 + demands.easily_understood_db - demands.steady_12db_sinad_db));
}

TEST_CASE("noise worked out anew is that of a radio that was so from the start", "[link]") {
    Radio radio = handheld(2.15, -119.0);
    add_noise(radio, FmChannel::narrow, VoiceQuality::rare_repetition, 18.0);
    REQUIRE(radio.needed);
    // With a lossless dipole the connector has f_r + f_a - 1 (ITU-R P.372-16 part 1, l = 1).
    CHECK(radio.needed->degradation_db == Approx(propagation::connector_noise_figure_db(
                                                     radio.needed->receiver_noise_db, 18.0, 0.0) -
                                                 radio.needed->receiver_noise_db));
    radio.antenna_gain_dbi = -5.0;
    radio.feeder_loss_db = 1.5;
    radio.body_loss_db = 3.0;
    renew_noise(radio, -117.0);

    Radio fresh = handheld(-5.0, -117.0);
    fresh.feeder_loss_db = 1.5;
    fresh.body_loss_db = 3.0;
    CHECK(loss_before_receiver_db(fresh) == Approx(7.15 + 1.5 + 3.0));
    add_noise(fresh, FmChannel::narrow, VoiceQuality::rare_repetition, 18.0);
    CHECK(radio.threshold_dbm == Approx(fresh.threshold_dbm).margin(1e-9));
    CHECK(radio.needed->noise_floor_dbm == Approx(fresh.needed->noise_floor_dbm).margin(1e-9));
    CHECK(radio.needed->receiver_noise_db == Approx(fresh.needed->receiver_noise_db).margin(1e-9));
    CHECK(radio.needed->degradation_db == Approx(fresh.needed->degradation_db).margin(1e-9));

    CHECK_THROWS_WITH(renew_noise(radio, -140.0), Catch::Contains("-140.0 dBm"));
    Radio plain = handheld(0.0, -116.0);
    renew_noise(plain, -120.0);
    CHECK(plain.threshold_dbm == -116.0);
}

TEST_CASE("noise: needed level") {
    // By hand at 146 MHz in the country: man-made 67.2 - 27.7 x 2.16435 = 7.247 dB, sky 2.220 dB,
    // together 8.43 dB. A receiver of -119 dBm with 5 kHz deviation: k T0 b = -132.971 dBm, noise
    // figure 9.971 dB. 9.933 + 6.972 - 1 = 15.905 or 12.015 dB: 2.044 dB worse.
    const double external_db =
        propagation::external_noise_figure_db(propagation::NoiseEnvironment::rural, 146.0);
    CHECK(external_db == Approx(8.43).margin(0.01));
    const NeededLevel plain =
        needed_level(-119.0, FmChannel::wide, VoiceQuality::twelve_db_sinad, external_db, 0.0);
    CHECK(plain.receiver_noise_db == Approx(9.971).margin(2e-3));
    CHECK(plain.degradation_db == Approx(2.044).margin(5e-3));
    CHECK(plain.needed_dbm == Approx(-116.956).margin(5e-3));
    // The rule: the same ratio of carrier to noise.
    CHECK(plain.needed_dbm - plain.noise_floor_dbm ==
          Approx(propagation::fm_demands(FmChannel::wide).steady_12db_sinad_db));

    const NeededLevel clear =
        needed_level(-119.0, FmChannel::wide, VoiceQuality::easily_understood, external_db, 0.0);
    CHECK(clear.needed_dbm - clear.noise_floor_dbm ==
          Approx(propagation::fm_demands(FmChannel::wide).easily_understood_db));
    CHECK(clear.degradation_db == plain.degradation_db);
    // Better speech takes more.
    double before = -INFINITY;
    for (const VoiceQuality quality :
         {VoiceQuality::twelve_db_sinad, VoiceQuality::occasional_repetition,
          VoiceQuality::rare_repetition, VoiceQuality::easily_understood}) {
        const double now =
            needed_level(-119.0, FmChannel::narrow, quality, external_db, 3.0).needed_dbm;
        CHECK(now > before);
        before = now;
    }
}
