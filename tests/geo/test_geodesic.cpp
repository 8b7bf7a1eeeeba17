#include "earshot/geo/geodesic.hpp"

#include <GeographicLib/Geocentric.hpp>
#include <GeographicLib/Geodesic.hpp>
#include <GeographicLib/GeodesicExact.hpp>
#include <catch2/catch.hpp>

#include <cmath>
#include <limits>
#include <random>
#include <vector>

using namespace earshot::geo;

namespace {

constexpr double micrometre_m = 1e-6;
constexpr double bearing_tolerance_deg = 1e-9;

struct Pair {
    LatLon from;
    LatLon to;
};

/// Pairs over the whole Earth, close together, near-antipodal, and with an end at a pole.
std::vector<Pair> sample_pairs() {
    std::mt19937_64 random(20130101);
    std::uniform_real_distribution<double> unit(-1.0, 1.0);
    const auto anywhere = [&] {
        return LatLon{std::asin(unit(random)) * 180.0 / M_PI, 180.0 * unit(random)};
    };
    std::vector<Pair> pairs;
    pairs.reserve(4403);
    for (int i = 0; i < 2000; ++i) {
        pairs.push_back({anywhere(), anywhere()});
    }
    for (int i = 0; i < 1000; ++i) {
        const LatLon from{89.0 * unit(random), 179.0 * unit(random)};
        pairs.push_back({from, {from.lat_deg + unit(random), from.lon_deg + unit(random)}});
    }
    for (int i = 0; i < 1000; ++i) {
        const LatLon from{89.0 * unit(random), 180.0 * unit(random)};
        pairs.push_back({from,
                         {-from.lat_deg + unit(random),
                          std::remainder(from.lon_deg + 180.0 + unit(random), 360.0)}});
    }
    for (int i = 0; i < 200; ++i) {
        pairs.push_back({anywhere(), {90.0, 180.0 * unit(random)}});
        pairs.push_back({{-90.0, 180.0 * unit(random)}, anywhere()});
    }
    pairs.push_back({{90.0, 0.0}, {-90.0, 0.0}});
    pairs.push_back({{0.0, 0.0}, {0.0, 180.0}});
    pairs.push_back({{0.0, 179.9}, {0.0, -179.9}});
    return pairs;
}

double angle_between_deg(double a_deg, double b_deg) {
    return std::abs(std::remainder(a_deg - b_deg, 360.0));
}

/// Straight-line distance between two positions on the ellipsoid.
double chord_m(LatLon a, LatLon b) {
    const auto& earth = GeographicLib::Geocentric::WGS84();
    double ax = 0.0;
    double ay = 0.0;
    double az = 0.0;
    double bx = 0.0;
    double by = 0.0;
    double bz = 0.0;
    earth.Forward(a.lat_deg, a.lon_deg, 0.0, ax, ay, az);
    earth.Forward(b.lat_deg, b.lon_deg, 0.0, bx, by, bz);
    return std::hypot(ax - bx, ay - by, az - bz);
}

} // namespace

TEST_CASE("Distance and bearings agree with GeographicLib::Geodesic") {
    const auto& reference = GeographicLib::Geodesic::WGS84();
    for (const auto& [from, to] : sample_pairs()) {
        CAPTURE(from.lat_deg, from.lon_deg, to.lat_deg, to.lon_deg);
        double distance_m = 0.0;
        double bearing_deg = 0.0;
        double onward_deg = 0.0;
        reference.Inverse(from.lat_deg, from.lon_deg, to.lat_deg, to.lon_deg, distance_m,
                          bearing_deg, onward_deg);
        const GeodesicPath path = geodesic_between(from, to);
        CHECK(std::abs(path.distance_m - distance_m) < micrometre_m);
        CHECK(angle_between_deg(path.bearing_deg, bearing_deg) < bearing_tolerance_deg);
        CHECK(angle_between_deg(path.back_bearing_deg, onward_deg + 180.0) < bearing_tolerance_deg);
        CHECK((path.bearing_deg >= 0.0 && path.bearing_deg < 360.0));
        CHECK((path.back_bearing_deg >= 0.0 && path.back_bearing_deg < 360.0));
    }
}

TEST_CASE("Paths lead where GeographicLib::GeodesicExact says they do") {
    // The exact class integrates elliptic functions instead of summing the series that PROJ and
    // GeographicLib::Geodesic share.
    const GeographicLib::GeodesicExact& reference = GeographicLib::GeodesicExact::WGS84();
    for (const auto& [from, to] : sample_pairs()) {
        CAPTURE(from.lat_deg, from.lon_deg, to.lat_deg, to.lon_deg);
        double distance_m = 0.0;
        reference.Inverse(from.lat_deg, from.lon_deg, to.lat_deg, to.lon_deg, distance_m);
        const GeodesicPath path = geodesic_between(from, to);
        CHECK(std::abs(path.distance_m - distance_m) < micrometre_m);

        LatLon reached;
        reference.Direct(from.lat_deg, from.lon_deg, path.bearing_deg, path.distance_m,
                         reached.lat_deg, reached.lon_deg);
        CHECK(chord_m(reached, to) < micrometre_m);
        reference.Direct(to.lat_deg, to.lon_deg, path.back_bearing_deg, path.distance_m,
                         reached.lat_deg, reached.lon_deg);
        CHECK(chord_m(reached, from) < micrometre_m);
        CHECK(chord_m(geodesic_destination(from, path.bearing_deg, path.distance_m), to) <
              micrometre_m);
    }
}

