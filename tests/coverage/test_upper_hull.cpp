#include "coverage/engine/upper_hull.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <limits>
#include <random>
#include <vector>

using earshot::coverage::UpperHull;

TEST_CASE("hull queries agree with looking at every point", "[hull]") {
    std::mt19937 random(7);
    std::normal_distribution<double> step(0.0, 5.0);
    UpperHull hull;
    UpperHull::Hint touch_hint;
    UpperHull::Hint top_hint;
    std::vector<double> heights;
    double height = 0.0;
    for (int i = 0; i < 400; ++i) {
        height += step(random);
        heights.push_back(height);
        hull.push(i, height, static_cast<std::size_t>(i));
        const double from_x = i + 0.7;
        const double from_y = height + 2.0 + step(random);
        const double slope = step(random) / 10.0;
        double steepest = -std::numeric_limits<double>::infinity();
        double highest = steepest;
        for (std::size_t k = 0; k < heights.size(); ++k) {
            const auto x = static_cast<double>(k);
            steepest = std::max(steepest, (heights[k] - from_y) / (from_x - x));
            highest = std::max(highest, heights[k] - slope * x);
        }
        const auto& touch = hull.tangent_from(from_x, from_y, touch_hint);
        REQUIRE((touch.y - from_y) / (from_x - touch.x) == Approx(steepest));
        const auto& top = hull.highest_above(slope, top_hint);
        REQUIRE(top.y - slope * top.x == Approx(highest));
        REQUIRE(heights[top.index] == top.y);
    }
}
