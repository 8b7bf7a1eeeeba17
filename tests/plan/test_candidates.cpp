#include "coverage/ground.hpp"
#include "earshot/base/error.hpp"
#include "earshot/geo/geodesic.hpp"
#include "plan/all_cells.hpp"
#include "plan/candidates.hpp"
#include "terrain/shapes.hpp"

#include <catch2/catch.hpp>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <functional>
#include <numbers>

using namespace earshot;
using namespace earshot::plan;
using terrain::read_shapes;
using terrain::Shapes;

namespace {

/// Ground in 100 m cells of UTM 16N whose height is a function of metres east and south of the
/// middle of the first cell.
template <typename Height>
terrain::HeightGrid made_ground(int columns, int rows, Height height) {
    terrain::HeightGrid grid;
    grid.columns = columns;
    grid.rows = rows;
    grid.georeference = terrain::Georeference("EPSG:32616", 500000.0, 4100000.0, 100.0, -100.0);
    for (int row = 0; row < rows; ++row) {
        for (int column = 0; column < columns; ++column) {
            grid.height_m.push_back(static_cast<float>(height(100.0 * column, 100.0 * row)));
        }
    }
    return grid;
}

/// A file of its own that is gone when the test ends.
class TextFile {
public:
    TextFile(const std::string& name, const std::string& text)
        : path_(std::filesystem::temp_directory_path() /
                ("earshot-" + std::to_string(getpid()) + "-" + name)) {
        std::ofstream(path_) << text;
    }
    ~TextFile() { std::filesystem::remove(path_); }
    TextFile(const TextFile&) = delete;
    TextFile& operator=(const TextFile&) = delete;
    [[nodiscard]] const std::filesystem::path& path() const { return path_; }

private:
    std::filesystem::path path_;
};

std::string refusal(const std::function<void()>& act) {
    try {
        act();
    } catch (const Error& error) {
        return error.what();
    }
    return "not refused";
}

Shapes circle(geo::LatLon centre, double radius_m) {
    Shapes shapes;
    shapes.label = "circle.geojson";
    Shapes::Line ring;
    for (int k = 0; k < 360; ++k) {
        ring.push_back(geo::geodesic_destination(centre, k, radius_m));
    }
    shapes.polygons = {{ring}};
    return shapes;
}

} // namespace

TEST_CASE("shapes are read from the formats people have", "[candidates]") {
    SECTION("GeoJSON with points, a line and a polygon with a hole") {
        const TextFile file("a.geojson", R"({"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"name":"Mill","people":12},"geometry":{"type":"Point","coordinates":[-84.2,36.5]}},
{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[-84.2,36.5],[-84.1,36.5]]}},
{"type":"Feature","properties":{},"geometry":{"type":"Polygon","coordinates":[[[0,0],[4,0],[4,4],[0,4],[0,0]],[[1,1],[2,1],[2,2],[1,2],[1,1]]]}}]})");
        const Shapes shapes = read_shapes(file.path());
        REQUIRE(shapes.points.size() == 1);
        CHECK(shapes.points[0].lat_deg == Approx(36.5));
        CHECK(shapes.points[0].lon_deg == Approx(-84.2));
        REQUIRE(shapes.lines.size() == 1);
        CHECK(shapes.lines[0].size() == 2);
        REQUIRE(shapes.polygons.size() == 1);
        CHECK(shapes.polygons[0].size() == 2);
    }
    SECTION("GPX track and waypoint") {
        const TextFile file(
            "b.gpx",
            R"(<?xml version="1.0"?><gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="36.5" lon="-84.2"><name>Camp</name></wpt>
<trk><trkseg><trkpt lat="36.5" lon="-84.2"/><trkpt lat="36.6" lon="-84.2"/></trkseg></trk></gpx>)");
        const Shapes shapes = read_shapes(file.path());
        REQUIRE(shapes.points.size() == 1);
        CHECK(shapes.points[0].lat_deg == Approx(36.5));
        REQUIRE(shapes.lines.size() == 1);
        CHECK(shapes.lines[0].back().lat_deg == Approx(36.6));
    }
    SECTION("KML") {
        const TextFile file(
            "c.kml", R"(<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>
<Placemark><name>Top</name><Point><coordinates>-84.2,36.5,0</coordinates></Point></Placemark></Document></kml>)");
        const Shapes shapes = read_shapes(file.path());
        REQUIRE(shapes.points.size() == 1);
        CHECK(shapes.points[0].lon_deg == Approx(-84.2));
    }
    SECTION("a table with longitude and latitude") {
        const TextFile file("d.csv", "name,lat,lon,weight\nA,36.5,-84.2,3\nB,36.6,-84.1,1\n");
        const Shapes shapes = read_shapes(file.path());
        REQUIRE(shapes.points.size() == 2);
        CHECK(shapes.points[1].lon_deg == Approx(-84.1));
    }
    SECTION("another reference system") {
        // The central meridian of UTM zone 16 is 87 degrees west (definition of UTM).
        const TextFile file(
            "e.geojson",
            R"({"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"EPSG:32616"}},
