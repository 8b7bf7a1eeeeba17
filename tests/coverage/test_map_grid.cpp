#include "earshot/coverage/map_grid.hpp"
#include "ground.hpp"

#include <catch2/catch.hpp>

#include <cmath>

using namespace earshot;

TEST_CASE("the terrain's own grid is clipped to the range", "[map-grid]") {
    const terrain::HeightGrid ground = test::cumberland();
    const geo::LatLon site{36.60, -84.20};
    const coverage::MapGrid map = coverage::terrain_map_grid(ground, site, 5000.0);
    // 5 km either way at about 74 m and 92 m a cell.
    CHECK(map.columns == Approx(2 * 5000 / 74.6).margin(4));
    CHECK(map.rows == Approx(2 * 5000 / 92.5).margin(4));
    // Its cells are cells of the ground, to the last digit of their place.
    const terrain::CellPosition cell =
        ground.georeference.cell_of(map.georeference.position_of({3.0, 4.0}));
    CHECK(cell.column == Approx(std::round(cell.column)).margin(1e-6));
    CHECK(cell.row == Approx(std::round(cell.row)).margin(1e-6));
    CHECK_THROWS_WITH(coverage::terrain_map_grid(ground, {10.0, 10.0}, 5000.0),
                      Catch::Contains("no elevation lies within"));
}

TEST_CASE("the UTM grid is square, snapped, and holds the circle", "[map-grid]") {
    const geo::LatLon site{36.60, -84.20};
    const coverage::MapGrid map = coverage::utm_map_grid(site, 5000.0, 30.0);
    CHECK(map.georeference.crs_label() == "EPSG:32616");
    CHECK(std::fmod(map.georeference.x0() - 15.0, 30.0) == Approx(0.0).margin(1e-6));
    CHECK(map.georeference.dx() == 30.0);
    for (const double bearing_deg : {0.0, 45.0, 90.0, 200.0, 315.0}) {
        const terrain::CellPosition rim =
            map.georeference.cell_of(geo::geodesic_destination(site, bearing_deg, 5000.0));
        CHECK(rim.column >= -0.5);
        CHECK(rim.row >= -0.5);
        CHECK(rim.column <= map.columns - 0.5);
        CHECK(rim.row <= map.rows - 0.5);
    }
    CHECK_THROWS_WITH(coverage::utm_map_grid(site, 1e6, 0.5), Catch::Contains("too large"));
}
