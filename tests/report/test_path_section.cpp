#include "earshot/propagation/path_loss.hpp"
#include "report/draw/path_section.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>

namespace earshot::report {
namespace {

/// A path over given heights at even distances; nothing in it is predicted.
link::TwoWayPath bare_path(double length_km, const std::vector<double>& ground_m,
                           double antenna_m) {
    link::TwoWayPath path;
    path.a.name = "Ombrel Mill";
    path.b.name = "Quorrel";
    path.a.antenna_height_m = path.b.antenna_height_m = antenna_m;
    path.conditions.method = propagation::Method::bullington;
    path.conditions.frequency_mhz = 146.0;
    path.conditions.k_factor = 4.0 / 3.0;
    for (std::size_t k = 0; k < ground_m.size(); ++k) {
        path.profile.distance_km.push_back(length_km * static_cast<double>(k) /
                                           static_cast<double>(ground_m.size() - 1));
        path.profile.ground_m.push_back(ground_m[k]);
        path.profile.cover_m.push_back(0.0);
    }
    return path;
}

TEST_CASE("section: the earth bends level ground as the textbook has it") {
    // d1 d2 / (2 k a) with a = 6371 km: 30 000 m x 30 000 m / (2 x 4/3 x 6 371 000 m) = 52.97 m in
    // the middle of 60 km, and 10 x 50 / (2 x 4/3 x 6.371) = 29.43 m a sixth of the way along.
    const PathSection section = path_section(bare_path(60.0, std::vector<double>(61, 0.0), 100.0));
    CHECK(section.greatest_bulge_m == Approx(52.97).margin(0.01));
    CHECK(section.points[30].sea_m == Approx(52.97).margin(0.01));
    CHECK(section.points[30].ground_m == Approx(52.97).margin(0.01));
    CHECK(section.points[10].sea_m == Approx(29.43).margin(0.01));
    CHECK(section.points.front().sea_m == 0.0);
    CHECK(section.points.back().sea_m == Approx(0.0).margin(1e-9));
}

TEST_CASE("section: the first Fresnel zone") {
    // ITU-R P.530-17 section 2.2.1 (from memory): F1 = 17.3 sqrt(d1 d2 / (f d)) m, f in GHz,
    // distances in km; its factor is rounded to three figures.
    const PathSection section = path_section(bare_path(10.0, std::vector<double>(11, 0.0), 50.0));
    CHECK(section.points[5].fresnel_m ==
          Approx(17.3 * std::sqrt(5.0 * 5.0 / (0.146 * 10.0))).epsilon(0.002));
    CHECK(section.points[2].fresnel_m ==
          Approx(17.3 * std::sqrt(2.0 * 8.0 / (0.146 * 10.0))).epsilon(0.002));
    CHECK(section.points.front().fresnel_m == 0.0);
}

TEST_CASE("section: edges are the ground that a string would bend over") {
    std::vector<double> ground(101, 0.0);
    ground[30] = 80.0;
    ground[70] = 120.0;
    ground[50] = 60.0; // lies under the string between the other two
    const PathSection section = path_section(bare_path(10.0, ground, 2.0));
    REQUIRE(section.edges.size() == 2);
    CHECK(section.edges[0].distance_km == Approx(3.0));
    CHECK(section.edges[1].distance_km == Approx(7.0));
    // 120 m of ground and d1 d2 / (2 k a) = 7 x 3 / (2 x 4/3 x 6.371) = 1.24 m, over a line at 2 m.
    CHECK(section.edges[1].above_line_m == Approx(119.24).margin(0.01));
    CHECK(section.edges[1].height_m == Approx(121.24).margin(0.01));
}

TEST_CASE("section: a clear path shows where the ground comes nearest") {
    std::vector<double> ground(101, 0.0);
    ground[40] = 30.0;
    const PathSection section = path_section(bare_path(10.0, ground, 60.0));
    REQUIRE(section.edges.size() == 1);
    CHECK(section.edges[0].distance_km == Approx(4.0));
    // 60 - 30 - 4 x 6 / (2 x 4/3 x 6.371) = 28.59 m below the line; F1 there is
    // 17.3 sqrt(4 x 6 / (0.146 x 10)) = 70.1 m (ITU-R P.530-17), so 0.408 of it.
    CHECK(section.edges[0].above_line_m == Approx(-28.59).margin(0.01));
    CHECK(section.edges[0].clearance_f1 == Approx(0.408).margin(0.002));
}

TEST_CASE("section: trees around a terminal are no edge, trees between are") {
    link::TwoWayPath path = bare_path(2.0, std::vector<double>(201, 0.0), 2.0);
    path.profile.woodland.assign(201, 0);
    const auto plant = [&](std::size_t first, std::size_t last) {
        for (std::size_t k = first; k <= last; ++k) {
            path.profile.cover_m[k] = 15.0;
            path.profile.woodland[k] = 1;
        }
    };
    plant(0, 20);
    plant(100, 100);
    const PathSection section = path_section(path);
    REQUIRE_FALSE(section.edges.empty());
    for (const SectionEdge& edge : section.edges) {
        CHECK(edge.distance_km == Approx(1.0));
    }
    CHECK(section.points[10].top_m - section.points[10].ground_m == Approx(15.0));
    CHECK(section.points[10].woodland);
}

TEST_CASE("section: no more edges than asked for, and none between near ends") {
    std::vector<double> ground(201, 0.0);
    for (std::size_t k = 5; k < 200; k += 10) {
        ground[k] = 50.0 - 0.004 * std::pow(static_cast<double>(k) - 100.0, 2.0);
    }
    CHECK(path_section(bare_path(20.0, ground, 2.0), 4).edges.size() == 4);
    CHECK(path_section(bare_path(0.1, {0.0, 0.0}, 2.0)).edges.empty());
}

TEST_CASE("ticks stand at round numbers, and not too many") {
    for (const double length : {0.31, 0.5, 1.0, 6.2, 9.92, 37.0, 60.0, 1234.0}) {
        for (const int most : {3, 6, 10}) {
            const double step = tick_step(length, most);
            CAPTURE(length, most, step);
            CHECK(length / step <= most);
            CHECK(length / step > most / 2.6); // the next finer one would be too fine
            const double digit = step / std::pow(10.0, std::floor(std::log10(step) + 1e-9));
            CHECK((digit == Approx(1.0) || digit == Approx(2.0) || digit == Approx(5.0)));
        }
    }
}

TEST_CASE("flags do not cover one another, wherever the edges are") {
    const std::vector<std::vector<double>> places{{100.0, 104.0, 110.0, 118.0, 131.0},
                                                  {50.0, 52.0, 548.0, 550.0},
                                                  {300.0},
                                                  {60.0, 180.0, 300.0, 420.0},
                                                  {500.0, 520.0, 530.0, 540.0, 549.0}};
    for (const std::vector<double>& xs : places) {
        std::vector<Flag> flags;
        for (const double x : xs) {
            flags.push_back({x, 130.0, 0, false});
        }
        REQUIRE(place_flags(flags, static_cast<int>(flags.size()), 50.0, 550.0));
        for (std::size_t a = 0; a < flags.size(); ++a) {
            // The text stands 4 points beside its pole.
            const auto left = [](const Flag& flag) {
                return flag.left ? flag.x - flag.width : flag.x + 4.0;
            };
            const auto right = [](const Flag& flag) {
                return flag.left ? flag.x - 4.0 : flag.x + flag.width;
            };
            CAPTURE(xs, a);
            CHECK(left(flags[a]) >= 50.0);
            CHECK(right(flags[a]) <= 550.0);
            CHECK(flags[a].row >= 0);
            for (std::size_t b = 0; b < flags.size(); ++b) {
                if (a == b) {
                    continue;
                }
                const bool apart =
                    right(flags[a]) <= left(flags[b]) || right(flags[b]) <= left(flags[a]);
                CHECK((flags[a].row != flags[b].row || apart));
                // A pole runs down from its own row past all lower ones.
                const bool passes = flags[a].row < flags[b].row && flags[a].x > left(flags[b]) &&
                                    flags[a].x < right(flags[b]);
                CHECK_FALSE(passes);
            }
        }
    }
}

TEST_CASE("flags that cannot all be placed are reported") {
    // Each text reaches over the next pole to either side, and the last has no room to the right.
    std::vector<Flag> flags;
    for (const double x : {60.0, 180.0, 300.0, 420.0, 540.0}) {
        flags.push_back({x, 130.0, 0, false});
    }
    CHECK_FALSE(place_flags(flags, 5, 50.0, 550.0));
}

} // namespace
} // namespace earshot::report