"features":[{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[500000,0]}}]})");
        const Shapes shapes = read_shapes(file.path());
        REQUIRE(shapes.points.size() == 1);
        CHECK(shapes.points[0].lon_deg == Approx(-87.0));
        CHECK(std::abs(shapes.points[0].lat_deg) < 1e-9);
    }
}

TEST_CASE("shapes that cannot be used are refused in one line", "[candidates]") {
    CHECK_THAT(refusal([] { (void)read_shapes("/no/such/roads.gpx"); }),
               Catch::Contains("/no/such/roads.gpx does not exist"));
    const TextFile junk("f.geojson", "this is no map");
    CHECK_THAT(refusal([&] { (void)read_shapes(junk.path()); }), Catch::Contains("cannot be read"));
    const TextFile empty("g.geojson", R"({"type":"FeatureCollection","features":[]})");
    CHECK_THAT(refusal([&] { (void)read_shapes(empty.path()); }),
               Catch::Contains("holds no point"));
    const TextFile metres("h.geojson", R"({"type":"Point","coordinates":[500000,4100000]})");
    CHECK_THAT(refusal([&] { (void)read_shapes(metres.path()); }),
               Catch::Contains("reference system"));
    Shapes points;
    points.label = "points.csv";
    points.points = {{36.5, -84.2}};
    CHECK_THAT(refusal([&] { (void)inside_of(points); }), Catch::Contains("holds no polygon"));
    CHECK_THAT(refusal([&] { (void)within_distance(points, 0.0); }), Catch::Contains("points.csv"));
    CHECK_THAT(refusal([] { (void)gentler_than(0.0); }), Catch::Contains("slope limit"));
}

TEST_CASE("a distance allows the cells that a geodesic is no longer than", "[candidates]") {
    // Against geodesics from every cell centre (PROJ): cells within half a percent of the distance
    // may fall either way.
    const terrain::HeightGrid ground = test::cumberland();
    Shapes shapes;
    shapes.label = "towers.geojson";
    shapes.points = {{36.55, -84.20}, {36.68, -84.35}};
    const double distance_m = 5000.0;
    const Constraint near = within_distance(shapes, distance_m);
    const CandidateSet set = test::all_cells(ground, {&near, 1});
    std::vector<char> allowed(ground.height_m.size(), 0);
    for (const Candidate& candidate : set.candidates) {
        const terrain::CellPosition cell = ground.georeference.cell_of(candidate.position);
        allowed[static_cast<std::size_t>(std::lround(cell.row)) * 403 +
                static_cast<std::size_t>(std::lround(cell.column))] = 1;
    }
    std::size_t wrong = 0;
    std::size_t inside = 0;
    for (int row = 0; row < ground.rows; row += 3) {
        for (int column = 0; column < ground.columns; column += 3) {
            const geo::LatLon at = ground.georeference.position_of({1.0 * column, 1.0 * row});
            const double least = std::min(geo::geodesic_between(at, shapes.points[0]).distance_m,
                                          geo::geodesic_between(at, shapes.points[1]).distance_m);
            const bool is =
                allowed[static_cast<std::size_t>(row) * 403 + static_cast<std::size_t>(column)] !=
                0;
            inside += is ? 1U : 0U;
            wrong +=
                (least < 0.995 * distance_m && !is) || (least > 1.005 * distance_m && is) ? 1U : 0U;
        }
    }
    CHECK(wrong == 0);
    CHECK(inside > 1000);
}

