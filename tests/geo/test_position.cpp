#include "comma_locale.hpp"
#include "earshot/geo/position.hpp"
#include "refusal.hpp"

#include <GeographicLib/MGRS.hpp>
#include <GeographicLib/UTMUPS.hpp>
#include <catch2/catch.hpp>
#include <fmt/format.h>
#include <proj.h>

#include <cmath>
#include <cstdio>
#include <random>
#include <string>

using namespace earshot::geo;
using Catch::Contains;
using GeographicLib::MGRS;
using GeographicLib::UTMUPS;

namespace {

/// PROJ's own transverse Mercator (its "utm" operation), which shares no code with GeographicLib.
class ProjUtm {
public:
    ProjUtm(int zone, bool north)
        : projection_(proj_create(PJ_DEFAULT_CTX, fmt::format("+proj=utm +zone={} +ellps=WGS84{}",
                                                              zone, north ? "" : " +south")
                                                      .c_str())) {
        REQUIRE(projection_ != nullptr);
    }
    ~ProjUtm() { proj_destroy(projection_); }
    ProjUtm(const ProjUtm&) = delete;
    ProjUtm& operator=(const ProjUtm&) = delete;

    [[nodiscard]] PJ_XY forward(LatLon position) const {
        return proj_trans(
                   projection_, PJ_FWD,
                   proj_coord(proj_torad(position.lon_deg), proj_torad(position.lat_deg), 0.0, 0.0))
            .xy;
    }
    [[nodiscard]] LatLon inverse(double easting_m, double northing_m) const {
        const PJ_LP angles =
            proj_trans(projection_, PJ_INV, proj_coord(easting_m, northing_m, 0.0, 0.0)).lp;
        return {proj_todeg(angles.phi), proj_todeg(angles.lam)};
    }

private:
    PJ* projection_;
};

/// Positions spread evenly over the Earth between two latitudes.
template <typename Visit>
void for_positions(int count, double south_deg, double north_deg, Visit visit) {
    std::mt19937_64 random(600);
    std::uniform_real_distribution<double> sine(std::sin(south_deg * M_PI / 180.0),
                                                std::sin(north_deg * M_PI / 180.0));
    std::uniform_real_distribution<double> lon_deg(-180.0, 180.0);
    for (int i = 0; i < count; ++i) {
        visit(LatLon{std::asin(sine(random)) * 180.0 / M_PI, lon_deg(random)});
    }
}

void check_near(LatLon actual, LatLon expected, double tolerance_m) {
    CHECK(geodesic_between(actual, expected).distance_m <= tolerance_m);
}

void check_reads(const std::string& text, LatLon expected) {
    CAPTURE(text);
    LatLon actual;
    REQUIRE_NOTHROW(actual = parse_position(text));
    CHECK(actual.lat_deg == Approx(expected.lat_deg).margin(1e-12).epsilon(0));
    CHECK(actual.lon_deg == Approx(expected.lon_deg).margin(1e-12).epsilon(0));
}

std::string refused(const std::string& text) {
    CAPTURE(text);
    std::string message = refusal([&] { return parse_position(text); });
    CHECK_THAT(message, Contains(in_quotes(text)) && Contains("36.6012,-84.2034"));
    return message;
}

} // namespace

TEST_CASE("Decimal degrees are read in every documented way") {
    const LatLon expected{36.6012, -84.2034};
    for (const char* text : {"36.6012,-84.2034",
                             "36.6012, -84.2034",
                             "36.6012 -84.2034",
                             "  36.6012\t-84.2034 ",
                             "+36.6012,-84.2034",
                             "36.6012 , -84.2034",
                             "36.6012\u00B0, -84.2034\u00B0",
                             "36.6012\u00B0 -84.2034\u00B0",
                             "36.6012,\u221284.2034",
                             "36.6012N 84.2034W",
                             "36.6012N, 84.2034W",
                             "36.6012n84.2034w",
                             "84.2034W 36.6012N",
                             "N36.6012 W84.2034",
                             "n 36.6012, w 84.2034",
                             "W84.2034 N36.6012",
                             "36.6012\u00B0N 84.2034\u00B0W",
                             "36.6012 north 84.2034 West",
                             "036.6012, -084.2034",
                             "36.6012,\u00A0-84.2034"}) {
        check_reads(text, expected);
    }
    check_reads("-36.5,84", {-36.5, 84.0});
    check_reads("36,84", {36.0, 84.0});
    check_reads("0 0", {0.0, 0.0});
    check_reads(".5 -.5", {0.5, -0.5});
    check_reads("36.5S 10E", {-36.5, 10.0});
    check_reads("90,180", {90.0, 180.0});
    check_reads("-90 -180", {-90.0, -180.0});
}

