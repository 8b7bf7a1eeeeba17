#include "coverage/engine/block_tops.hpp"

#include <catch2/catch.hpp>

#include <random>
#include <vector>

using earshot::coverage::BlockTops;

TEST_CASE("a search by blocks finds what a walk over all points finds", "[blocks]") {
    std::mt19937 random(11);
    std::uniform_real_distribution<double> height(0.0, 100.0);
    BlockTops tops;
    std::vector<double> heights;
    for (int i = 0; i < 1500; ++i) {
        heights.push_back(height(random));
    }
    tops.fill(heights.size(), [&](std::size_t i) { return heights[i]; });
    for (int trial = 0; trial < 200; ++trial) {
        std::uniform_int_distribution<std::size_t> pick(0, heights.size() - 1);
        std::size_t first = pick(random);
        std::size_t last = pick(random);
        if (first > last) {
            std::swap(first, last);
        }
        double found = -1.0;
        std::size_t visited = 0;
        tops.search(
            first, last, [&](double top, std::size_t, std::size_t) { return top > found; },
            [&](std::size_t i) {
                REQUIRE(i >= first);
                REQUIRE(i <= last);
                ++visited;
                found = std::max(found, tops[i]);
            });
        const double expected =
            *std::max_element(heights.begin() + static_cast<std::ptrdiff_t>(first),
                              heights.begin() + static_cast<std::ptrdiff_t>(last) + 1);
        REQUIRE(found == expected);
        REQUIRE(visited <= last - first + 1);
    }
}
