#include "maths/statistics.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

using namespace earshot::maths;

// qt(0.975, c(4, 9, 19)) of R 4.2.2; 1 and 2 degrees of freedom in closed form: tan(0.475 pi),
// and t / sqrt(2 + t^2) = 0.95.
TEST_CASE("intervals are as wide as Student's t") {
    CHECK(student_factor(2) == Approx(std::tan(0.475 * std::numbers::pi)));
    CHECK(student_factor(3) == Approx(0.95 * std::sqrt(2.0 / (1.0 - 0.95 * 0.95))));
    CHECK(student_factor(5) == Approx(2.776445).margin(1e-6));
    CHECK(student_factor(10) == Approx(2.262157).margin(1e-6));
    CHECK(student_factor(20) == Approx(2.093024).margin(1e-6));
}

TEST_CASE("shares have the interval of Wilson") {
    // R 4.2.2, prop.test(x, n, correct = FALSE)$conf.int
    const auto independent = [](std::size_t successes, std::size_t calls) {
        std::vector<std::size_t> won(calls, 0);
        std::fill_n(won.begin(), successes, 1U);
        return share_interval(won, std::vector<std::size_t>(calls, 1));
    };
    CHECK(independent(27, 30).low == Approx(0.7437891742).margin(0.01)); // likewise
    CHECK(independent(27, 30).high == Approx(0.9654001113).margin(0.01));
    CHECK(independent(12, 12).low == Approx(0.7575059933).margin(1e-6));
    CHECK(independent(12, 12).high == 1.0);
    // Ten stops of five calls that all go the same way say no more than ten calls: 8 of 10. The
    // variance over stops counts one stop less, so that it is a little wider.
    std::vector<std::size_t> won(10, 5);
    won[0] = won[1] = 0;
    const Interval clustered = share_interval(won, std::vector<std::size_t>(10, 5));
    CHECK(clustered.low == Approx(0.4901624715).margin(0.02));
    CHECK(clustered.low < 0.4901624715);
    CHECK(clustered.high == Approx(0.9433178485).margin(0.02));
    CHECK(share_interval({}, {}).high == 1.0);
}
