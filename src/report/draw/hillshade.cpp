#include "report/draw/hillshade.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <numbers>

namespace earshot::report {
namespace {

/// Rise in metres per metre toward the east and the north.
struct Slope {
    double east;
    double north;
};

float height_at(const ReliefGrid& grid, int column, int row) {
    return grid.height_m[static_cast<std::size_t>(row) * static_cast<std::size_t>(grid.columns) +
                         static_cast<std::size_t>(column)];
}

/// NaN if the cell itself is not known; unknown neighbours count as level with it.
Slope slope_at(const ReliefGrid& grid, int column, int row) {
    const float here = height_at(grid, column, row);
    const int west = std::max(column - 1, 0);
    const int east = std::min(column + 1, grid.columns - 1);
    const int north = std::max(row - 1, 0);
    const int south = std::min(row + 1, grid.rows - 1);
    const auto height = [&](int c, int r) {
        const float value = height_at(grid, c, r);
        return static_cast<double>(std::isnan(value) ? here : value);
    };
    const double rise_east = (height(east, north) + 2.0 * height(east, row) + height(east, south)) -
                             (height(west, north) + 2.0 * height(west, row) + height(west, south));
    const double rise_north =
        (height(west, north) + 2.0 * height(column, north) + height(east, north)) -
        (height(west, south) + 2.0 * height(column, south) + height(east, south));
    const double run_east_m = 4.0 * std::max(east - west, 1) * grid.cell_across_m;
    const double run_north_m = 4.0 * std::max(south - north, 1) * grid.cell_down_m;
    return {rise_east / run_east_m, rise_north / run_north_m};
}

struct Light {
    double azimuth_deg;
    double share;
};

constexpr std::array<Light, 3> lights{{{315.0, 0.6}, {270.0, 0.2}, {360.0, 0.2}}};

double brightness(Slope slope) {
    const double steepness = std::sqrt(1.0 + slope.east * slope.east + slope.north * slope.north);
    double sum = 0.0;
    for (const Light& light : lights) {
        const double azimuth = light.azimuth_deg * std::numbers::pi / 180.0;
        const double toward_light =
            slope.east * std::sin(azimuth) + slope.north * std::cos(azimuth);
        sum += light.share * std::max(0.0, level_shade * (1.0 - toward_light) / steepness);
    }
    return sum;
}

} // namespace

std::vector<float> hillshade(const ReliefGrid& grid, double exaggeration) {
    std::vector<float> shade;
    shade.reserve(grid.height_m.size());
    for (int row = 0; row < grid.rows; ++row) {
        for (int column = 0; column < grid.columns; ++column) {
            if (std::isnan(height_at(grid, column, row))) {
                shade.push_back(std::numeric_limits<float>::quiet_NaN());
                continue;
            }
            const Slope slope = slope_at(grid, column, row);
            shade.push_back(static_cast<float>(
                brightness({slope.east * exaggeration, slope.north * exaggeration})));
        }
    }
    return shade;
}

double fitted_exaggeration(const ReliefGrid& grid) {
    constexpr double least = 0.5;
    constexpr double most = 12.0;
    constexpr double wanted_deg = 35.0;
    std::vector<double> steepness;
    steepness.reserve(grid.height_m.size());
    for (int row = 0; row < grid.rows; ++row) {
        for (int column = 0; column < grid.columns; ++column) {
            if (!std::isnan(height_at(grid, column, row))) {
                const Slope slope = slope_at(grid, column, row);
                steepness.push_back(std::hypot(slope.east, slope.north));
            }
        }
    }
    if (steepness.empty()) {
        return 1.0;
    }
    const auto steep = steepness.begin() + static_cast<std::ptrdiff_t>(steepness.size() * 9 / 10);
    std::ranges::nth_element(steepness, steep);
    const double wanted = std::tan(wanted_deg * std::numbers::pi / 180.0);
    return *steep > 0.0 ? std::clamp(wanted / *steep, least, most) : most;
}

} // namespace earshot::report