TEST_CASE("Degrees, minutes and seconds are read in every documented way") {
    const LatLon minutes{36.0 + 36.07 / 60.0, -(84.0 + 12.2 / 60.0)};
    for (const char* text :
         {"36 36.07N 84 12.2W", "36\u00B036.07'N, 84\u00B012.2'W", "36\u00B036.07'N84\u00B012.2'W",
          "N36 36.07 W84 12.2", "N36\u00B036.07\u2032 W84\u00B012.2\u2032", "36 36.07, -84 12.2",
          "36\u00B0 36.07\u2019 -84\u00B0 12.2\u2019", "84 12.2W, 36 36.07N",
          "36\u00BA36.07\u00B4N 84\u02DA12.2'W"}) {
        check_reads(text, minutes);
    }
    const LatLon seconds{36.0 + 36.0 / 60.0 + 4.3 / 3600.0, -(84.0 + 12.0 / 60.0 + 12.2 / 3600.0)};
    for (const char* text : {"36 36 04.3N 84 12 12.2W", "36\u00B036'04.3\"N 84\u00B012'12.2\"W",
                             "36\u00B036\u203204.3\u2033N 84\u00B012\u203212.2\u2033W",
                             "36\u00B036'04.3''N 84\u00B012'12.2''W",
                             "36\u00B036\u20324.3\u2032\u2032N, 84\u00B012\u203212.2\u2032\u2032W",
                             "36\u00B036\u201904.3\u201DN 84\u00B012\u201912.2\u201DW",
                             "N36\u00B036'04.3\" W84\u00B012'12.2\"", "36 36 4.3, -84 12 12.2",
                             "36 36 04.3 n 84 12 12.2 w"}) {
        check_reads(text, seconds);
    }
    // The sign belongs to the whole angle, even when the degrees are zero.
    check_reads("-0 30, -0 15", {-0.5, -0.25});
    check_reads("0 30S 0 15W", {-0.5, -0.25});
    check_reads("90 0 0 N 180 0 0 W", {90.0, -180.0});
}

