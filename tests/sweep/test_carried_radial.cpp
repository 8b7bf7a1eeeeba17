#include "carried_radial.hpp"
#include "earshot/propagation/basic.hpp"

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

} // namespace

// The walk over a whole profile by analyse_path(), which the ITU-R reference set proves
// (tests/propagation/test_p1812_reference.cpp), is the truth the carried terms are held to.
TEST_CASE("carried terms give the loss that a fresh profile gives", "[carried]") {
    const double time_percent = GENERATE(50.0, 10.0, 1.0);
    const double antenna_m = GENERATE(2.0, 30.0, 300.0);
    const double frequency_mhz = GENERATE(40.0, 146.0, 2400.0);
    CAPTURE(time_percent, antenna_m, frequency_mhz);
    const std::vector<float> ground = random_ground(1200);

    propagation::P1812Inputs inputs;
    inputs.frequency_mhz = frequency_mhz;
    inputs.time_percent = time_percent;
    inputs.location_percent = 70.0;
    inputs.path_centre_latitude_deg = 36.0;
    const propagation::AntennaHeights heights{antenna_m, 1.5};
    sweep::RadialSite site;
    site.ground_m = static_cast<double>(ground.front());
    site.antenna_m = antenna_m;
    site.receiver_antenna_m = 1.5;
    site.step_km = 0.03;
    site.radii = propagation::effective_radii(inputs.refractivity.delta_n);
    site.wavelength_m = propagation::wavelength_m(frequency_mhz);
    site.root_wavelength = std::sqrt(site.wavelength_m);
    const propagation::P1812BatchModel model(
        inputs, static_cast<double>(ground.front()) + antenna_m, heights, site.step_km);
    site.with_beta = model.needs_beta();

    sweep::CarriedRadial radial;
    radial.start(site, ground);
    propagation::P1812Batch batch;
    std::vector<double> expected;
    double worst_db = 0.0;
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
        const double range_km = (static_cast<double>(k) + 0.6) * site.step_km;
        const double receiver_ground_m =
            static_cast<double>(ground[k]) + std::sin(static_cast<double>(k));
        std::vector<double> distance_km;
        std::vector<double> profile_m(ground.begin(),
                                      ground.begin() + static_cast<std::ptrdiff_t>(k) + 1);
        for (std::size_t i = 0; i <= k; ++i) {
            distance_km.push_back(static_cast<double>(i) * site.step_km);
        }
        distance_km.push_back(range_km);
        profile_m.push_back(receiver_ground_m);
        const auto exact = propagation::p1812({distance_km, profile_m, {}, {}}, heights, inputs);
        expected.push_back(exact.loss_db);

        sweep::CarriedRadial::Path path;
        radial.path_to(range_km, receiver_ground_m, path);
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
}

TEST_CASE("a radial knows where its ground becomes unknown", "[carried]") {
    std::vector<float> ground = random_ground(100);
    ground[40] = std::nanf("");
    sweep::RadialSite site;
    site.ground_m = static_cast<double>(ground.front());
    site.step_km = 0.03;
    site.radii = propagation::effective_radii(45.0);
    sweep::CarriedRadial radial;
    radial.start(site, ground);
    CHECK(radial.known_points() == 40);
    CHECK(radial.last_point_before(40.4 * 0.03) == 39);
    CHECK(radial.last_point_before(40.6 * 0.03) == 40);
}
