#include "earshot/base/error.hpp"
#include "earshot/propagation/path_loss.hpp"
#include "propagation/basic.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <limits>

using namespace earshot;
using namespace earshot::propagation;

namespace {

terrain::Profile flat_profile(double length_km, double ground_m) {
    terrain::Profile profile;
    for (int i = 0; i <= 100; ++i) {
        profile.distance_km.push_back(length_km * i / 100);
        profile.ground_m.push_back(ground_m);
        profile.cover_m.push_back(0.0);
    }
    return profile;
}

} // namespace

TEST_CASE("every method has a name that reads back, and a source", "[method]") {
    REQUIRE(methods().size() >= 8);
    for (const MethodInfo& info : methods()) {
        CHECK(parse_method(info.name) == info.method);
        CHECK(&method_info(info.method) == &info);
        CHECK_FALSE(info.source.empty());
    }
    CHECK_THROWS_WITH(parse_method("knife"), Catch::Contains("bullington-p526"));
}

TEST_CASE("the basic loss is free space along the ray plus diffraction", "[method]") {
    Conditions settings;
    settings.method = Method::free_space;
    // 3 km of ground and 4 km of height: a ray of 5 km (ITU-R P.525-4, d is the ray's length).
    const PathLoss loss = path_loss(flat_profile(3.0, 0.0), {4000.0, 0.0}, settings);
    CHECK(loss.basic_loss_db == Approx(free_space_loss_db(5.0, 146.0)));
    CHECK(loss.diffraction_db == 0.0);

    settings.method = Method::bullington_p526;
    const PathLoss low = path_loss(flat_profile(40.0, 100.0), {1.5, 1.5}, settings);
    CHECK_FALSE(low.sight.clear);
    CHECK(low.diffraction_db > 10.0);
    CHECK(low.basic_loss_db == Approx(low.free_space_db + low.diffraction_db));
}

TEST_CASE("cover between the ends stands in the way, cover at the ends does not", "[method]") {
    Conditions settings;
    terrain::Profile profile = flat_profile(2.0, 50.0);
    const double open_db = path_loss(profile, {10.0, 10.0}, settings).diffraction_db;
    profile.cover_m.front() = profile.cover_m.back() = 30.0;
    CHECK(path_loss(profile, {10.0, 10.0}, settings).diffraction_db == open_db);
    profile.cover_m[50] = 30.0;
    CHECK(path_loss(profile, {10.0, 10.0}, settings).diffraction_db > open_db + 6.0);
}

TEST_CASE("a void on the way makes the loss unknown, never sea level", "[method]") {
    terrain::Profile profile = flat_profile(2.0, 50.0);
    profile.ground_m[30] = std::numeric_limits<double>::quiet_NaN();
    CHECK(std::isnan(path_loss(profile, {10.0, 10.0}, Conditions{}).basic_loss_db));
}

TEST_CASE("a hilltop to a valley ten miles off is comfortable for handhelds", "[method]") {
    // Trade fact (common practice, no source): loud and clear on the stock radios at 146 MHz. A
    // hill 300 m above a flat valley; 5 W, stock antennas of -3 dBi, receivers that need -116 dBm.
    terrain::Profile profile = flat_profile(16.09, 200.0);
    for (std::size_t i = 0; i < 12; ++i) {
        profile.ground_m[i] = 500.0 - 25.0 * static_cast<double>(i);
    }
    const PathLoss loss = path_loss(profile, {1.5, 1.5}, Conditions{});
    const double margin_db = 36.99 - 3.0 - 3.0 - loss.basic_loss_db + 116.0;
    CHECK(margin_db > 15.0);
}
