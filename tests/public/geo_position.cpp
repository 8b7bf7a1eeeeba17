#include "earshot/geo/position.hpp"

#include <catch2/catch.hpp>

using namespace earshot;

TEST_CASE("example of geo/position.hpp") {
    const geo::LatLon ridge = geo::parse_position("36 36.07N 84 12.2W");
    const std::string on_the_map = geo::format_utm(ridge); // "16S 750123 4054321"
    CHECK(ridge.lat_deg == Approx(36.0 + 36.07 / 60.0));
    CHECK(on_the_map.substr(0, 4) == "16S ");
}
