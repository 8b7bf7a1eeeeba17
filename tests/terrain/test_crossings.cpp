#include "earshot/terrain/profile.hpp"
#include "terrain/profile_sampler.hpp"

#include <GeographicLib/Geodesic.hpp>
#include <GeographicLib/GeodesicLine.hpp>
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <string>
#include <vector>

namespace earshot::terrain {
namespace {

/// Invented ground of random heights from 0 to 500 m, a cell in each of which nothing is like its
/// neighbours.
HeightGrid spiky(const std::string& crs, double x0, double y0, double cell, int columns, int rows) {
    HeightGrid grid;
    grid.columns = columns;
    grid.rows = rows;
    grid.georeference = Georeference(crs, x0, y0, cell, -cell);
    grid.georeference.set_columns(columns);
    std::mt19937 random(5);
    for (int k = 0; k < columns * rows; ++k) {
        grid.height_m.push_back(static_cast<float>(random() % 500));
    }
    return grid;
}

geo::LatLon random_place(const HeightGrid& grid, std::mt19937& random) {
    std::uniform_real_distribution<double> share(0.01, 0.99);
    return grid.georeference.position_of(
        {share(random) * (grid.columns - 1), share(random) * (grid.rows - 1)});
}

struct Kind {
    std::string crs;
    double x0, y0, cell;
};

} // namespace

// Positions by GeographicLib, independent of PROJ's geodesics, brought to cells one by one.
TEST_CASE("a profile has a point at every line between cell centres, and where ground bulges") {
    const Kind kind = GENERATE(values<Kind>({{"EPSG:4326", 10.0, 47.0, 0.001},
                                             {"EPSG:32633", 500015.0, 5200015.0, 90.0},
                                             {"EPSG:32633", 500015.0, 8700015.0, 90.0},
                                             {"EPSG:3035", 4.3e6, 3.0e6, 50.0}}));
    CAPTURE(kind.crs, kind.y0);
    const HeightGrid grid = spiky(kind.crs, kind.x0, kind.y0, kind.cell, 400, 300);
    std::mt19937 random(1);
    const auto& earth = GeographicLib::Geodesic::WGS84();
    for (int pair = 0; pair < 20; ++pair) {
        const geo::LatLon from = random_place(grid, random);
        const geo::LatLon to = random_place(grid, random);
        const Profile profile = sample_profile(grid, from, to);
        const auto line = earth.InverseLine(from.lat_deg, from.lon_deg, to.lat_deg, to.lon_deg);
        const auto cell_at = [&](double distance_m) {
            double lat = 0.0;
            double lon = 0.0;
            line.Position(distance_m, lat, lon);
            return grid.georeference.cell_of({lat, lon});
        };
        REQUIRE(profile.distance_km.front() == 0.0);
        REQUIRE(1000.0 * profile.length_km() == Approx(line.Distance()).epsilon(1e-12));
        for (std::size_t k = 0; k < profile.size(); ++k) {
            const CellPosition cell = cell_at(1000.0 * profile.distance_km[k]);
            // Neighbouring cells differ by up to 500 m in height over 50 m, so 1 mm moves 1 cm.
            REQUIRE(profile.ground_m[k] == Approx(grid.sample(cell)).margin(0.05));
            if (k == 0 || k + 1 == profile.size()) {
                continue;
            }
            const double off = std::min(std::abs(cell.column - std::round(cell.column)),
                                        std::abs(cell.row - std::round(cell.row)));
            if (off * kind.cell * grid.georeference.metres_per_unit() >= 0.01) {
                // Half way between two crossings, where the ground rises above the line between.
                REQUIRE(profile.distance_km[k] ==
                        Approx((profile.distance_km[k - 1] + profile.distance_km[k + 1]) / 2.0));
                REQUIRE(profile.ground_m[k] >
                        (profile.ground_m[k - 1] + profile.ground_m[k + 1]) / 2.0 + 0.49);
            }
        }
        // Between two points lies no other line: all of it is over one square of four centres.
        for (std::size_t k = 1; k < profile.size(); ++k) {
            const double from_m = 1000.0 * profile.distance_km[k - 1];
            const double to_m = 1000.0 * profile.distance_km[k];
            REQUIRE(to_m - from_m >= 0.99 * ProfileSampler::least_gap_m);
            if (to_m - from_m < 0.1) {
                continue;
            }
            const CellPosition first = cell_at(from_m + 0.03);
            const CellPosition last = cell_at(to_m - 0.03);
            REQUIRE(std::floor(first.column) == std::floor(last.column));
            REQUIRE(std::floor(first.row) == std::floor(last.row));
        }
    }
}

TEST_CASE("a profile is the same ground from either end, point for point") {
    const HeightGrid grid = spiky("EPSG:4326", 10.0, 47.0, 0.001, 400, 300);
    std::mt19937 random(2);
    for (int pair = 0; pair < 200; ++pair) {
        const geo::LatLon a = random_place(grid, random);
        const geo::LatLon b = random_place(grid, random);
        for (const double step_m : {0.0, 70.0}) {
            const Profile there = sample_profile(grid, a, b, step_m);
            const Profile back = reversed(sample_profile(grid, b, a, step_m));
            REQUIRE(there.size() == back.size());
            REQUIRE(there.ground_m == back.ground_m);
            REQUIRE(there.centre_latitude_deg == back.centre_latitude_deg);
            for (std::size_t k = 0; k < there.size(); ++k) {
                REQUIRE(there.distance_km[k] == Approx(back.distance_km[k]).margin(1e-12));
            }
        }
    }
}

TEST_CASE("a ridge a single cell wide is never missed, nor lowered") {
    HeightGrid grid = spiky("EPSG:32633", 500015.0, 5200015.0, 30.0, 300, 300);
    for (int row = 0; row < grid.rows; ++row) {
        for (int column = 0; column < grid.columns; ++column) {
            grid.height_m[static_cast<std::size_t>(row * grid.columns + column)] =
                column == 150 ? 800.0F : 100.0F;
        }
    }
    std::mt19937 random(3);
    int crossed = 0;
    for (int pair = 0; pair < 500; ++pair) {
        const geo::LatLon a = random_place(grid, random);
        const geo::LatLon b = random_place(grid, random);
        const double from = grid.georeference.cell_of(a).column;
        const double to = grid.georeference.cell_of(b).column;
        if (std::min(from, to) > 149.0 || std::max(from, to) < 151.0) {
            continue;
        }
        const Profile profile = sample_profile(grid, a, b);
        ++crossed;
        REQUIRE(*std::max_element(profile.ground_m.begin(), profile.ground_m.end()) == 800.0);
    }
    CHECK(crossed > 150);
}

TEST_CASE("paths within a cell, along a line, over a corner and over a single row") {
    const HeightGrid grid = spiky("EPSG:32633", 500015.0, 5200015.0, 30.0, 200, 200);
    const auto at = [](const HeightGrid& on, double column, double row) {
        return on.georeference.position_of({column, row});
    };
    SECTION("within a cell there are the ends, and the middle if the ground rises there") {
        CHECK(sample_profile(grid, at(grid, 10.2, 20.3), at(grid, 10.7, 20.6)).size() <= 3);
    }
    SECTION("along a row, on it or a little beside it, each column is met once") {
        for (const double beside : {0.0, 1e-7, -1e-7, 0.5}) {
            const Profile profile =
                sample_profile(grid, at(grid, 10.5, 20.0 + beside), at(grid, 30.5, 20.0 + beside));
            // The geodesic bends by millimetres: it may cross the row itself once or twice.
            CHECK(profile.size() >= 22);
            CHECK(profile.size() <= 24);
        }
    }
    SECTION("from corner to corner of cells a column and a row are one point") {
        // 500015 is next to the zone's middle, where the grid is square to a geodesic to 1e-4.
        const Profile profile = sample_profile(grid, at(grid, 1.0, 50.0), at(grid, 2.0, 51.0));
        CHECK(profile.size() <= 3); // the ends, and the middle if the ground rises there
        const Profile longer = sample_profile(grid, at(grid, 1.0, 50.0), at(grid, 6.0, 55.0));
        for (std::size_t k = 1; k < longer.size(); ++k) {
            CHECK(longer.distance_km[k] - longer.distance_km[k - 1] > 0.9e-5);
        }
        CHECK(*std::max_element(longer.ground_m.begin(), longer.ground_m.end()) <= 500.0);
    }
    SECTION("a raster of one row, and of one column") {
        const HeightGrid row = spiky("EPSG:32633", 500015.0, 5200015.0, 30.0, 200, 1);
        const Profile along = sample_profile(row, at(row, 10.5, -0.3), at(row, 20.5, 0.3));
        CHECK(along.size() == 13); // ten columns, the row itself, and the ends
        CHECK_FALSE(along.has_void());
        CHECK(sample_profile(row, at(row, 10.5, 0.0), at(row, 20.5, 3.0)).has_void());
        const HeightGrid column = spiky("EPSG:32633", 500015.0, 5200015.0, 30.0, 1, 200);
        CHECK_FALSE(
            sample_profile(column, at(column, 0.3, 10.5), at(column, -0.3, 20.5)).has_void());
    }
}

// A straight line to the centre of a cell crosses the lines of the grid whole cells from it, with
// middles half way. Had it one a hand's breadth before it, a house there would stand in the ray.
TEST_CASE("a path between centres of cells has no point beside either end") {
    const HeightGrid grid = spiky("EPSG:32616", 700015.0, 4099985.0, 30.0, 500, 400);
    const auto at = [&](int column, int row) {
        return grid.georeference.position_of({1.0 * column, 1.0 * row});
    };
    std::mt19937 random(2);
    double least_m = std::numeric_limits<double>::infinity();
    for (int pair = 0; pair < 2000; ++pair) {
        const auto column = static_cast<int>(random() % 500);
        const auto row = static_cast<int>(random() % 400);
        if (column == 250 || row == 200) {
            continue; // a line of the grid, from which the geodesic strays by millimetres
        }
        const Profile profile = sample_profile(grid, at(250, 200), at(column, row));
        least_m =
            std::min({least_m, 1000.0 * profile.distance_km[1],
                      1000.0 * (profile.length_km() - profile.distance_km[profile.size() - 2])});
    }
    CHECK(least_m > 14.9);
}

TEST_CASE(
    "crossings tell of voids and of ground beyond the rim, but not of a void beside the way") {
    HeightGrid grid = spiky("EPSG:32633", 500015.0, 5200015.0, 30.0, 200, 200);
    grid.height_m[static_cast<std::size_t>(100 * grid.columns + 100)] =
        std::numeric_limits<float>::quiet_NaN();
    const auto at = [&](double column, double row) {
        return grid.georeference.position_of({column, row});
    };
    CHECK(sample_profile(grid, at(90.3, 100.4), at(110.3, 100.4)).has_void());
    CHECK(sample_profile(grid, at(90.3, 99.4), at(110.3, 99.4)).has_void());
    CHECK_FALSE(sample_profile(grid, at(90.3, 98.6), at(110.3, 98.6)).has_void());
    CHECK(sample_profile(grid, at(190.0, 50.0), at(205.0, 50.0)).has_void());
    CHECK(sample_profile(grid, at(198.0, 50.0), at(200.9, 50.0)).has_void());
}

TEST_CASE("cover and zones of a crossing are those of the cell it lies in") {
    const HeightGrid grid = spiky("EPSG:32633", 500015.0, 5200015.0, 30.0, 200, 200);
    GroundCover cover(CoverTable::worldcover(), grid.columns, grid.rows);
    std::vector<std::int32_t> codes(200, 30);
    std::fill(codes.begin() + 100, codes.begin() + 110, 10); // woods in columns 100 to 109
    for (int row = 0; row < grid.rows; ++row) {
        REQUIRE_FALSE(cover.classify(row, codes));
    }
    const GroundLayers layers{&cover, nullptr};
    const geo::LatLon a = grid.georeference.position_of({90.0, 50.3});
    const geo::LatLon b = grid.georeference.position_of({120.0, 50.3});
    const Profile there = sample_profile(grid, a, b, 0.0, layers);
    const Profile back = reversed(sample_profile(grid, b, a, 0.0, layers));
    CHECK(there.woodland == back.woodland);
    CHECK(there.cover_m == back.cover_m);
    // Along a row the points are the middles of the cells: ten of them, from 10 to 19 cells away.
    CHECK(std::count(there.woodland.begin(), there.woodland.end(), 1) == 10);
    for (std::size_t k = 0; k < there.size(); ++k) {
        const double cells = there.distance_km[k] / 0.03;
        CHECK((there.woodland[k] != 0) == (cells > 9.5 && cells < 19.5));
        CHECK(there.cover_m[k] == (there.woodland[k] != 0 ? 15.0 : 0.0));
    }
}

} // namespace earshot::terrain
