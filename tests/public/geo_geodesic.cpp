#include "earshot/geo/geodesic.hpp"

#include <catch2/catch.hpp>

using namespace earshot;

TEST_CASE("example of geo/geodesic.hpp") {
    const geo::LatLon ridge{46.985, 15.015};
    const geo::LatLon camp{46.960, 15.040};
    const geo::GeodesicPath way = geo::geodesic_between(ridge, camp);
    const geo::LatLon half_way =
        geo::geodesic_destination(ridge, way.bearing_deg, way.distance_m / 2.0);
    CHECK(geo::geodesic_between(half_way, camp).distance_m == Approx(way.distance_m / 2.0));
}