TEST_CASE("Angles that cannot be right are refused with the reason") {
    CHECK_THAT(refused(""), Contains("empty"));
    CHECK_THAT(refused("   "), Contains("empty"));
    CHECK_THAT(refused("90.0001,0"), Contains("latitude beyond 90"));
    CHECK_THAT(refused("-120.5,36.6"), Contains("latitude comes first"));
    CHECK_THAT(refused("95N 84W"), Contains("latitude beyond 90"));
    CHECK_THAT(refused("90 0 0.1N 84W"), Contains("latitude beyond 90"));
    CHECK_THAT(refused("36.6,180.0001"), Contains("longitude beyond 180"));
    CHECK_THAT(refused("36.6N 190W"), Contains("longitude beyond 180"));
    CHECK_THAT(refused("36.6N 84.2S"), Contains("two latitudes"));
    CHECK_THAT(refused("36.6E 84.2W"), Contains("two longitudes"));
    CHECK_THAT(refused("36 60N 84 12W"), Contains("60 minutes or seconds"));
    CHECK_THAT(refused("36 36 60N 84 12 12W"), Contains("60 minutes or seconds"));
    CHECK_THAT(refused("36 36 99.5N 84 12 12W"), Contains("99.5"));
    CHECK_THAT(refused("36,6012 -84,2034"), Contains("decimals take a point"));
    CHECK_THAT(refused("36,6012,-84,2034"), Contains("decimals take a point"));
    CHECK_THAT(refused("36,6012N 84,2034W"), Contains("decimals take a point"));
    CHECK_THAT(refused("36.6012"), Contains("one latitude and one longitude"));
    CHECK_THAT(refused("36.6012N"), Contains("one latitude and one longitude"));
    CHECK_THAT(refused("36 36.07 -84 12.2"), Contains("told apart"));
    CHECK_THAT(refused("36 36 84"), Contains("told apart"));
    CHECK_THAT(refused("36.6,"), Contains("told apart"));
    CHECK_THAT(refused(",36.6 84.2"), Contains("told apart"));
    CHECK_THAT(refused("36.6 -84.2,"), Contains("told apart"));
    CHECK_THAT(refused("36.6,-84.2,100"), Contains("more than one comma"));
    CHECK_THAT(refused("36.6N 84.2"), Contains("not on the other"));
    CHECK_THAT(refused("36.6 84.2W"), Contains("told apart"));
    CHECK_THAT(refused("36.6,84.2W"), Contains("not on the other"));
    CHECK_THAT(refused("36,6012N 84.2W"), Contains("told apart"));
    CHECK_THAT(refused("36.6N -84.2W"), Contains("sign and a hemisphere"));
    CHECK_THAT(refused("-36.6N 84.2W"), Contains("sign and a hemisphere"));
    CHECK_THAT(refused("36 -36, 84 12"), Contains("only degrees can have one"));
    CHECK_THAT(refused("36.5 30N 84 12W"), Contains("not whole"));
    CHECK_THAT(refused("36 36.5 10N 84 12W"), Contains("not whole"));
    CHECK_THAT(refused("36\"36'N 84 12W"), Contains("out of order"));
    CHECK_THAT(refused("36 36 4 5N 84 12W"), Contains("more than degrees"));
    CHECK_THAT(refused("36.6.1,84"), Contains("not a number"));
    CHECK_THAT(refused("\u00B036 84"), Contains("without a number"));
    CHECK_THAT(refused("nan,nan"), Contains("NAN"));
    CHECK_THAT(refused("inf 84"), Contains("INF"));
    CHECK_THAT(refused("36.6Q 84.2W"), Contains("\"Q\""));
    CHECK_THAT(refused("36.6,-84.2 home"), Contains("HOME"));
    CHECK_THAT(refused("36.6,-84.2;"), Contains("\";\""));
    CHECK_THAT(refused("36.6,--84.2"), Contains("\"--84.2\""));
    CHECK_THAT(refused("36.6 - 84.2"), Contains("\"- 84.2\""));
    CHECK_THAT(refused("36.6e1,84"), Contains("told apart"));
    CHECK_THAT(refused("N 36.6 W"), Contains("same side"));
    CHECK_THAT(refused("N36.6 84.2W"), Contains("same side"));
    CHECK_THAT(refused("N W 84.2"), Contains("no number after N"));
    CHECK_THAT(refused("36.6NN 84.2W"), Contains("\"NN\""));
}

TEST_CASE("A message stays on one line whatever the text") {
    CHECK_THAT(refusal([] { return parse_position("36.6\n;84\x01"); }), Contains("\"36.6?;84?\""));
    const std::string message =
        refusal([] { return parse_position(std::string(10000, '9') + "\u00B0"); });
    CHECK(message.size() < 400);
}

TEST_CASE("UTM is read as GeographicLib and as PROJ read it") {
    int checked = 0;
    for_positions(1500, -79.9, 83.9, [&](LatLon position) {
        int zone = 0;
        bool north = false;
        double easting_m = 0.0;
        double northing_m = 0.0;
        UTMUPS::Forward(position.lat_deg, position.lon_deg, zone, north, easting_m, northing_m);
        const std::string text = fmt::format("{} {} {:.6f} {:.6f}", zone, north ? "north" : "South",
                                             easting_m, northing_m);
        CAPTURE(text, position.lat_deg, position.lon_deg);
        check_near(parse_position(text), position, 2e-6);
        check_near(parse_position(text), ProjUtm(zone, north).inverse(easting_m, northing_m), 2e-6);
        ++checked;
    });
    CHECK(checked == 1500);
}

