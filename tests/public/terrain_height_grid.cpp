#include "earshot/terrain/height_grid.hpp"
#include "ground.hpp"

#include <catch2/catch.hpp>

#include <cmath>

using namespace earshot;

TEST_CASE("example of terrain/height_grid.hpp") {
    const terrain::HeightGrid ground = examples::hills();
    const double height_m = ground.sample(geo::LatLon{46.9851, 15.0153});
    const bool known = !std::isnan(height_m);
    CHECK(known);
    CHECK(height_m == Approx(400.0).margin(100.0));
}
