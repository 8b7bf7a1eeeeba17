#include "earshot/geo/geodesic.hpp"
#include "earshot/geo/position.hpp"
#include "output_checks.hpp"
#include "report/draw/canvas.hpp"
#include "report/draw/label_placement.hpp"
#include "report/draw/map_pieces.hpp"
#include "report/draw/map_sheet.hpp"
#include "report/draw/relief.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <limits>
#include <random>
#include <set>
#include <sstream>

/// The pieces that a map sheet is made of.

namespace earshot::report {
namespace {

using test::error_of;

using test::nan;

coverage::CoverageRaster map_over(const terrain::Georeference& georeference, int columns,
                                  int rows) {
    coverage::CoverageRaster map;
    map.columns = columns;
    map.rows = rows;
    map.georeference = georeference;
    return map;
}

// ---- Labels -------------------------------------------------------------------------------------

bool touches(const LabelPlace::Line& line, const Box& box) {
    // Sampled, to be independent of the geometry under test.
    for (int k = 0; k <= 200; ++k) {
        const double t = k / 200.0;
        const Point at{line.from.x + t * (line.to.x - line.from.x),
                       line.from.y + t * (line.to.y - line.from.y)};
        if (at.x > box.x + 0.01 && at.x < box.right() - 0.01 && at.y > box.y + 0.01 &&
            at.y < box.bottom() - 0.01) {
            return true;
        }
    }
    return false;
}

double common_area(const Box& a, const Box& b) {
    const double width = std::min(a.x + a.width, b.x + b.width) - std::max(a.x, b.x);
    const double height = std::min(a.y + a.height, b.y + b.height) - std::max(a.y, b.y);
    return width > 1e-9 && height > 1e-9 ? width * height : 0.0;
}

/// No label off the frame, over a mark, over a label, or over another's leader.
void check_no_collision(const Box& frame, const std::vector<Box>& marks,
                        const std::vector<LabelPlace>& labels) {
    for (std::size_t a = 0; a < labels.size(); ++a) {
        const Box& label = labels[a].box;
        CAPTURE(a, label.x, label.y);
        CHECK(common_area(label, frame) == Approx(label.width * label.height));
        for (const Box& mark : marks) {
            CHECK(common_area(label, mark) == 0.0);
        }
        for (std::size_t b = 0; b < labels.size(); ++b) {
            if (a != b) {
                CHECK(common_area(label, labels[b].box) == 0.0);
                if (labels[b].leader) {
                    CHECK_FALSE(touches(*labels[b].leader, label));
                }
            }
        }
    }
}

constexpr Box frame{10.0, 20.0, 500.0, 480.0};

TEST_CASE("a lone label stands right of its mark, or where there is room") {
    const auto placed_beside = [](Box mark) {
        const auto places = place_labels(frame, {{mark, 80.0, 9.0, false}}, {}, 2.0);
        REQUIRE(places.size() == 1);
        REQUIRE(places.front());
        CHECK_FALSE(places.front()->leader);
        return places.front()->box;
    };
    CHECK(placed_beside({200.0, 200.0, 6.0, 6.0}).x == 208.0);
    CHECK(placed_beside({480.0, 200.0, 6.0, 6.0}).right() == 478.0);
}

TEST_CASE("a label without room has no place") {
    const Box small{0.0, 0.0, 60.0, 30.0};
    const auto places = place_labels(small, {{{25.0, 12.0, 6.0, 6.0}, 80.0, 9.0, false}}, {}, 2.0);
    CHECK_FALSE(places.front());
    CHECK_FALSE(
        place_labels(frame, {{{900.0, 12.0, 6.0, 6.0}, 80.0, 9.0, false}}, {}, 2.0).front());
    // All room beside the mark is taken by something else.
    const auto blocked = place_labels(frame, {{{100.0, 100.0, 6.0, 6.0}, 80.0, 9.0, false}},
                                      {{{10.0, 20.0, 500.0, 480.0}, std::nullopt}}, 2.0);
    CHECK_FALSE(blocked.front());
}

TEST_CASE("a far label is led to from the rim of its mark") {
    const LabelWish wish{{250.0, 250.0, 6.0, 6.0}, 40.0, 9.0, false};
    // Only a narrow way up and down is free.
    const auto places = place_labels(
        frame, {wish},
        {{{150.0, 200.0, 99.0, 106.0}, std::nullopt}, {{257.0, 200.0, 99.0, 106.0}, std::nullopt}},
        2.0);
    REQUIRE(places.front());
    REQUIRE(places.front()->leader);
    const auto& [from, to] = *places.front()->leader;
    CHECK(wish.mark.grown(0.001).holds(from));
    CHECK_FALSE(wish.mark.grown(-0.001).holds(from));
    CHECK(places.front()->box.grown(0.001).holds(to));
}

TEST_CASE("labels do not collide, however crowded") {
    std::mt19937 generator(11);
    const int count = GENERATE(2, 30, 200);
    const double spread = GENERATE(20.0, 110.0);
    std::normal_distribution<double> x(250.0, spread);
    std::normal_distribution<double> y(240.0, spread);
    std::uniform_real_distribution<double> width(20.0, 90.0);
    std::vector<LabelWish> wishes;
    std::vector<Box> marks;
    for (int k = 0; k < count; ++k) {
        const Box mark{x(generator), y(generator), 5.0, 5.0};
        wishes.push_back({mark, width(generator), 7.0, k < 3});
        marks.push_back(mark);
    }
    const auto places = place_labels(frame, wishes, {}, 1.5);
    REQUIRE(places.size() == wishes.size());
    std::vector<LabelPlace> placed;
    for (std::size_t k = 0; k < places.size(); ++k) {
        if (places[k]) {
            CHECK(places[k]->box.width == wishes[k].width);
            placed.push_back(*places[k]);
        }
    }
    check_no_collision(frame, marks, placed);
    if (spread > 100.0) {
        CHECK(placed.size() * 10 >= wishes.size() * 8);
    }
}

TEST_CASE("two hundred places on a map: every name is there, none covers another") {
    const coverage::CoverageRaster map =
        map_over({"EPSG:32633", 600050.0, 4199950.0, 100.0, -100.0}, 300, 300);
    const MapPlacing placing(map, {20.0, 20.0, 520.0, 520.0});
    std::mt19937 generator(3);
    std::normal_distribution<double> cell(150.0, 45.0);
    std::vector<MapMark> marks;
    for (int k = 0; k < 200; ++k) {
        const geo::LatLon position =
            map.georeference.position_of({cell(generator), cell(generator)});
        marks.push_back({position, "Ombrelby " + std::to_string(k), k < 4});
    }
    // Twelve in one spot, and one off the map.
    for (int k = 0; k < 12; ++k) {
        marks.push_back({map.georeference.position_of({40.0, 40.0}), "Same " + std::to_string(k)});
    }
    marks.push_back({{-30.0, 10.0}, "Elsewhere"});
    const Canvas canvas = measuring_canvas();
    const MarkPlan plan = plan_marks(canvas.get(), placing, marks);
    REQUIRE(plan.marks.size() == 212);
    std::vector<Box> symbols;
    std::vector<LabelPlace> labels;
    std::multiset<std::string> names(plan.numbered.begin(), plan.numbered.end());
    for (const PlacedMark& mark : plan.marks) {
        symbols.push_back(mark.symbol);
        if (mark.label) {
            labels.push_back(*mark.label);
        }
        if (mark.label && mark.words.find_first_not_of("0123456789") != std::string::npos) {
            names.insert(mark.words);
        }
    }
    check_no_collision(placing.frame(), symbols, labels);
    CHECK(names.size() == 212);
    CHECK(plan.numbered.size() < 80);
    CHECK(labels.size() + static_cast<std::size_t>(plan.nameless) == plan.marks.size());
}

// ---- Contours -----------------------------------------------------------------------------------

/// Heights by a formula of the position in cells.
template <typename Height>
ReliefGrid relief(int columns, int rows, const Height& height) {
    ReliefGrid grid;
    grid.columns = columns;
    grid.rows = rows;
    for (int row = 0; row < rows; ++row) {
        for (int column = 0; column < columns; ++column) {
            grid.height_m.push_back(static_cast<float>(height(column + 0.5, row + 0.5)));
        }
    }
    return grid;
}

double away_from_middle(double x, double y) {
    return std::hypot(x - 100.0, y - 80.0);
}

TEST_CASE("contours of a cone are circles") {
    // Height 1000 m less 5 m for each cell from the top: the contour of h has radius
    // (1000 - h) / 5 cells.
    const ReliefGrid grid =
        relief(200, 160, [](double x, double y) { return 1000.0 - 5.0 * away_from_middle(x, y); });
    const Box box{50.0, 30.0, 400.0, 320.0}; // two points for each cell
    const std::vector<Contour> lines = contours(grid, 50.0, box);
    std::set<double> heights;
    for (const Contour& line : lines) {
        heights.insert(line.height_m);
        CHECK(line.index == (std::fmod(line.height_m, 200.0) == 0.0));
        if (line.height_m > 990.0) {
            continue; // the top itself, which a grid of cells cuts off
        }
        for (const Point at : line.points) {
            if (!box.grown(-2.5).holds(at)) {
                continue; // beyond the middle of the outer cells there is no slope
            }
            const double radius = std::hypot(at.x - 250.0, at.y - 190.0) / 2.0;
            CHECK(radius == Approx((1000.0 - line.height_m) / 5.0).margin(0.25));
        }
    }
    CHECK(heights.size() >= 10);
    CHECK(heights.count(800.0) == 1);
}

TEST_CASE("contours stop where the ground is not known") {
    const ReliefGrid grid = relief(
        100, 50, [](double x, double y) { return x > 60.0 ? static_cast<double>(nan) : 10.0 * y; });
    for (const Contour& line : contours(grid, 100.0, {0.0, 0.0, 100.0, 50.0})) {
        for (const Point at : line.points) {
            CHECK(at.x <= 60.5);
            CHECK(at.y == Approx(line.height_m / 10.0).margin(0.01));
        }
    }
}

TEST_CASE("the interval between contours suits the relief") {
    const auto slope = [](double rise_m) {
        return relief(50, 50, [rise_m](double x, double) { return rise_m * x; });
    };
    for (const double rise_m : {0.3, 2.0, 7.0, 40.0}) {
        const double interval_m = contour_interval_m(slope(rise_m), 1.0);
        CAPTURE(rise_m, interval_m);
        // On an even slope of so many metres for each point, contours stand that far apart.
        const double apart_pt = interval_m / rise_m;
        CHECK(apart_pt >= 5.0);
        CHECK(apart_pt < 5.0 * 2.5 + 0.01);
        const double leading = interval_m / std::pow(10.0, std::floor(std::log10(interval_m)));
        CHECK((leading == Approx(1.0) || leading == Approx(2.0) || leading == Approx(5.0)));
    }
    CHECK(contour_interval_m(slope(0.0), 1.0) == 0.0);
    CHECK(contour_interval_m(relief(9, 9, [](double, double) { return static_cast<double>(nan); }),
                             1.0) == 0.0);
    CHECK(index_interval(1.0) == 5.0);
    CHECK(index_interval(20.0) == 100.0);
    CHECK(index_interval(50.0) == 200.0);
}

TEST_CASE("contour labels keep off marks and each other") {
    const ReliefGrid grid =
        relief(200, 160, [](double x, double y) { return 1000.0 - 5.0 * away_from_middle(x, y); });
    const Box box{0.0, 0.0, 400.0, 320.0};
    const std::vector<Contour> lines = contours(grid, 20.0, box);
    const Canvas canvas = measuring_canvas();
    const std::vector<Box> taken{{200.0, 0.0, 200.0, 320.0}};
    const auto labels = label_contours(canvas.get(), lines, box, taken);
    CHECK(labels.size() >= 3);
    for (std::size_t a = 0; a < labels.size(); ++a) {
        CHECK(lines[labels[a].contour].index);
        CHECK(common_area(labels[a].box, taken.front()) == 0.0);
        CHECK(common_area(labels[a].box, box) ==
              Approx(labels[a].box.width * labels[a].box.height));
        for (std::size_t b = 0; b < a; ++b) {
            CHECK(common_area(labels[a].box, labels[b].box) == 0.0);
        }
    }
}

TEST_CASE("smoothing keeps planes and leaves voids alone") {
    ReliefGrid grid = relief(9, 7, [](double x, double y) { return 3.0 * x - 2.0 * y; });
    grid.height_m[10] = nan;
    const ReliefGrid result = smoothed(grid);
    CHECK(std::isnan(result.height_m[10]));
    // Far from the rim and the void, the mean of a plane is the plane.
    CHECK(result.height_m[4 * 9 + 5] == Approx(grid.height_m[4 * 9 + 5]));
}

// ---- Grids --------------------------------------------------------------------------------------

struct Utm {
    std::string zone;
    double east = 0.0, north = 0.0;
};

/// By GeographicLib, to the metre; the lines under test come from PROJ.
Utm utm_of(geo::LatLon position) {
    std::istringstream text(geo::format_utm(position));
    Utm utm;
    text >> utm.zone >> utm.east >> utm.north;
    return utm;
}

bool multiple(double value, double step) {
    return std::abs(std::remainder(value, step)) <= 2.0;
}

TEST_CASE("UTM lines lie on whole kilometres of the zone they are in") {
    struct Case {
        const char* what;
        geo::LatLon corner;
        double step_deg;
        std::size_t zones;
    };
    const Case region = GENERATE(Case{"inside a zone", {36.8, -84.5}, 0.004, 1},
                                 Case{"over a zone's edge", {47.2, 11.8}, 0.004, 2},
                                 Case{"over the date line", {-16.5, 179.8}, 0.004, 2},
                                 Case{"south-west Norway", {60.2, 2.8}, 0.004, 2},
                                 Case{"Svalbard and south of it", {79.0, 10.0}, 0.3, 6});
    CAPTURE(region.what);
    const coverage::CoverageRaster map =
        map_over({"EPSG:4326", region.corner.lon_deg, region.corner.lat_deg, region.step_deg,
                  -region.step_deg / 3.0},
                 100, 100);
    const MapPlacing placing(map, {0.0, 0.0, 500.0, 400.0});
    const Graticule grid = graticule(placing, 40.0);
    std::set<std::string> zones;
    CHECK(grid.lines.size() > 6);
    for (const auto& line : grid.lines) {
        // Inside of the ends, which may lie on a zone's edge.
        for (std::size_t k = 1; k + 1 < line.size(); ++k) {
            const Utm utm = utm_of(placing.on_ground(line[k]));
            zones.insert(utm.zone.substr(0, 2));
            CAPTURE(utm.zone, utm.east, utm.north);
            CHECK((multiple(utm.east, 1000.0) || multiple(utm.north, 1000.0)));
        }
    }
    CHECK(zones.size() == region.zones);
    CHECK((grid.strong_lines.empty()) == (region.zones == 1));
    for (const std::string& zone : zones) {
        CHECK_THAT(grid.words,
                   Catch::Contains(std::to_string(std::stoi(zone)) +
                                   (region.corner.lat_deg > 0.0 ? " north" : " south")));
    }
    for (const GridLabel& label : grid.labels) {
        // The line that the label stands at, a hair inside the frame.
        const Point middle = placing.frame().middle();
        const Point inside{label.at.x + 0.001 * (middle.x - label.at.x),
                           label.at.y + 0.001 * (middle.y - label.at.y)};
        const Utm utm = utm_of(placing.on_ground(inside));
        const bool upright = label.side == Side::top || label.side == Side::bottom;
        const double km = (upright ? utm.east : utm.north) / 1000.0;
        const std::string digits = label.before + label.principal;
        CAPTURE(digits, km);
        CHECK(std::stod(digits) == Approx(km).margin(region.zones > 2 ? 3.0 : 0.6));
    }
}

TEST_CASE("longitudes and latitudes are round, and stand in for UTM near the poles") {
    // UTM ends at 84 degrees north and 80 degrees south.
    const double north_deg = GENERATE(85.5, 84.3, -79.8);
    const coverage::CoverageRaster map =
        map_over({"EPSG:4326", 14.0, north_deg, 0.01, -0.007}, 100, 100);
    const MapPlacing placing(map, {0.0, 0.0, 500.0, 500.0});
    const Graticule grid = graticule(placing, 40.0);
    CHECK(grid.lines.size() > 6);
    CHECK_THAT(grid.words, Catch::Contains("atitude"));
    for (const auto& line : grid.lines) {
        const geo::LatLon a = placing.on_ground(line.front());
        const geo::LatLon b = placing.on_ground(line.back());
        const bool meridian = std::abs(a.lon_deg - b.lon_deg) < 1e-6;
        const double minutes = 60.0 * (meridian ? a.lon_deg : a.lat_deg);
        CHECK(2.0 * minutes == Approx(std::round(2.0 * minutes)).margin(1e-4));
    }
    const auto found =
        std::find_if(grid.labels.begin(), grid.labels.end(),
                     [](const GridLabel& label) { return label.side == Side::left; });
    REQUIRE(found != grid.labels.end());
    CHECK_THAT(found->principal, Catch::EndsWith(north_deg > 0.0 ? "N" : "S"));
}

TEST_CASE("grid north leans from true north by the convergence") {
    // On the sphere, convergence = (longitude - central meridian) times sin(latitude); here 2.5
    // degrees east of 15 E at 47 N: 1.83 degrees. The ellipsoid differs by less than 0.01.
    const geo::LatLon from{47.0, 17.5};
    const auto to = grid_north_of(from, 1000.0);
    REQUIRE(to);
    const double bearing = geo::geodesic_between(from, *to).bearing_deg;
    CHECK(geo::geodesic_between(from, *to).distance_m == Approx(1000.0).epsilon(0.001));
    CHECK(bearing == Approx(2.5 * std::sin(47.0 * 3.14159265 / 180.0)).margin(0.02));
    CHECK_FALSE(grid_north_of({85.0, 17.5}, 1000.0));
}

TEST_CASE("papers have names") {
    CHECK(parse_paper("Letter") == Paper::letter);
    const auto paper = error_of([] { (void)parse_paper("A3"); });
    REQUIRE(paper);
    CHECK(paper->fault() == Fault::usage);
    CHECK_THAT(paper->what(), Catch::Contains("'A3'"));
}

} // namespace
} // namespace earshot::report
