#include "earshot/coverage/map_grid.hpp"
#include "ground.hpp"

#include <catch2/catch.hpp>

using namespace earshot;

TEST_CASE("example of coverage/map_grid.hpp") {
    const geo::LatLon ridge = examples::ridge;
    const coverage::MapGrid map = coverage::utm_map_grid(ridge, 2000.0, 50.0);
    const geo::LatLon first = map.georeference.position_of({0.0, 0.0});
    CHECK(map.columns >= 80);
    CHECK(first.lat_deg > ridge.lat_deg);
}
