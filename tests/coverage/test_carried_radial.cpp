#include "coverage/engine/carried_radial.hpp"
#include "earshot/propagation/path_loss.hpp"
#include "propagation/basic.hpp"
#include "propagation/vegetation.hpp"
#include "smooth_terms.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <random>
#include <vector>

using namespace earshot;

namespace {

/// Invented ground: a random walk that is drawn back to 300 m.
std::vector<float> random_ground(std::size_t points) {
    std::mt19937 random(3);
    std::normal_distribution<double> step(0.0, 4.0);
    std::vector<float> ground{300.0F};
    while (ground.size() < points) {
        const auto last = static_cast<double>(ground.back());
        ground.push_back(static_cast<float>(last + step(random) + (300.0 - last) * 0.01));
    }
    return ground;
}

constexpr double step_km = 0.03;

/// The site, and points about a step apart, as a radial crosses the lines of a grid.
std::vector<double> uneven(std::size_t points) {
    std::mt19937 random(11);
    std::uniform_real_distribution<double> off(-0.3, 0.3);
    std::vector<double> x_km{0.0};
    while (x_km.size() < points) {
        x_km.push_back((static_cast<double>(x_km.size()) + off(random)) * step_km);
    }
    return x_km;
}

} // namespace

// The walk over a whole profile by analyse_path(), which the ITU-R reference set proves
// (tests/propagation/test_p1812_reference.cpp), is the truth the carried terms are held to.
TEST_CASE("carried terms give the loss that a fresh profile gives", "[carried]") {
    const double time_percent = GENERATE(50.0, 10.0, 1.0);
    const double antenna_m = GENERATE(2.0, 30.0, 300.0);
    const double frequency_mhz = GENERATE(40.0, 146.0, 2400.0);
    CAPTURE(time_percent, antenna_m, frequency_mhz);
    const std::vector<float> ground = random_ground(1200);
    const std::vector<double> x_km = uneven(ground.size());

    propagation::P1812Inputs inputs;
    inputs.frequency_mhz = frequency_mhz;
    inputs.time_percent = time_percent;
    inputs.location_percent = 70.0;
    inputs.path_centre_latitude_deg = 36.0;
    const propagation::AntennaHeights heights{antenna_m, 1.5};
    coverage::RadialSite site;
    site.ground_m = static_cast<double>(ground.front());
    site.antenna_m = antenna_m;
    site.step_km = step_km;
    site.radii = propagation::effective_radii(inputs.refractivity.delta_n);
    site.wavelength_m = propagation::wavelength_m(frequency_mhz);
    site.root_wavelength = std::sqrt(site.wavelength_m);
    const propagation::P1812BatchModel model(
        inputs, static_cast<double>(ground.front()) + antenna_m, heights);
    site.with_beta = model.needs_beta();

    coverage::CarriedRadial radial;
    radial.start(site, {x_km, ground, {}, {}});
    propagation::P1812Batch batch;
    std::vector<double> expected;
    double worst_db = 0.0;
    double worst_smooth_db = 0.0; // of what the smooth earth's peaks between points make
    const auto settle = [&] {
        model.predict(batch);
        for (std::size_t i = 0; i < batch.size(); ++i) {
            worst_db = std::max(worst_db, std::abs(batch.loss_db[i] - expected[i]));
        }
        batch.clear();
        expected.clear();
    };
    int hidden = 0;
    int seen = 0;
    for (std::size_t k = 13; k < ground.size(); ++k) {
        // The receiver stands a little beyond point k, over ground of its own height.
        const double range_km = x_km[k] + 0.6 * step_km;
        const double receiver_ground_m =
            static_cast<double>(ground[k]) + std::sin(static_cast<double>(k));
        const auto points = static_cast<std::ptrdiff_t>(k) + 1;
        std::vector<double> distance_km(x_km.begin(), x_km.begin() + points);
        std::vector<double> profile_m(ground.begin(), ground.begin() + points);
        distance_km.push_back(range_km);
        profile_m.push_back(receiver_ground_m);
        const auto exact = propagation::p1812({distance_km, profile_m, {}, {}}, heights, inputs);
        expected.push_back(test::loss_with_smooth_terms_db(exact.geometry, inputs, distance_km));
        worst_smooth_db = std::max(worst_smooth_db, std::abs(expected.back() - exact.loss_db));

        coverage::CarriedRadial::Path path;
        REQUIRE(radial.path_to({range_km, receiver_ground_m, 1.5}, path));
        path.row.centre_latitude_deg = inputs.path_centre_latitude_deg;
        REQUIRE((path.hidden_by <= 0.0) == exact.geometry.line_of_sight);
        (path.hidden_by <= 0.0 ? seen : hidden) += 1;
        batch.push(path.row);
        if (batch.full()) {
            settle();
        }
    }
    settle();
    CHECK(hidden > 100);
    CHECK(seen > 10);
    CHECK(worst_db < 1e-5);
    // The peak of the ray over a smooth earth lies near a low receiver's end, where points are few.
    CHECK(worst_smooth_db < 0.3);
}