TEST_CASE("UTM is printed as PROJ computes it and reads back within the rounding") {
    for_positions(1500, -80.0, 84.0, [](LatLon position) {
        const std::string text = format_utm(position);
        CAPTURE(text, position.lat_deg, position.lon_deg);
        int zone = 0;
        char band = '\0';
        double easting_m = 0.0;
        double northing_m = 0.0;
        REQUIRE(std::sscanf(text.c_str(), "%d%c %lf %lf", &zone, &band, &easting_m, &northing_m) ==
                4);
        const PJ_XY expected = ProjUtm(zone, position.lat_deg >= 0.0).forward(position);
        CHECK(std::abs(easting_m - expected.x) < 0.5 + 1e-6);
        CHECK(std::abs(northing_m - expected.y) < 0.5 + 1e-6);
        check_near(parse_position(text), position, 0.71);
        // GeographicLib's grid square starts with the same zone and band.
        const std::string mgrs = format_mgrs(position);
        CHECK(mgrs.substr(0, 3) == fmt::format("{:02}{}", zone, band));
    });
}

TEST_CASE("MGRS is printed as GeographicLib does and reads back within the square") {
    for_positions(1500, -90.0, 90.0, [](LatLon position) {
        int zone = 0;
        bool north = false;
        double x_m = 0.0;
        double y_m = 0.0;
        UTMUPS::Forward(position.lat_deg, position.lon_deg, zone, north, x_m, y_m);
        std::string expected;
        MGRS::Forward(zone, north, x_m, y_m, 5, expected);
        CAPTURE(expected, position.lat_deg, position.lon_deg);
        const std::string mgrs = format_mgrs(position);
        CHECK(mgrs == expected);
        // The centre of a 1 m square is at most 0.71 m away, over a scale of 0.994 or more.
        check_near(parse_position(mgrs), position, 0.72);
        // PROJ agrees on the digits: they are the coordinates below 100 km, cut to the metre.
        if (zone != 0) {
            const PJ_XY xy = ProjUtm(zone, north).forward(position);
            const double easting_m = std::stod(mgrs.substr(5, 5)) + 0.5;
            const double northing_m = std::stod(mgrs.substr(10, 5)) + 0.5;
            CHECK(std::abs(std::fmod(xy.x, 1e5) - easting_m) < 0.5 + 1e-6);
            CHECK(std::abs(std::fmod(xy.y, 1e5) - northing_m) < 0.5 + 1e-6);
        }
    });
}

TEST_CASE("Published MGRS positions") {
    // The example of the United States National Grid standard, FGDC-STD-011-2001: the Jefferson
    // Pier in Washington, 38 53 23.3 N 77 02 11.6 W (from memory).
    const LatLon pier = parse_position("38 53 23.3N 77 02 11.6W");
    check_near(parse_position("18SUJ2337106519"), pier, 3.0);
    CHECK(format_mgrs(pier).substr(0, 8) == "18SUJ233");
    // The example in GeographicLib's manual of GeoConvert: the centre of 38SMB4488 is
    // 33.33424 N 44.40363 E (from memory).
    const LatLon centre = parse_position("38SMB4488");
    CHECK(format_decimal(centre) == "33.33424, 44.40363");
}