TEST_CASE("a distance from a line is that to its nearest point", "[candidates]") {
    const terrain::HeightGrid ground = made_ground(60, 60, [](double, double) { return 10.0; });
    const auto at = [&](double column, double row) {
        return ground.georeference.position_of({column, row});
    };
    Shapes road;
    road.label = "road.gpx";
    road.lines = {{at(10, 30), at(50, 30)}};
    const Constraint near = within_distance(road, 450.0);
    const CandidateSet set = test::all_cells(ground, {&near, 1});
    // A strip 41 cells long and 9 wide, and half discs of radius 4.5 cells at its ends (69 cells of
    // which the middle column, 9, belongs to the strip's ends).
    std::size_t disc = 0;
    for (int x = -4; x <= 4; ++x) {
        for (int y = -4; y <= 4; ++y) {
            disc += std::hypot(x, y) <= 4.5 ? 1U : 0U;
        }
    }
    CHECK(set.allowed == 41 * 9 + disc - 9);
}

TEST_CASE("inside and outside share the ground between them", "[candidates]") {
    const terrain::HeightGrid ground = made_ground(120, 120, [](double, double) { return 10.0; });
    const geo::LatLon middle = ground.georeference.position_of({60.0, 60.0});
    const double radius_m = 4000.0;
    const Shapes disc = circle(middle, radius_m);
    const Constraint inside = inside_of(disc);
    const Constraint outside = outside_of(disc);
    const CandidateSet in = test::all_cells(ground, {&inside, 1});
    const CandidateSet out = test::all_cells(ground, {&outside, 1});
    CHECK(in.allowed + out.allowed == 120U * 120U);
    const auto size = ground.georeference.cell_size_at(middle);
    CHECK(static_cast<double>(in.allowed) * size.across_m * size.down_m ==
          Approx(std::numbers::pi * radius_m * radius_m).epsilon(0.005));
    for (const Candidate& candidate : in.candidates) {
        REQUIRE(geo::geodesic_between(middle, candidate.position).distance_m < radius_m + 1.0);
    }
}

TEST_CASE("the slope of a plane is that of the plane", "[candidates]") {
    const double gradient = std::tan(10.0 * std::numbers::pi / 180.0);
    const terrain::HeightGrid ground =
        made_ground(20, 20, [=](double x, double y) { return gradient * (0.6 * x + 0.8 * y); });
    const Shapes middle = circle(ground.georeference.position_of({10.0, 10.0}), 500.0);
    const std::vector<Constraint> gentle{inside_of(middle), gentler_than(10.1)};
    const std::vector<Constraint> gentler{inside_of(middle), gentler_than(9.9)};
    const CandidateSet all = test::all_cells(ground, gentle);
    CHECK(all.removals[1].removed == 0);
    CHECK_THROWS_AS(test::all_cells(ground, gentler), Error);
}

