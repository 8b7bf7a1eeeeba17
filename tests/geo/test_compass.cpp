#include "geo/units.hpp"

#include <catch2/catch.hpp>

using earshot::geo::compass_word;

TEST_CASE("directions have names") {
    CHECK(compass_word(0.0) == "north");
    CHECK(compass_word(22.4) == "north");
    CHECK(compass_word(22.6) == "north-east");
    CHECK(compass_word(270.0) == "west");
    CHECK(compass_word(359.0) == "north");
}
