#include "earshot/base/error.hpp"
#include "link/quality.hpp"
#include "maths/statistics.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <limits>

using namespace earshot;
using namespace earshot::link;

TEST_CASE("chance of contact") {
    // One deviation of margin: 84.13 percent (Abramowitz and Stegun, table 26.1).
    CHECK(chance_percent(5.5, 5.5) == Approx(84.1344746));
    CHECK(chance_percent(-5.5, 5.5) == Approx(15.8655254));
    CHECK(chance_percent(0.0, 5.5) == 50.0);
    CHECK(chance_percent(0.0, 0.0) == 50.0);
    CHECK(chance_percent(0.1, 0.0) == 100.0);
    CHECK(chance_percent(-0.1, 0.0) == 0.0);
    CHECK(std::isnan(chance_percent(NAN, 5.5)));
    CHECK_THROWS_AS(chance_percent(1.0, -1.0), Error);
    CHECK_THROWS_AS(chance_percent(1.0, NAN), Error);
}

TEST_CASE("chance of contact: margin for a wanted chance") {
    // ITU-R P.1546-6 annex 5 section 12 for 95 percent of places with 5.5 dB: 9 dB.
    CHECK(chance_percent(9.05, 5.5) == Approx(95.0).margin(0.02));
    for (const double percent : {1.0, 20.0, 50.0, 90.0, 99.9}) {
        CHECK(chance_percent(7.3 * maths::normal_quantile(percent / 100.0), 7.3) ==
              Approx(percent));
    }
    CHECK_THROWS_AS(maths::normal_quantile(1.0), Error);
    CHECK_THROWS_AS(chance_percent(9.05, -1.0), Error);
}

TEST_CASE("deviations: independent ones add as squares") {
    CHECK(Deviations{3.0, 4.0, 0.0}.combined_db() == Approx(5.0));
    CHECK(Deviations{2.0, 3.0, 6.0}.combined_db() == Approx(7.0));
    CHECK_THROWS_AS((Deviations{-1.0, 4.0, 0.0}.combined_db()), Error);
    CHECK_THROWS_AS((Deviations{1.0, 4.0, NAN}.combined_db()), Error);
}

TEST_CASE("deviations: places, ITU-R P.1546-6 annex 5 section 12, by hand") {
    // K + 1.3 log10 f with f = 100 and 1000 MHz.
    CHECK(location_deviation_p1546_db(Surroundings::rural, 100.0) == Approx(3.1));
    CHECK(location_deviation_p1546_db(Surroundings::rooftop, 100.0) == Approx(3.6));
    CHECK(location_deviation_p1546_db(Surroundings::built_up, 1000.0) == Approx(5.1));
    CHECK_THROWS_AS(location_deviation_p1546_db(Surroundings::rural, 20.0), Error);
}

TEST_CASE("deviations: time") {
    // 1.2816 deviations lie between half of the time and 10 percent of it (A&S table 26.5).
    CHECK(time_deviation_db(141.2816, 140.0) == Approx(1.0).epsilon(1e-4));
    CHECK(time_deviation_db(140.0, 140.0) == 0.0);
    CHECK_THROWS_AS(time_deviation_db(140.0, 141.0), Error);
}

TEST_CASE("readability: classes") {
    const auto classes = readability_classes();
    REQUIRE(classes.size() == 6);
    for (std::size_t k = 0; k < classes.size(); ++k) {
        CHECK(static_cast<std::size_t>(classes[k].readability) == k);
        CHECK_FALSE(classes[k].name.empty());
        if (k > 0) {
            CHECK(classes[k].least_margin_db > classes[k - 1].least_margin_db);
            // The lower limit belongs to the class.
            CHECK(&readability(classes[k].least_margin_db) == &classes[k]);
            CHECK(&readability(std::nextafter(classes[k].least_margin_db, -1e9)) ==
                  &classes[k - 1]);
        }
    }
    // 12 dB SINAD is the margin 0 from which speech counts as readable.
    CHECK(readability(0.0).readability == Readability::with_effort);
    CHECK(readability(-0.01).readability == Readability::some_words);
    CHECK(readability(-40.0).readability == Readability::nothing);
    CHECK(readability(40.0).readability == Readability::clear);
    CHECK(readability(NAN).readability == Readability::nothing);
    CHECK(readability(-std::numeric_limits<double>::infinity()).readability ==
          Readability::nothing);
}

TEST_CASE("a contact is to be tried first where two models would answer otherwise", "[quality]") {
    CHECK_FALSE(link::try_first(30.0, 5.0));
    CHECK_FALSE(link::try_first(30.0, -5.0));
    CHECK(link::try_first(3.0, 5.0));   // the second does not hear it
    CHECK(link::try_first(-3.0, -5.0)); // only the second does
    CHECK(link::try_first(30.0, 25.0)); // both do, far apart
    CHECK(link::try_first(30.0, -25.0));
    CHECK_FALSE(link::try_first(-60.0, 25.0)); // neither does, however far apart
    CHECK(link::try_first(12.0, 5.0, 10.0));   // by the margin wanted
    CHECK_FALSE(link::try_first(3.0, std::nan("")));
    CHECK_FALSE(link::try_first(std::nan(""), std::nan("")));
}