TEST_CASE("UTM letters are bands, N serves as both, and words name hemispheres") {
    const LatLon kentucky = ProjUtm(16, true).inverse(750123.0, 4054321.0);
    for (const char* text :
         {"16S 750123 4054321", "16s 750123 4054321", "16 S 750123 4054321", "16S 750123, 4054321",
          "16N 750123 4054321", "16 n 0750123 4054321", "16 north 750123 4054321",
          "16North 750123.0 4054321.0", "16 S 750123 m E 4054321 m N", "16S 750123mE 4054321mN",
          "16S 750123m 4054321m", "16S 750123E 4054321N"}) {
        CAPTURE(text);
        check_near(parse_position(text), kentucky, 1e-6);
        CHECK(parse_position(text).lat_deg > 36.0);
    }
    const LatLon falklands = ProjUtm(21, false).inverse(440000.0, 4272000.0);
    CHECK(falklands.lat_deg < -51.0);
    check_near(parse_position("21 south 440000 4272000"), falklands, 1e-6);
    check_near(parse_position("21F 440000 4272000"), falklands, 1e-6);
    // Southern latitudes from about 50 to 58 S have northings that fit band S too.
    CHECK(parse_position("21S 440000 4272000").lat_deg > 38.0);
    check_near(parse_position("1N 500000 0"), {0.0, -177.0}, 1e-6);
    check_near(parse_position("1M 500000 10000000"), {0.0, -177.0}, 1e-6);
}

TEST_CASE("UTM that contradicts itself is refused with the reason") {
    CHECK_THAT(refused("16T 750123 4054321"), Contains("band T"));
    CHECK_THAT(refused("16S 750123 6054321"), Contains("band S") && Contains("word south"));
    CHECK_THAT(refused("16I 750123 4054321"), Contains("bands run from C to X"));
    CHECK_THAT(refused("16Y 750123 4054321"), Contains("bands run from C to X"));
    CHECK_THAT(refused("61N 750123 4054321"), Contains("1 to 60"));
    CHECK_THAT(refused("0N 750123 4054321"), Contains("1 to 60"));
    CHECK_THAT(refused("116N 750123 4054321"), Contains("1 to 60"));
    CHECK_THAT(refused("16N 99999 4054321"), Contains("easting"));
    CHECK_THAT(refused("16N 7501230 4054321"), Contains("easting"));
    CHECK_THAT(refused("16N 500000 9400000"), Contains("84 N"));
    CHECK_THAT(refused("16 south 500000 1000000"), Contains("80 S"));
    CHECK_THAT(refused("16 south 500000 500000"), Contains("80 S"));
    CHECK_THAT(refused("16 south 500000 10000001"), Contains("10000000"));
    CHECK_THAT(refused("16S 750123"), Contains("UTM"));
    CHECK_THAT(refused("16S 750123 4054321 12"), Contains("UTM"));
    CHECK_THAT(refused("16S 750123 -4054321"), Contains("UTM"));
    CHECK_THAT(refused("16S 750123N 4054321E"), Contains("UTM"));
}

TEST_CASE("MGRS is read with and without spaces") {
    const LatLon expected = parse_position("16SGF5012354321");
    CHECK(format_mgrs(expected) == "16SGF5012354321");
    for (const char* text :
         {"16SGF 50123 54321", "16S GF 50123 54321", "16 S GF 5012354321", "16sgf5012354321"}) {
        CAPTURE(text);
        check_near(parse_position(text), expected, 1e-9);
    }
    // Fewer digits name a larger square, and its centre is meant.
    check_near(parse_position("16SGF501543"), parse_position("16SGF5015054350"), 0.8);
    check_near(parse_position("16SGF 50 54"), parse_position("16SGF5050054500"), 0.8);
}

TEST_CASE("MGRS that names no square is refused with the reason") {
    CHECK_THAT(refused("16SGF501235432"), Contains("as many digits"));
    CHECK_THAT(refused("16SGF 5012 354321"), Contains("as many digits"));
    CHECK_THAT(refused("16SGF 50123 54321 1"), Contains("as many digits"));
    CHECK_THAT(refused("16SGF 50123 -54321"), Contains("as many digits"));
    CHECK_THAT(refused("16SGF"), Contains("as many digits"));
    CHECK_THAT(refused("16SGF55"), Contains("two to five digits"));
    CHECK_THAT(refused("16SGF501234543219"), Contains("two to five digits"));
    CHECK_THAT(refused("16SIF5012354321"), Contains("not a square of MGRS"));
    CHECK_THAT(refused("16SJF5012354321"), Contains("not a square of MGRS"));
    CHECK_THAT(refused("61SGF5012354321"), Contains("not a square of MGRS"));
    CHECK_THAT(refused("16TGF5012354321"), Contains("not a square of MGRS"));
    CHECK_THAT(refused("16SGF5012354321 home"), Contains("as many digits"));
}

