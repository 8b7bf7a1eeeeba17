#include "report/draw/relief.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <limits>
#include <numbers>

namespace earshot::report {
namespace {

/// A plane that rises by these metres per metre.
ReliefGrid plane(double rise_east, double rise_north) {
    ReliefGrid grid{20, 16, 30.0, 20.0, {}};
    for (int row = 0; row < grid.rows; ++row) {
        for (int column = 0; column < grid.columns; ++column) {
            grid.height_m.push_back(static_cast<float>(rise_east * column * grid.cell_across_m -
                                                       rise_north * row * grid.cell_down_m));
        }
    }
    return grid;
}

/// Lambert's law: cosine of the angle between the plane's normal and the light, 45 degrees up.
double lambert(double rise_east, double rise_north, double azimuth_deg) {
    const double azimuth = azimuth_deg * std::numbers::pi / 180.0;
    const double half = std::sqrt(0.5);
    const double normal = std::sqrt(rise_east * rise_east + rise_north * rise_north + 1.0);
    return std::max(0.0, (-rise_east * half * std::sin(azimuth) -
                          rise_north * half * std::cos(azimuth) + half) /
                             normal);
}

TEST_CASE("level ground has the level brightness") {
    for (const float shade : hillshade(plane(0.0, 0.0), 3.0)) {
        CHECK(static_cast<double>(shade) == Approx(level_shade));
    }
}

TEST_CASE("planes are lit by Lambert's law from three lights") {
    for (const auto& [east, north] : {std::pair{0.2, 0.1}, {-0.4, 0.3}, {0.5, -0.9}, {-3.0, 2.0}}) {
        const double expected = 0.6 * lambert(east, north, 315.0) +
                                0.2 * lambert(east, north, 270.0) + 0.2 * lambert(east, north, 0.0);
        for (const float shade : hillshade(plane(east / 2.0, north / 2.0), 2.0)) {
            CHECK(static_cast<double>(shade) == Approx(expected).margin(1e-4));
        }
    }
}

TEST_CASE("slopes toward the north-west are bright, their backs dark") {
    // What rises toward the south-east faces the north-west.
    const auto toward = static_cast<double>(hillshade(plane(0.2, -0.2), 1.0).front());
    const auto away = static_cast<double>(hillshade(plane(-0.2, 0.2), 1.0).front());
    CHECK(toward > level_shade);
    CHECK(away < level_shade);
}

TEST_CASE("voids stay voids and do not spread") {
    ReliefGrid grid = plane(0.1, 0.0);
    grid.height_m[5 * 20 + 7] = std::numeric_limits<float>::quiet_NaN();
    const std::vector<float> shade = hillshade(grid, 1.0);
    for (std::size_t k = 0; k < shade.size(); ++k) {
        CHECK(std::isnan(shade[k]) == (k == 5 * 20 + 7));
    }
}

TEST_CASE("exaggeration fits the relief") {
    // tan 35 degrees = 0.70021
    CHECK(fitted_exaggeration(plane(0.1, 0.0)) == Approx(7.0021).epsilon(1e-3));
    CHECK(fitted_exaggeration(plane(0.6, 0.8)) == Approx(0.70021).epsilon(1e-3));
    CHECK(fitted_exaggeration(plane(0.0, 0.0)) == 12.0);
    CHECK(fitted_exaggeration(plane(5.0, 5.0)) == 0.5);
}

} // namespace
} // namespace earshot::report