TEST_CASE("A geodesic line agrees with GeographicLib::GeodesicExact along its length") {
    const GeographicLib::GeodesicExact& reference = GeographicLib::GeodesicExact::WGS84();
    for (const LatLon start : {LatLon{36.6, -84.2}, {-89.9, 10.0}, {0.0, 179.99}, {90.0, 0.0}}) {
        for (int sector = 0; sector < 16; ++sector) {
            const double bearing_deg = 22.5 * sector;
            const GeodesicLine line(start, bearing_deg);
            const GeodesicLine copy = line;
            for (const double distance_m : {0.0, 1.0, 29.5, 12e3, 250e3, 9e6, -4e3}) {
                CAPTURE(start.lat_deg, start.lon_deg, bearing_deg, distance_m);
                LatLon expected;
                reference.Direct(start.lat_deg, start.lon_deg, bearing_deg, distance_m,
                                 expected.lat_deg, expected.lon_deg);
                CHECK(chord_m(line.at(distance_m), expected) < micrometre_m);
                CHECK(chord_m(copy.at(distance_m), expected) < micrometre_m);
                CHECK(std::abs(line.at(distance_m).lon_deg) <= 180.0);
            }
        }
    }
}

TEST_CASE("Worked examples of Karney 2013 come out to the last printed digit") {
    // C. F. F. Karney, "Algorithms for geodesics", J. Geodesy 87, 43-55, 2013: table 2 (direct),
    // table 4 (short inverse) and tables 5 and 6 (near-antipodal inverse), for WGS 84. The values
    // and the numbers of the tables are from memory.
    const LatLon destination = geodesic_destination({40.0, 0.0}, 30.0, 10e6);
    CHECK(destination.lat_deg == Approx(41.79331020506).margin(6e-12).epsilon(0));
    CHECK(destination.lon_deg == Approx(137.84490004377).margin(6e-12).epsilon(0));

    const GeodesicPath near = geodesic_between({-30.12345, 0.0}, {-30.12344, 0.00005});
    CHECK(near.distance_m == Approx(4.944208).margin(6e-7).epsilon(0));
    CHECK(near.bearing_deg == Approx(77.04353354237).margin(1e-8).epsilon(0));

    const GeodesicPath far = geodesic_between({-30.0, 0.0}, {29.9, 179.8});
    CHECK(far.distance_m == Approx(19989832.827610).margin(6e-7).epsilon(0));
    CHECK(far.bearing_deg == Approx(161.89052473633).margin(6e-12).epsilon(0));
    CHECK(far.back_bearing_deg == Approx(180.0 + 18.09073724574).margin(6e-12).epsilon(0));
}

TEST_CASE("Lengths known without a geodesic solver") {
    // One degree of the equator is a pi / 180 with a = 6378137 m (WGS 84, NGA.STND.0036).
    CHECK(geodesic_between({0.0, 10.0}, {0.0, 11.0}).distance_m ==
          Approx(6378137.0 * M_PI / 180.0).margin(micrometre_m).epsilon(0));
    // The meridian quadrant of WGS 84 is 10001965.7293 m (from memory).
    CHECK(geodesic_between({0.0, 7.0}, {90.0, 0.0}).distance_m ==
          Approx(10001965.7293).margin(6e-5).epsilon(0));
    CHECK(geodesic_between({36.6, -84.2}, {36.6, -84.2}).distance_m == 0.0);
    CHECK(std::isnan(geodesic_between({90.1, 0.0}, {0.0, 0.0}).distance_m));
}

TEST_CASE("Longitudes and bearings are brought into their ranges") {
    CHECK(normalize_longitude_deg(180.0) == -180.0);
    CHECK(normalize_longitude_deg(-180.0) == -180.0);
    CHECK(normalize_longitude_deg(540.0) == -180.0);
    CHECK(normalize_longitude_deg(190.5) == -169.5);
    CHECK(normalize_longitude_deg(-190.5) == 169.5);
    CHECK(normalize_longitude_deg(-84.2) == -84.2);
    CHECK_FALSE(std::signbit(normalize_longitude_deg(-360.0)));
    CHECK(normalize_bearing_deg(360.0) == 0.0);
    CHECK(normalize_bearing_deg(-90.0) == 270.0);
    CHECK(normalize_bearing_deg(180.0) == 180.0);
    CHECK(normalize_bearing_deg(-180.0) == 180.0);
    CHECK(normalize_bearing_deg(725.25) == 5.25);
    CHECK(normalize_bearing_deg(-1e-20) == 0.0);
    CHECK_FALSE(std::signbit(normalize_bearing_deg(-0.0)));
    CHECK(std::isnan(normalize_bearing_deg(std::numeric_limits<double>::quiet_NaN())));
}
