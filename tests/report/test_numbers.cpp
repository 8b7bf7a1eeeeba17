#include "geo/units.hpp"
#include "link/quality.hpp"
#include "report/say/numbers.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <limits>
#include <string>
#include <vector>

namespace earshot::report {

TEST_CASE("margins are rounded to the nearest, and stay on their side of every limit") {
    // By hand; classes begin at -6, -3, 0, 6 and 16 dB (docs/woods-and-noise.md).
    struct Case {
        double margin_db;
        std::string whole, tenth;
    };
    const std::vector<Case> cases{
        {1.9, "+2", "+1.9"},   {2.5, "+3", "+2.5"},    {-1.5, "-2", "-1.5"},
        {0.04, "+0", "+0.0"},  {-0.04, "-1", "-0.1"},  {-0.4, "-1", "-0.4"},
        {5.96, "+5", "+5.9"},  {15.6, "+15", "+15.6"}, {-3.04, "-4", "-3.1"},
        {-2.96, "-3", "-3.0"}, {16.0, "+16", "+16.0"},
    };
    for (const Case& known : cases) {
        CHECK(margin_number(known.margin_db) == known.whole);
        CHECK(margin_text(known.margin_db, 1) == known.tenth + " dB");
    }
    CHECK(margin_number(9.7, 0, 10.0) == "+9");
    CHECK(margin_number(3.4, 0, 3.3) == "+4");
    CHECK(margin_text(std::numeric_limits<double>::quiet_NaN()) == "?");
}

TEST_CASE("a margin as it is shown has the readability of the margin itself") {
    for (const int decimals : {0, 1, 2}) {
        for (int step = -20000; step <= 40000; ++step) {
            const double margin_db = 0.001 * step;
            const double shown_db = shown_margin_db(margin_db, decimals);
            if (link::readability(shown_db).readability !=
                link::readability(margin_db).readability) {
                FAIL(margin_db << " dB is shown as " << shown_db);
            }
            if (std::abs(shown_db - margin_db) >= std::pow(10.0, -decimals)) {
                FAIL(margin_db << " dB is shown as " << shown_db);
            }
        }
    }
}

TEST_CASE("one system of units, and 6 ft are 6 ft") {
    geo::set_units(geo::Units::imperial);
    CHECK(height_text(1.8288) == "6 ft");
    CHECK(height_text(1.5) == "4.9 ft");
    CHECK(height_text(30.48) == "100 ft");
    CHECK(geo::format_distance(1.8288) == "6 ft");
    CHECK(geo::format_distance(250.0) == "820 ft");
    CHECK(geo::format_distance(9917.0) == "6.16 mi");
    CHECK(area_text(2.589988110336) == "1.0 mi2");
    geo::set_units(geo::Units::metric);
    CHECK(height_text(1.8288) == "1.8 m");
    CHECK(geo::format_distance(9917.0) == "9.92 km");
    CHECK(geo::direction_words(47.4) == "north-east (47 deg)");
    CHECK(geo::direction_words(359.7) == "north (0 deg)");
}

TEST_CASE("chances are never certain, and nobody is short of nothing") {
    CHECK(chance_text(0.4) == "under 1 %");
    CHECK(chance_text(0.5) == "1 %");
    CHECK(chance_text(83.5) == "84 %");
    CHECK(chance_text(99.4) == "99 %");
    CHECK(chance_text(99.5) == "over 99 %");
    CHECK(short_chance_text(0.4) == "<1 %");
    CHECK(short_chance_text(100.0) == ">99 %");
    CHECK(short_text(-0.04) == "1 dB");
    CHECK(short_text(5.96, 6.0) == "1 dB");
    CHECK(short_text(-7.5) == "8 dB");
    CHECK(gain_text(-0.04) == "+0.0 dB");
    CHECK(gain_text(1.25) == "+1.3 dB");
}

} // namespace earshot::report
