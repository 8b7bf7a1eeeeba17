#include "earshot/base/error.hpp"
#include "maths/statistics.hpp"

#include <catch2/catch.hpp>

#include <cmath>

using namespace earshot;
using namespace earshot::maths;

TEST_CASE("normal distribution: Abramowitz and Stegun, table 26.1") {
    CHECK(normal_probability(0.0) == 0.5);
    CHECK(normal_probability(0.5) == Approx(0.691462461274013).epsilon(1e-14));
    CHECK(normal_probability(1.0) == Approx(0.841344746068543).epsilon(1e-14));
    CHECK(normal_probability(2.0) == Approx(0.977249868051821).epsilon(1e-14));
    CHECK(normal_probability(3.0) == Approx(0.998650101968370).epsilon(1e-14));
    CHECK(normal_probability(-1.0) == Approx(1.0 - 0.841344746068543).epsilon(1e-14));
    // Table 26.2: -log10 Q(10) = 23.11805.
    CHECK(-std::log10(normal_probability(-10.0)) == Approx(23.11805).margin(5e-6));
}

TEST_CASE("normal quantile: Abramowitz and Stegun, tables 26.5 and 26.6") {
    CHECK(normal_quantile(0.5) == Approx(0.0).margin(1e-15));
    CHECK(normal_quantile(0.75) == Approx(0.67448975).margin(5e-9));
    CHECK(normal_quantile(0.9) == Approx(1.2815515655).margin(1e-9));
    CHECK(normal_quantile(0.95) == Approx(1.6448536270).margin(1e-9));
    CHECK(normal_quantile(0.99) == Approx(2.3263478740).margin(1e-9));
    CHECK(normal_quantile(0.999) == Approx(3.0902323062).margin(1e-9));
    CHECK(normal_quantile(0.1) == Approx(-1.2815515655).margin(1e-9));
    // Table 26.2: -log10 Q(20) = 88.56010, -log10 Q(7) = 11.89285.
    CHECK(normal_quantile(std::pow(10.0, -88.56010)) == Approx(-20.0).margin(2e-6));
    CHECK(normal_quantile(std::pow(10.0, -11.89285)) == Approx(-7.0).margin(2e-6));
}

TEST_CASE("normal quantile: undoes the distribution") {
    for (int step = -112; step <= 112; ++step) {
        const double x = step / 16.0;
        // Above 0 a double near 1 has no digits left for the tail.
        const double tolerance = x <= 0.0 ? 1e-12 : 1e-12 + 2e-16 * std::exp(0.5 * x * x) * 2.6;
        CHECK(normal_quantile(normal_probability(x)) == Approx(x).margin(tolerance));
    }
    CHECK_THROWS_AS(normal_quantile(0.0), Error);
    CHECK_THROWS_AS(normal_quantile(1.0), Error);
    CHECK_THROWS_AS(normal_quantile(NAN), Error);
}
