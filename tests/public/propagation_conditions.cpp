#include "earshot/propagation/conditions.hpp"

#include <catch2/catch.hpp>

#include <iostream>

using namespace earshot;

TEST_CASE("example of propagation/conditions.hpp") {
    propagation::Conditions conditions; // ITU-R P.1812, half of the time and places
    conditions.frequency_mhz = 446.0;
    conditions.location_percent = 90.0;
    for (const std::string& warning : propagation::validity_warnings(conditions, {10.0, 0.2})) {
        std::cerr << warning << '\n';
    }
    CHECK(propagation::validity_warnings(conditions, {10.0, 1.5}).empty());
    CHECK_FALSE(propagation::validity_warnings(conditions, {10.0, 0.2}).empty());
}