TEST_CASE("every constraint says what it removed", "[candidates]") {
    // A ramp that rises by 1 m for each column.
    const terrain::HeightGrid ground =
        made_ground(100, 10, [](double x, double) { return x / 100.0; });
    const std::vector<Constraint> rules{above_height(50.0), above_height(80.0)};
    const CandidateSet set = test::all_cells(ground, rules);
    CHECK(set.considered == 1000);
    CHECK(set.allowed == 200);
    CHECK(set.removals[0].removed == 500);
    CHECK(set.removals[1].removed == 300);
    CHECK(set.removals[1].alone == 800);
    CHECK_THAT(removal_words(set)[1],
               Catch::Contains("'ground above 80 m' removed 300 cells and left 200"));

    const std::vector<Constraint> none{above_height(50.0), above_height(500.0)};
    CHECK_THAT(refusal([&] { (void)find_candidates(ground, none, {}); }),
               Catch::Contains("no place is left for a relay: of 1000 cells") &&
                   Catch::Contains("'ground above 50 m' removed 500") &&
                   Catch::Contains("'ground above 500 m' removed 500"));
}

TEST_CASE("an explicit list goes through the same constraints", "[candidates]") {
    const terrain::HeightGrid ground =
        made_ground(100, 10, [](double x, double) { return x / 100.0; });
    const std::vector<scenario::Place> list{
        {"Low", ground.georeference.position_of({20.0, 5.0}), 1.0},
        {"High", ground.georeference.position_of({70.0, 5.0}), 1.0}};
    const Constraint above = above_height(50.0);
    const CandidateSet set = listed_candidates(ground, list, {&above, 1});
    REQUIRE(set.candidates.size() == 1);
    CHECK(set.candidates[0].name == "High");
    CHECK(set.candidates[0].ground_m == Approx(70.0));
    const std::vector<scenario::Place> off{{"Nowhere", {0.0, 0.0}, 1.0}};
    CHECK_THAT(refusal([&] { (void)listed_candidates(ground, off, {}); }),
               Catch::Contains("Nowhere"));
}

TEST_CASE("summits come first, and a candidate sees what its ground lets it", "[candidates]") {
    const auto cone = [](double x, double y, double cx, double cy, double top) {
        return std::max(0.0, top - 0.2 * std::hypot(x - cx, y - cy));
    };
    const terrain::HeightGrid ground = made_ground(150, 150, [&](double x, double y) {
        return std::max(cone(x, y, 5000.0, 7000.0, 300.0), cone(x, y, 10000.0, 4000.0, 200.0));
    });
    CandidateOptions options;
    options.most = 50;
    const CandidateSet set = find_candidates(ground, {}, options);
    REQUIRE(set.candidates.size() <= 50);
    const auto close = [&](const Candidate& candidate, double column, double row) {
        return geo::geodesic_between(candidate.position,
                                     ground.georeference.position_of({column, row}))
                   .distance_m < 1.0;
    };
    CHECK(close(set.candidates[0], 50.0, 70.0));
    CHECK(std::ranges::any_of(set.candidates,
                              [&](const Candidate& c) { return close(c, 100.0, 40.0); }));
    // The lower summit is as isolated as the nearest ground of its height is far: 500 m short of
    // the higher one.
    for (const Candidate& candidate : set.candidates) {
        if (close(candidate, 100.0, 40.0)) {
            CHECK(candidate.isolation_m ==
                  Approx(std::hypot(5000.0, 3000.0) - 500.0).margin(150.0));
        }
    }

    const terrain::HeightGrid flat = made_ground(400, 400, [](double, double) { return 5.0; });
    const Constraint middle =
        inside_of(circle(flat.georeference.position_of({200.0, 200.0}), 300.0));
    options.most = 1;
    CHECK(find_candidates(flat, {&middle, 1}, options).candidates[0].view_share == Approx(1.0));
    const terrain::HeightGrid pit = made_ground(400, 400, [](double x, double y) {
        return std::hypot(x - 20000.0, y - 20000.0) < 900.0 ? 0.0 : 100.0;
    });
    const Constraint bottom =
        inside_of(circle(pit.georeference.position_of({200.0, 200.0}), 150.0));
    CHECK(find_candidates(pit, {&bottom, 1}, options).candidates[0].view_share < 0.02);
}