TEST_CASE("Positions print as documented") {
    const LatLon position{36.0 + 36.0 / 60.0 + 4.3 / 3600.0, -(84.0 + 12.0 / 60.0 + 12.2 / 3600.0)};
    CHECK(format_decimal({36.6012, -84.2034}) == "36.60120, -84.20340");
    CHECK(format_decimal({36.6012, -84.2034}, 2) == "36.60, -84.20");
    CHECK(format_decimal({-1e-9, -1e-9}) == "0.00000, 0.00000");
    CHECK(format_decimal({36.6, -84.2}, 0) == "37, -84");
    CHECK(format_dms(position) == "36\u00B036'04.3\"N 84\u00B012'12.2\"W");
    CHECK(format_dms({-1.0 / 36000.0, 0.0}) == "0\u00B000'00.1\"S 0\u00B000'00.0\"E");
    // 59.96 seconds round up to a whole minute, and so to a whole degree.
    CHECK(format_dms({36.0 + 59.0 / 60.0 + 59.96 / 3600.0, -179.99999999}) ==
          "37\u00B000'00.0\"N 180\u00B000'00.0\"W");
    CHECK(format_dms({-1e-9, -1e-9}) == "0\u00B000'00.0\"N 0\u00B000'00.0\"E");
}

TEST_CASE("Printed angles read back within their rounding") {
    for_positions(500, -90.0, 90.0, [](LatLon position) {
        CAPTURE(position.lat_deg, position.lon_deg);
        const LatLon decimal = parse_position(format_decimal(position));
        CHECK(std::abs(decimal.lat_deg - position.lat_deg) <= 0.5001e-5);
        CHECK(std::abs(decimal.lon_deg - position.lon_deg) <= 0.5001e-5);
        const LatLon dms = parse_position(format_dms(position));
        CHECK(std::abs(dms.lat_deg - position.lat_deg) <= 0.05001 / 3600.0);
        CHECK(std::abs(dms.lon_deg - position.lon_deg) <= 0.05001 / 3600.0);
    });
}

TEST_CASE("UTM zones keep the exceptions for Norway and Svalbard") {
    // NGA.STND.0037, "Universal grids and the transverse Mercator and polar stereographic map
    // projections": 32V is widened to 3 E; 32X, 34X and 36X are not used (from memory).
    CHECK(utm_zone({36.6, -84.2}) == 16);
    CHECK(utm_zone({60.0, 5.0}) == 32);
    CHECK(utm_zone({60.0, 2.9}) == 31);
    CHECK(utm_zone({55.9, 5.0}) == 31);
    CHECK(utm_zone({78.0, 8.9}) == 31);
    CHECK(utm_zone({78.0, 9.1}) == 33);
    CHECK(utm_zone({78.0, 21.1}) == 35);
    CHECK(utm_zone({78.0, 33.1}) == 37);
    CHECK(utm_zone({0.0, -180.0}) == 1);
    CHECK(utm_zone({0.0, 180.0}) == 1);
    CHECK(utm_zone({0.0, 179.9}) == 60);
    CHECK(utm_zone({88.0, -84.2}) == 16);
}

TEST_CASE("EPSG codes name the zone they stand for in PROJ's copy of the EPSG registry") {
    for_positions(60, -80.0, 84.0, [](LatLon position) {
        const int code = utm_epsg(position);
        PJ* crs = proj_create(PJ_DEFAULT_CTX, fmt::format("EPSG:{}", code).c_str());
        REQUIRE(crs != nullptr);
        const std::string name = proj_get_name(crs);
        proj_destroy(crs);
        CHECK(name == fmt::format("WGS 84 / UTM zone {}{}", utm_zone(position),
                                  position.lat_deg < 0.0 ? 'S' : 'N'));
    });
}