// The same truth for ground with cover: path_loss() over a fresh profile, which takes the woods
// around each antenna out of the obstacles (tests/propagation/test_vegetation.cpp).
TEST_CASE("carried terms give the loss over woods and houses that a fresh profile gives",
          "[carried]") {
    const double time_percent = GENERATE(50.0, 10.0);
    const double antenna_m = GENERATE(2.0, 30.0);
    const bool site_in_woods = GENERATE(false, true);
    CAPTURE(time_percent, antenna_m, site_in_woods);
    const std::vector<float> ground = random_ground(1200);
    const std::vector<double> x_km = uneven(ground.size());
    // Invented: woods of 15 m, houses of 8 m and open ground in runs of random length.
    std::mt19937 random(9);
    std::vector<float> cover;
    std::vector<std::uint8_t> wooded;
    while (cover.size() < ground.size()) {
        const bool woods = cover.empty() ? site_in_woods : random() % 3 == 0;
        const float height_m = woods ? 15.0F : random() % 2 == 0 ? 8.0F : 0.0F;
        for (auto left = 1 + random() % 40; left > 0 && cover.size() < ground.size(); --left) {
            cover.push_back(height_m);
            wooded.push_back(woods ? 1 : 0);
        }
    }

    propagation::Conditions settings;
    settings.time_percent = time_percent;
    constexpr double latitude_deg = 36.0;
    settings.woodland_factor = 1.4;                   // as a field correction would have it
    settings.houses = propagation::Houses::obstacles; // what else they do is added to a sweep
    const propagation::AntennaHeights heights{antenna_m, 1.5};
    coverage::RadialSite site;
    site.ground_m = static_cast<double>(ground.front());
    site.antenna_m = antenna_m;
    site.step_km = step_km;
    site.radii = propagation::effective_radii(settings.refractivity.delta_n);
    site.wavelength_m = propagation::wavelength_m(settings.frequency_mhz);
    site.root_wavelength = std::sqrt(site.wavelength_m);
    site.cover_m = static_cast<double>(cover.front());
    site.in_woods = wooded.front() != 0;
    site.woods.emplace(settings);
    site.low_antennas = true; // the default method
    const propagation::P1812BatchModel model(p1812_conditions(settings), site.ground_m + antenna_m,
                                             heights);
    site.with_beta = model.needs_beta();

    coverage::CarriedRadial radial;
    radial.start(site, {x_km, ground, cover, wooded});
    double worst_db = 0.0;
    int in_woods = 0;
    int in_the_open = 0;
    int past_middle = 0;
    for (std::size_t k = 13; k + 1 < ground.size(); ++k) {
        // The receiver stands a little beyond point k, in the cover of that point or of the next.
        coverage::RadialReceiver receiver;
        receiver.antenna_m = 1.5;
        receiver.range_km = x_km[k] + 0.6 * step_km;
        receiver.ground_m = static_cast<double>(ground[k]) + std::sin(static_cast<double>(k));
        const std::size_t like = k + k % 2;
        receiver.cover_m = static_cast<double>(cover[like]);
        receiver.wooded = wooded[like] != 0;
        coverage::CarriedRadial::Path path;
        if (!radial.path_to(receiver, path)) {
            ++past_middle;
            continue;
        }
        (receiver.wooded ? in_woods : in_the_open) += 1;

        terrain::Profile profile;
        for (std::size_t i = 0; i <= k; ++i) {
            profile.distance_km.push_back(x_km[i]);
            profile.ground_m.push_back(static_cast<double>(ground[i]));
            profile.cover_m.push_back(static_cast<double>(cover[i]));
            profile.woodland.push_back(wooded[i]);
        }
        profile.distance_km.push_back(receiver.range_km);
        profile.ground_m.push_back(receiver.ground_m);
        profile.cover_m.push_back(receiver.cover_m);
        profile.woodland.push_back(receiver.wooded ? 1 : 0);
        profile.centre_latitude_deg = latitude_deg;
        const auto exact = propagation::path_loss(profile, {antenna_m, 1.5}, settings);

        path.row.centre_latitude_deg = latitude_deg;
        propagation::P1812Batch batch;
        batch.push(path.row);
        model.predict(batch);
        CAPTURE(k, receiver.wooded, exact.tx_woodland_db, exact.rx_woodland_db);
        REQUIRE((path.hidden_by <= 0.0) == exact.sight.clear);
        REQUIRE(path.woods_db == Approx(exact.tx_woodland_db + exact.rx_woodland_db).margin(0.001));
        const double expected_db = test::loss_with_smooth_terms_db(
            exact.p1812->geometry, exact.p1812->inputs, profile.distance_km);
        worst_db = std::max(worst_db, std::abs(batch.loss_db[0] - expected_db));
    }
    CHECK(in_woods > 200);
    CHECK(in_the_open > 300);
    CHECK(past_middle < 60);
    CHECK(worst_db < 1e-5);
}

TEST_CASE("a radial knows where its ground becomes unknown", "[carried]") {
    std::vector<float> ground = random_ground(100);
    std::vector<double> x_km;
    for (std::size_t k = 0; k < ground.size(); ++k) {
        x_km.push_back(static_cast<double>(k) * step_km);
    }
    ground[40] = std::nanf("");
    coverage::RadialSite site;
    site.ground_m = static_cast<double>(ground.front());
    site.step_km = step_km;
    site.radii = propagation::effective_radii(45.0);
    coverage::CarriedRadial radial;
    radial.start(site, {x_km, ground, {}, {}});
    CHECK(radial.known_points() == 40);
    CHECK(radial.last_point_before(40.4 * step_km) == 39);
    CHECK(radial.last_point_before(40.6 * step_km) == 40);
}
