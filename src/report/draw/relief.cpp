#include "report/draw/relief.hpp"

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

/// NaN if the cell itself is not known; unknown neighbours count as level with it.
Slope slope_at(const ReliefGrid& grid, int column, int row) {
    const float here = grid.height_m[grid.index(column, row)];
    const int west = std::max(column - 1, 0);
    const int east = std::min(column + 1, grid.columns - 1);
    const int north = std::max(row - 1, 0);
    const int south = std::min(row + 1, grid.rows - 1);
    const auto height = [&](int c, int r) {
        const float value = grid.height_m[grid.index(c, r)];
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

constexpr float nan = std::numeric_limits<float>::quiet_NaN();

double mix(double from, double to, double share) {
    return from + (to - from) * share;
}

/// Where places of the map lie on the ground grid. The exact way (through both coordinate systems)
/// is slow, so it is walked at the knots of a net and interpolated between them: with knots
/// 1/64 of the map apart, the bend of a map projection between two of them is far below a cell.
class GroundFinder {
public:
    GroundFinder(const coverage::CoverageRaster& map, const terrain::HeightGrid& ground) {
        for (int v = 0; v <= knots; ++v) {
            for (int u = 0; u <= knots; ++u) {
                cells_.push_back(ground.georeference.cell_of(map.georeference.position_of(
                    {map.columns * static_cast<double>(u) / knots - 0.5,
                     map.rows * static_cast<double>(v) / knots - 0.5})));
            }
        }
    }

    /// (0, 0) is the upper left corner of the map and (1, 1) the lower right.
    [[nodiscard]] terrain::CellPosition at(double u, double v) const {
        const double x = u * knots;
        const double y = v * knots;
        const int left = std::clamp(static_cast<int>(x), 0, knots - 1);
        const int top = std::clamp(static_cast<int>(y), 0, knots - 1);
        const auto knot = [&](int column, int row) -> const terrain::CellPosition& {
            return cells_[static_cast<std::size_t>(row) * (knots + 1) +
                          static_cast<std::size_t>(column)];
        };
        const auto blend = [&](auto part) {
            return mix(mix(part(knot(left, top)), part(knot(left + 1, top)), x - left),
                       mix(part(knot(left, top + 1)), part(knot(left + 1, top + 1)), x - left),
                       y - top);
        };
        return {blend([](const terrain::CellPosition& cell) { return cell.column; }),
                blend([](const terrain::CellPosition& cell) { return cell.row; })};
    }

    /// Ground cells across and down the whole map, about.
    [[nodiscard]] terrain::CellPosition extent() const {
        const terrain::CellPosition a = at(0.0, 0.5), b = at(1.0, 0.5);
        const terrain::CellPosition c = at(0.5, 0.0), d = at(0.5, 1.0);
        return {std::hypot(b.column - a.column, b.row - a.row),
                std::hypot(d.column - c.column, d.row - c.row)};
    }

private:
    static constexpr int knots = 64;
    std::vector<terrain::CellPosition> cells_;
};

int steps_for(double ground_cells, int pixels) {
    return std::isfinite(ground_cells)
               ? std::clamp(static_cast<int>(std::ceil(ground_cells)), 2, pixels)
               : 2;
}

/// Mean of heights spread over a cell, so that fine terrain does not turn into noise in a small
/// picture.
float mean_height(const terrain::HeightGrid& ground, const GroundFinder& finder, double u, double v,
                  double du, double dv, int samples) {
    double sum = 0.0;
    int known = 0;
    for (int j = 0; j < samples; ++j) {
        for (int i = 0; i < samples; ++i) {
            const double height = ground.sample(
                finder.at(u + du * (i + 0.5) / samples, v + dv * (j + 0.5) / samples));
            if (!std::isnan(height)) {
                sum += height;
                ++known;
            }
        }
    }
    return known == 0 ? nan : static_cast<float>(sum / known);
}

/// Mean of the known ones of four values, by their weights.
class KnownMean {
public:
    void add(float value, double weight) {
        if (!std::isnan(value)) {
            sum_ += weight * static_cast<double>(value);
            weight_ += weight;
        }
    }
    [[nodiscard]] float value() const {
        return weight_ < 0.5 ? nan : static_cast<float>(sum_ / weight_);
    }

private:
    double sum_ = 0.0;
    double weight_ = 0.0;
};

} // namespace

std::vector<float> hillshade(const ReliefGrid& grid, double exaggeration) {
    std::vector<float> shade;
    shade.reserve(grid.height_m.size());
    for (int row = 0; row < grid.rows; ++row) {
        for (int column = 0; column < grid.columns; ++column) {
            if (std::isnan(grid.height_m[grid.index(column, row)])) {
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
            if (!std::isnan(grid.height_m[grid.index(column, row)])) {
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

terrain::Georeference::CellSize middle_cell_size(const coverage::CoverageRaster& map) {
    return map.georeference.cell_size_at(
        map.georeference.position_of({(map.columns - 1) / 2.0, (map.rows - 1) / 2.0}));
}

ReliefGrid heights_under(const coverage::CoverageRaster& map, const terrain::HeightGrid& ground,
                         int width_px, int height_px) {
    constexpr int most_samples = 4;
    const GroundFinder finder(map, ground);
    const terrain::CellPosition extent = finder.extent();
    ReliefGrid grid;
    grid.columns = steps_for(extent.column, width_px);
    grid.rows = steps_for(extent.row, height_px);
    const auto cell = middle_cell_size(map);
    grid.cell_across_m = cell.across_m * map.columns / grid.columns;
    grid.cell_down_m = cell.down_m * map.rows / grid.rows;
    const double cells_per_step = std::max(extent.column / grid.columns, extent.row / grid.rows);
    const int samples =
        std::isfinite(cells_per_step)
            ? std::clamp(static_cast<int>(std::lround(cells_per_step)), 1, most_samples)
            : 1;
    grid.height_m.reserve(static_cast<std::size_t>(grid.columns) *
                          static_cast<std::size_t>(grid.rows));
    const double du = 1.0 / grid.columns;
    const double dv = 1.0 / grid.rows;
    for (int row = 0; row < grid.rows; ++row) {
        for (int column = 0; column < grid.columns; ++column) {
            grid.height_m.push_back(
                mean_height(ground, finder, column * du, row * dv, du, dv, samples));
        }
    }
    return grid;
}

std::vector<float> relief_under(const coverage::CoverageRaster& map,
                                const terrain::HeightGrid& ground, int width_px, int height_px) {
    const ReliefGrid grid = heights_under(map, ground, width_px, height_px);
    const std::vector<float> shade = hillshade(grid, fitted_exaggeration(grid));
    const auto at = [&](int column, int row) { return shade[grid.index(column, row)]; };
    std::vector<float> pixels;
    pixels.reserve(static_cast<std::size_t>(width_px) * static_cast<std::size_t>(height_px));
    for (int j = 0; j < height_px; ++j) {
        const double y = std::clamp((j + 0.5) * grid.rows / height_px - 0.5, 0.0, grid.rows - 1.0);
        const int top = std::min(static_cast<int>(y), grid.rows - 2);
        const double down = y - top;
        for (int i = 0; i < width_px; ++i) {
            const double x =
                std::clamp((i + 0.5) * grid.columns / width_px - 0.5, 0.0, grid.columns - 1.0);
            const int left = std::min(static_cast<int>(x), grid.columns - 2);
            const double across = x - left;
            KnownMean mean;
            mean.add(at(left, top), (1.0 - across) * (1.0 - down));
            mean.add(at(left + 1, top), across * (1.0 - down));
            mean.add(at(left, top + 1), (1.0 - across) * down);
            mean.add(at(left + 1, top + 1), across * down);
            pixels.push_back(mean.value());
        }
    }
    return pixels;
}

} // namespace earshot::report
