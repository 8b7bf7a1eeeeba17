#include "earshot/base/error.hpp"
#include "earshot/terrain/profile.hpp"
#include "earshot/terrain/terrain_source.hpp"
#include "rasters.hpp"
#include "terrain/grid_line.hpp"
#include "terrain/profile_sampler.hpp"

#include <GeographicLib/Geodesic.hpp>
#include <GeographicLib/GeodesicLine.hpp>
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <vector>

namespace earshot::terrain {
namespace {

/// 0.1 degree cells around a position, heights from their index.
HeightGrid small_grid() {
    HeightGrid grid;
    grid.columns = 300;
    grid.rows = 200;
    grid.georeference = Georeference("EPSG:4326", 10.0, 47.0, 0.001, -0.001);
    grid.georeference.set_columns(grid.columns);
    for (int row = 0; row < grid.rows; ++row) {
        for (int column = 0; column < grid.columns; ++column) {
            grid.height_m.push_back(static_cast<float>((column * 37 + row * 91) % 500));
        }
    }
    return grid;
}

struct LineCase {
    std::string crs;
    double lat, lon, length_m;
};

/// The cell of a line at a distance, from the piece that it lies on.
CellPosition cell_at(const GridLine& line, double distance_m) {
    const auto piece = std::find_if(line.pieces().begin(), line.pieces().end(),
                                    [=](const auto& p) { return distance_m <= p.end_m; });
    return (piece == line.pieces().end() ? line.pieces().back() : *piece).at(distance_m);
}

} // namespace

// The bound of the interpolation along a line: 1 cm on the ground, against exact positions from
// GeographicLib (independent of PROJ's geodesics) brought to cells one by one.
TEST_CASE("a line in cells is within 1 cm of the geodesic") {
    const LineCase line = GENERATE(values<LineCase>({{"EPSG:4326", 0.0, 20.0, 60e3},
                                                     {"EPSG:4326", 36.6, -84.2, 60e3},
                                                     {"EPSG:4326", 70.0, 25.0, 150e3},
                                                     {"EPSG:4326", 85.0, 25.0, 60e3},
                                                     {"EPSG:4326", -17.0, 179.9, 60e3},
                                                     {"EPSG:4326", 89.9, 25.0, 30e3},
                                                     {"EPSG:4269", 36.6, -84.2, 60e3},
                                                     {"EPSG:32616", 36.6, -84.2, 150e3},
                                                     {"EPSG:32633", 79.0, 20.0, 60e3},
                                                     {"EPSG:3035", 47.0, 12.0, 60e3},
                                                     {"EPSG:3857", 60.0, 12.0, 60e3},
                                                     {"EPSG:2274", 36.0, -85.0, 60e3},
                                                     {"EPSG:3995", 88.0, 40.0, 60e3},
                                                     {"EPSG:27700", 54.0, -2.5, 60e3}}));
    const Georeference exact(line.crs, 0.0, 0.0, 1.0, -1.0);
    GridLine grid_line(exact);
    double worst_m = 0.0;
    for (const double bearing_deg : {0.0, 33.0, 90.0, 181.0, 262.0}) {
        grid_line.trace({line.lat, line.lon}, bearing_deg, line.length_m);
        const GeographicLib::GeodesicLine geodesic =
            GeographicLib::Geodesic::WGS84().Line(line.lat, line.lon, bearing_deg);
        for (double d = 0.0; d <= line.length_m; d += 137.0) {
            double lat = 0.0;
            double lon = 0.0;
            geodesic.Position(d, lat, lon);
            const CellPosition wanted = exact.cell_of({lat, lon});
            CellPosition got = cell_at(grid_line, d);
            if (exact.geographic()) {
                got.column = wanted.column + std::remainder(got.column - wanted.column, 360.0);
            }
            // Both back on the ground, so that the scale of the projection plays no part.
            const geo::LatLon place = exact.position_of(got);
            double off_m = 0.0;
            GeographicLib::Geodesic::WGS84().Inverse(lat, lon, place.lat_deg, place.lon_deg, off_m);
            worst_m = std::max(worst_m, off_m);
        }
    }
    INFO(line.crs << " at " << line.lat << ": worst " << worst_m << " m");
    CHECK(worst_m < 0.01);
}

TEST_CASE("a line is cut into pieces without gaps") {
    GridLine line(Georeference("EPSG:32616", 0.0, 0.0, 30.0, -30.0));
    line.trace({36.6, -84.2}, 50.0, 34567.0);
    CHECK(line.pieces().size() > 1);
    CHECK(line.pieces().front().start_m == 0.0);
    CHECK(line.pieces().back().end_m == 34567.0);
    for (std::size_t k = 1; k < line.pieces().size(); ++k) {
        const GridLine::Piece& before = line.pieces()[k - 1];
        const GridLine::Piece& after = line.pieces()[k];
        CHECK(after.start_m == before.end_m);
        CHECK(after.at(after.start_m).column == Approx(before.at(after.start_m).column));
        CHECK(after.at(after.start_m).row == Approx(before.at(after.start_m).row));
    }
}

TEST_CASE("a line that leaves the CRS is NaN there and right elsewhere") {
    // The orthographic projection ends a quarter turn from its middle, 10018.75 km along the
    // equator.
    const Georeference grid("+proj=ortho +lat_0=0 +lon_0=0 +datum=WGS84", 0.0, 0.0, 1.0, -1.0);
    GridLine line(grid);
    line.trace({0.0, 85.0}, 90.0, 700e3);
    CHECK(cell_at(line, 100e3).column ==
          Approx(grid.cell_of({0.0, 85.0 + 100e3 / 111319.49}).column));
    CHECK(cell_at(line, 550e3).column ==
          Approx(grid.cell_of({0.0, 85.0 + 550e3 / 111319.49}).column));
    CHECK(std::isnan(cell_at(line, 600e3).column));
}

TEST_CASE("a profile with a step follows the geodesic in equal parts of about that length") {
    const HeightGrid grid = small_grid();
    const geo::LatLon from{46.98, 10.02};
    const geo::LatLon to{46.85, 10.25};
    const Profile profile = sample_profile(grid, from, to, 90.0);
    double distance_m = 0.0;
    double bearing = 0.0;
    double unused = 0.0;
    const auto& earth = GeographicLib::Geodesic::WGS84();
    earth.Inverse(from.lat_deg, from.lon_deg, to.lat_deg, to.lon_deg, distance_m, bearing, unused);

    REQUIRE(profile.size() >= 3);
    const double part_m = distance_m / static_cast<double>(profile.size() - 1);
    CHECK(part_m == Approx(90.0).epsilon(0.005));
    CHECK(profile.distance_km.front() == 0.0);
    CHECK(profile.length_km() == Approx(distance_m / 1000.0).epsilon(1e-12));
    const GeographicLib::GeodesicLine line = earth.Line(from.lat_deg, from.lon_deg, bearing);
    for (std::size_t k = 0; k < profile.size(); ++k) {
        const double at_m = part_m * static_cast<double>(k);
        CHECK(profile.distance_km[k] * 1000.0 == Approx(at_m).margin(1e-6));
        double lat = 0.0;
        double lon = 0.0;
        line.Position(at_m, lat, lon);
        // Neighbouring cells differ by up to 500 m in height over 70 m, so 1 mm moves 7 mm.
        CHECK(profile.ground_m[k] == Approx(grid.sample(geo::LatLon{lat, lon})).margin(0.02));
        CHECK(profile.cover_m[k] == 0.0);
    }
    CHECK_FALSE(profile.has_void());
}

TEST_CASE("a profile that is longer than one piece has no seam") {
    // Rows count northing, so the height is the northing itself.
    HeightGrid grid;
    grid.columns = 200;
    grid.rows = 600;
    grid.georeference = Georeference("EPSG:32616", 700000.0, 4100000.0, 100.0, -100.0);
    for (int row = 0; row < grid.rows; ++row) {
        for (int column = 0; column < grid.columns; ++column) {
            grid.height_m.push_back(static_cast<float>(row));
        }
    }
    const geo::LatLon from = grid.georeference.position_of({20.0, 10.0});
    const geo::LatLon to = grid.georeference.position_of({180.0, 560.0});
    const Profile profile = sample_profile(grid, from, to, 20.0);
    CHECK(profile.ground_m.front() == Approx(10.0).margin(1e-4));
    CHECK(profile.ground_m.back() == Approx(560.0).margin(1e-4));
    for (std::size_t k = 1; k < profile.size(); ++k) {
        const auto slope = [&](std::size_t i) {
            return (profile.ground_m[i] - profile.ground_m[i - 1]) /
                   (profile.distance_km[i] - profile.distance_km[i - 1]);
        };
        CHECK(slope(k) == Approx(slope(1)).epsilon(0.01));
    }
}

TEST_CASE("a sampler reuses the caller's profile and agrees with the single call") {
    const HeightGrid grid = small_grid();
    const geo::LatLon from{46.9, 10.1};
    ProfileSampler sampler(grid);
    Profile reused;
    for (const geo::LatLon to : {geo::LatLon{46.85, 10.25}, geo::LatLon{46.95, 10.05}}) {
        sampler.sample(from, to, 70.0, reused);
        const Profile fresh = sample_profile(grid, from, to, 70.0);
        CHECK(reused.distance_km == fresh.distance_km);
        CHECK(reused.ground_m == fresh.ground_m);
        CHECK(reused.cover_m == fresh.cover_m);
    }
}

TEST_CASE("points off the grid or in a void are NaN") {
    HeightGrid grid = small_grid();
    const Profile beyond = sample_profile(grid, {46.9, 10.25}, {46.9, 10.4}, 100.0);
    CHECK_FALSE(std::isnan(beyond.ground_m.front()));
    CHECK(std::isnan(beyond.ground_m.back()));
    CHECK(beyond.has_void());
    grid.height_m[static_cast<std::size_t>(100 * grid.columns + 150)] =
        std::numeric_limits<float>::quiet_NaN();
    const Profile across = sample_profile(grid, {46.9, 10.1}, {46.9, 10.2}, 50.0);
    CHECK(across.has_void());
    CHECK_FALSE(std::isnan(across.ground_m.front()));
    CHECK_FALSE(std::isnan(across.ground_m.back()));
}

TEST_CASE("ends that coincide give two points, and a step must not be negative") {
    const HeightGrid grid = small_grid();
    const Profile profile = sample_profile(grid, {46.9, 10.1}, {46.9, 10.1}, 50.0);
    CHECK(profile.size() == 2);
    CHECK(profile.length_km() < 1e-9);
    CHECK(profile.ground_m[0] == grid.sample(geo::LatLon{46.9, 10.1}));
    CHECK_THROWS_AS(sample_profile(grid, {46.9, 10.1}, {46.9, 10.2}, -1.0), Error);
    CHECK_THROWS_AS(sample_profile(grid, {46.9, 10.1}, {46.9, 10.2}, std::nan("")), Error);
}

TEST_CASE("the natural step is the smaller side of a cell") {
    const HeightGrid grid = small_grid();
    const auto size = grid.georeference.cell_size_at({46.9, 10.1});
    CHECK(natural_step_m(grid, {46.9, 10.1}) == size.across_m);
    CHECK(size.across_m < size.down_m);
}

} // namespace earshot::terrain
