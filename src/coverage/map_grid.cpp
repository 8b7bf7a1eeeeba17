#include "earshot/coverage/map_grid.hpp"

#include "earshot/base/error.hpp"
#include "earshot/geo/position.hpp"
#include "geo/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace earshot::coverage {
namespace {

/// Corners, in cells of a raster, of the rectangle around a geodesic circle.
struct CellRectangle {
    double left = std::numeric_limits<double>::infinity();
    double top = std::numeric_limits<double>::infinity();
    double right = -std::numeric_limits<double>::infinity();
    double bottom = -std::numeric_limits<double>::infinity();
};

CellRectangle rectangle_around(const terrain::Georeference& georeference,
                               std::span<const geo::LatLon> sites, double range_m) {
    CellRectangle rectangle;
    constexpr int bearings = 72; // every 5 degrees: the circle bulges past a chord by 0.1 %
    for (int k = 0; k < bearings * static_cast<int>(sites.size()); ++k) {
        const geo::LatLon rim = geo::geodesic_destination(
            sites[static_cast<std::size_t>(k / bearings)], 360.0 * k / bearings, range_m);
        const terrain::CellPosition cell = georeference.cell_of(rim);
        rectangle.left = std::min(rectangle.left, cell.column);
        rectangle.right = std::max(rectangle.right, cell.column);
        rectangle.top = std::min(rectangle.top, cell.row);
        rectangle.bottom = std::max(rectangle.bottom, cell.row);
    }
    return rectangle;
}

} // namespace

geo::LatLon MapGrid::centre_of(std::size_t cell) const {
    const auto wide = static_cast<std::size_t>(columns);
    const std::size_t row = cell / wide;
    return georeference.position_of({static_cast<double>(cell % wide), static_cast<double>(row)});
}

MapGrid terrain_map_grid(const terrain::HeightGrid& ground, geo::LatLon site, double range_m) {
    return terrain_map_grid(ground, std::span(&site, 1), range_m);
}

MapGrid terrain_map_grid(const terrain::HeightGrid& ground, std::span<const geo::LatLon> sites,
                         double range_m) {
    const CellRectangle circle = rectangle_around(ground.georeference, sites, range_m);
    const auto clipped = [](double value, int last) {
        return static_cast<int>(std::clamp(value, 0.0, static_cast<double>(last)));
    };
    const int left = clipped(std::floor(circle.left), ground.columns - 1);
    const int right = clipped(std::ceil(circle.right), ground.columns - 1);
    const int top = clipped(std::floor(circle.top), ground.rows - 1);
    const int bottom = clipped(std::ceil(circle.bottom), ground.rows - 1);
    if (circle.right < 0 || circle.bottom < 0 || circle.left > ground.columns - 1 ||
        circle.top > ground.rows - 1) {
        throw_input(fmt::format("no elevation lies within {} of the station; give elevation that "
                                "covers it",
                                geo::format_distance(range_m)));
    }
    return {right - left + 1, bottom - top + 1, ground.georeference.shifted(left, top)};
}

MapGrid utm_map_grid(geo::LatLon site, double range_m, double cell_m) {
    return utm_map_grid(std::span(&site, 1), range_m, cell_m);
}

MapGrid utm_map_grid(std::span<const geo::LatLon> sites, double range_m, double cell_m) {
    const std::string crs = fmt::format("EPSG:{}", geo::utm_epsg(sites.front()));
    // A one-metre reference first, to see where the circle falls in the zone's coordinates.
    const terrain::Georeference metres(crs, 0.0, 0.0, 1.0, -1.0);
    const CellRectangle circle = rectangle_around(metres, sites, range_m);
    const double west = std::floor(circle.left / cell_m) * cell_m;
    const double east = std::ceil(circle.right / cell_m) * cell_m;
    const double north = std::ceil(-circle.top / cell_m) * cell_m;
    const double south = std::floor(-circle.bottom / cell_m) * cell_m;
    const double columns = std::round((east - west) / cell_m);
    const double rows = std::round((north - south) / cell_m);
    if (columns * rows > static_cast<double>(std::numeric_limits<int>::max())) {
        throw_usage(fmt::format("a map of {:.0f} x {:.0f} cells is too large; choose larger cells "
                                "or a shorter range",
                                columns, rows));
    }
    return {static_cast<int>(columns), static_cast<int>(rows),
            terrain::Georeference(crs, west + cell_m / 2, north - cell_m / 2, cell_m, -cell_m)};
}

} // namespace earshot::coverage