TEST_CASE("UTM is refused toward the poles") {
    CHECK(utm_epsg({-80.0, 0.0}) == 32731);
    CHECK(utm_epsg({83.9999, 0.0}) == 32631);
    CHECK(format_utm({-80.0, 3.0}).substr(0, 3) == "31C");
    for (const LatLon position : {LatLon{84.0, 0.0}, {90.0, 0.0}, {-80.001, 0.0}, {-90.0, 0.0}}) {
        CAPTURE(position.lat_deg);
        CHECK_THAT(refusal([&] { return utm_epsg(position); }), Contains("80 S to 84 N"));
        CHECK_THAT(refusal([&] { return format_utm(position); }), Contains("80 S to 84 N"));
    }
}

TEST_CASE("A locale with decimal commas changes nothing in positions") {
    const CommaLocale comma;
    check_reads("36.6012,-84.2034", {36.6012, -84.2034});
    CHECK(format_decimal({36.6012, -84.2034}) == "36.60120, -84.20340");
    CHECK(format_dms({36.5, -84.5}) == "36\u00B030'00.0\"N 84\u00B030'00.0\"W");
}

// By hand (IARU Region 1): F 5 x 20 and N 13 x 10 degrees from 180 W and 90 S, 3 x 2 and 1 x 1
// degrees, p 15 x 5 and r 17 x 2.5 minutes, then tenths and twenty-fourths of those; the middle.
TEST_CASE("Maidenhead locators are read") {
    const LatLon six = parse_position("FN31pr");
    CHECK(six.lat_deg == Approx(41.0 + (17 * 2.5 + 1.25) / 60.0).epsilon(1e-12));
    CHECK(six.lon_deg == Approx(-74.0 + (15 * 5 + 2.5) / 60.0).epsilon(1e-12));
    const LatLon eight = parse_position(" fn31PR47 ");
    CHECK(eight.lat_deg == Approx(41.0 + (17 * 2.5 + 7.5 * 0.25) / 60.0).epsilon(1e-12));
    CHECK(eight.lon_deg == Approx(-74.0 + (15 * 5 + 4.5 * 0.5) / 60.0).epsilon(1e-12));
    const LatLon ten = parse_position("FN31pr47ax");
    CHECK(ten.lat_deg ==
          Approx(41.0 + (17 * 2.5 + 7 * 0.25 + 23.5 * 0.25 / 24) / 60.0).epsilon(1e-12));
    CHECK(parse_position("AA00aa").lat_deg == Approx(-90.0 + 1.25 / 60.0));
    CHECK(parse_position("RR99xx").lon_deg == Approx(180.0 - 2.5 / 60.0));
    CHECK_THAT(refused("FN31"), Contains("100 km") && Contains("six or more"));
    (void)refused("SN31pr");
    (void)refused("FN31yr");
    CHECK_THAT(coarseness("FN31pr"), Contains("4.6 km") && Contains("41.72917, -72.70833"));
    CHECK(coarseness("FN31pr47").empty());
    CHECK(coarseness("36.6, -84.2").empty());
}

// GeographicLib makes the square; without its zone it must lead back, from across the edges of
// zones and bands too.
TEST_CASE("MGRS without its zone is the square that is near") {
    for_positions(200, -79.0, 83.0, [](LatLon position) {
        int zone = 0;
        bool north = true;
        double x_m = 0.0;
        double y_m = 0.0;
        UTMUPS::Forward(position.lat_deg, position.lon_deg, zone, north, x_m, y_m);
        std::string square;
        MGRS::Forward(zone, north, x_m, y_m, position.lat_deg, 5, square);
        const std::string bare = square.substr(square.size() - 12);
        CAPTURE(square);
        const LatLon near = geodesic_destination(position, position.lon_deg + 180.0, 40e3);
        const LatLon read = parse_position(bare, near);
        CHECK(geodesic_between(read, position).distance_m < 1.0);
        CHECK_THAT(refused(bare), Contains("without its zone"));
    });
    CHECK_THROWS_WITH(parse_position("XV7412028980", LatLon{52.0, 17.5}),
                      Contains("no square of that name near"));
}
