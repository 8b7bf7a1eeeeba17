#include "earshot/link/budget.hpp"
#include "earshot/propagation/path_loss.hpp"
#include "geo/units.hpp"
#include "link/handheld.hpp"
#include "link/receiver_noise.hpp"
#include "propagation/noise.hpp"

#include <catch2/catch.hpp>

#include <cmath>

/// What power, antenna and height buy on flat wooded ground, against what those who use small
/// radios find there (common practice, no source).
namespace earshot::link {
namespace {

constexpr double frequency_mhz = 146.0;

/// Two handhelds alike, in woods of 16 m on flat ground.
struct Pair {
    double power_w = 2.0;
    const char* antenna = "stock";
    double height_m = 1.5;
    Carried carried = Carried::at_face;
};

double margin_db(const Pair& pair, double distance_km) {
    terrain::Profile profile;
    constexpr int parts = 200;
    for (int i = 0; i <= parts; ++i) {
        profile.distance_km.push_back(distance_km * i / parts);
    }
    profile.ground_m.assign(profile.size(), 100.0);
    profile.cover_m.assign(profile.size(), 16.0);
    profile.woodland.assign(profile.size(), 1);
    profile.centre_latitude_deg = 36.0;
    Radio radio;
    radio.power_dbm = 30.0 + 10.0 * std::log10(pair.power_w);
    radio.antenna_gain_dbi = antenna_gain_dbi(pair.antenna, frequency_mhz);
    radio.body_loss_db = body_loss_db(pair.carried, frequency_mhz);
    radio.threshold_dbm = geo::parse_level_dbm("0.2uV", "threshold");
    add_noise(
        radio, propagation::FmChannel::narrow, propagation::VoiceQuality::twelve_db_sinad,
        propagation::external_noise_figure_db(propagation::NoiseEnvironment::rural, frequency_mhz));
    const propagation::PathLoss loss =
        propagation::path_loss(profile, {pair.height_m, pair.height_m}, {});
    return link_budget(radio, radio, loss.total_db()).margin_db;
}

/// Where the margin ends, km.
double range_km(const Pair& pair) {
    double near = 0.3;
    double far = 30.0;
    while (far / near > 1.001) {
        const double middle = std::sqrt(near * far);
        (margin_db(pair, middle) > 0.0 ? near : far) = middle;
    }
    return near;
}

constexpr double km_per_mile = 1.609344;

} // namespace

TEST_CASE("power, antennas and height buy in flat woods what practice finds", "[levers]") {
    const double start_km = range_km({});
    // Some one to two miles with 2 W and stock antennas.
    CHECK(start_km / km_per_mile > 0.85);
    CHECK(start_km / km_per_mile < 2.0);

    // 2 W to 5 W is 4 dB, and about a quarter more range.
    CHECK(margin_db({5.0}, 2.0) - margin_db({}, 2.0) == Approx(3.98).margin(0.01));
    const double power_km = range_km({5.0});
    CHECK(power_km / start_km > 1.18);
    CHECK(power_km / start_km < 1.35);

    // A good antenna in the hand at either end, held alike, about doubles it.
    const double antennas_km = range_km({5.0, "half-wave"});
    CHECK(antennas_km / power_km > 1.7);
    CHECK(antennas_km / power_km < 2.6);

    // 15 to 20 feet of height below the trees' tops help less than that.
    for (const double feet : {15.0, 20.0}) {
        const double lifted_km = range_km({5.0, "stock", 0.3048 * feet});
        CHECK(lifted_km / power_km > 1.2);
        CHECK(lifted_km / power_km < antennas_km / power_km);
    }

    // All of it, on a mast clear of the body: three to five miles.
    const double all_km = range_km({5.0, "j-pole", 0.3048 * 20.0, Carried::clear_of_body});
    CHECK(all_km / km_per_mile > 3.0);
    CHECK(all_km / km_per_mile < 5.0);
}

} // namespace earshot::link
