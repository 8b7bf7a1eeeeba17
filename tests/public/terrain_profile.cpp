#include "earshot/terrain/profile.hpp"
#include "ground.hpp"

#include <catch2/catch.hpp>

using namespace earshot;

TEST_CASE("example of terrain/profile.hpp") {
    const terrain::HeightGrid ground = examples::hills();
    const geo::LatLon ridge = examples::ridge;
    const geo::LatLon camp = examples::camp;
    const terrain::Profile profile = terrain::sample_profile(ground, ridge, camp);
    CHECK(profile.ground_m.front() == Approx(ground.sample(ridge)));
    CHECK_FALSE(profile.has_void());
}
