#include "earshot/base/error.hpp"
#include "earshot/coverage/sweep.hpp"
#include "earshot/link/budget.hpp"
#include "earshot/link/path.hpp"
#include "earshot/terrain/profile.hpp"
#include "ground.hpp"
#include "setting.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <cstring>
#include <memory>
#include <vector>

using namespace earshot;

namespace {

coverage::SweepRequest request_at(geo::LatLon site) {
    coverage::SweepRequest request;
    request.site = site;
    request.site_antenna_m = 10.0;
    request.receiver_antenna_m = 1.5;
    request.range_m = 12000.0;
    return request;
}

struct Agreement {
    double within_tenth = 0.0; ///< share of cells within 0.1 dB
    double within_half = 0.0;
    double worst_db = 0.0;
    double same_sight = 0.0;
    std::size_t cells = 0;
};

Agreement compare(const coverage::SweepResult& a, const coverage::SweepResult& b) {
    Agreement agreement;
    for (std::size_t i = 0; i < a.loss_db.size(); ++i) {
        REQUIRE(std::isnan(a.loss_db[i]) == std::isnan(b.loss_db[i]));
        if (std::isnan(a.loss_db[i])) {
            continue;
        }
        const double difference =
            std::abs(static_cast<double>(a.loss_db[i]) - static_cast<double>(b.loss_db[i]));
        ++agreement.cells;
        agreement.within_tenth += difference <= 0.1 ? 1.0 : 0.0;
        agreement.within_half += difference <= 0.5 ? 1.0 : 0.0;
        agreement.worst_db = std::max(agreement.worst_db, difference);
        agreement.same_sight += (a.sight[i] == coverage::SightClass::blocked) ==
                                        (b.sight[i] == coverage::SightClass::blocked)
                                    ? 1.0
                                    : 0.0;
    }
    const auto cells = static_cast<double>(agreement.cells);
    agreement.within_tenth /= cells;
    agreement.within_half /= cells;
    agreement.same_sight /= cells;
    return agreement;
}

} // namespace

// The design's promise: a map cell and a fresh profile to its centre give the same loss to 0.1 dB
// in 95 % of cells and 0.5 dB in 99 %.
TEST_CASE("the carried engine keeps to the exact one", "[sweep]") {
    const auto method = GENERATE(propagation::Method::p1812, propagation::Method::bullington_p526);
    const double time_percent = GENERATE(50.0, 10.0);
    const bool real = GENERATE(true, false);
    CAPTURE(propagation::method_info(method).name, time_percent, real);
    const terrain::HeightGrid ground =
        real ? test::cumberland() : test::rough_ground(400, 400, 150.0);
    const geo::LatLon site =
        real ? geo::LatLon{36.60, -84.20} : ground.georeference.position_of({190.0, 205.0});
    coverage::SweepRequest request = request_at(site);
    request.range_m = 5000.0;
    request.conditions.method = method;
    request.conditions.time_percent = time_percent;
    const coverage::MapGrid map = coverage::terrain_map_grid(ground, site, request.range_m);
    const coverage::SweepResult carried = coverage::sweep(map, test::on(ground, request));
    CHECK(carried.engine == coverage::Engine::carried);
    request.engine = coverage::Engine::exact;
    const coverage::SweepResult exact = coverage::sweep(map, test::on(ground, request));
    CHECK(exact.engine == coverage::Engine::exact);
    const Agreement agreement = compare(carried, exact);
    CAPTURE(agreement.worst_db);
    CHECK(agreement.cells > 10000);
    CHECK(agreement.within_tenth >= 0.95);
    CHECK(agreement.within_half >= 0.99);
    CHECK(agreement.same_sight >= 0.999);
    CHECK(carried.cells_predicted == exact.cells_predicted);
}

// Receivers stand anywhere between the centres of the ground's cells.
TEST_CASE("the carried engine keeps to the exact one on a grid that is not the ground's",
          "[sweep]") {
    const terrain::HeightGrid ground = test::cumberland();
    const geo::LatLon site{36.60, -84.20};
    coverage::SweepRequest request = request_at(site);
    request.range_m = 6000.0;
    const coverage::MapGrid map = coverage::utm_map_grid(site, request.range_m, 60.0);
    const coverage::SweepResult carried = coverage::sweep(map, test::on(ground, request));
    CHECK(carried.engine == coverage::Engine::carried);
    request.engine = coverage::Engine::exact;
    const Agreement agreement = compare(carried, coverage::sweep(map, test::on(ground, request)));
    CAPTURE(carried.radials_per_rim_cell, agreement.worst_db);
    CHECK(agreement.cells > 20000);
    CHECK(agreement.within_tenth >= 0.95);
    CHECK(agreement.within_half >= 0.99);
    CHECK(agreement.same_sight >= 0.999);
}

TEST_CASE("the carried engine keeps to the exact one over woods and houses", "[sweep]") {
    const terrain::HeightGrid ground = test::rough_ground(260, 240, 60.0);
    const geo::LatLon site = ground.georeference.position_of({130.0, 120.0});
    // Invented cover in patches of 8 by 8 cells, as classes of the table for ESA WorldCover.
    const auto cover = test::patches(ground, 8);
    coverage::SweepRequest request = request_at(site);
    request.site_antenna_m = GENERATE(2.0, 25.0);
    request.range_m = 3500.0;
    request.layers.cover = &cover;
    request.conditions.woodland_factor = 1.4; // as a field correction would have it
    const coverage::MapGrid map = coverage::terrain_map_grid(ground, site, request.range_m);
    const coverage::SweepResult fast = coverage::sweep(map, test::on(ground, request));
    CHECK(fast.engine == coverage::Engine::carried);
    request.engine = coverage::Engine::exact;
    const Agreement agreement = compare(fast, coverage::sweep(map, test::on(ground, request)));
    CAPTURE(fast.radials_per_rim_cell, agreement.worst_db, agreement.cells);
    // The edges of the patches are sharp: a radial that passes a corner on one side and its
    // neighbour on the other see different woods.
    CHECK(agreement.within_tenth >= 0.90);
    CHECK(agreement.within_half >= 0.95);
    CHECK(agreement.same_sight >= 0.98);
}

TEST_CASE("the engines agree on antennas below roofs, and over a surface", "[sweep]") {
    terrain::HeightGrid ground = test::rough_ground(200, 200, 60.0);
    const auto cover = test::patches(ground, 8);
    const auto rule = GENERATE(propagation::Houses::statistical, propagation::Houses::obstacles);
    ground.kind = GENERATE(terrain::GroundKind::bare, terrain::GroundKind::surface);
    // The first cell from the middle that is among houses.
    geo::LatLon site;
    for (double column = 100.0;; column += 1.0) {
        site = ground.georeference.position_of({column, 100.0});
        const terrain::CoverClass& here = cover.at(ground.georeference.cell_of(site));
        if (here.height_m > 0.0 && !here.woodland) {
            break;
        }
    }
    coverage::SweepRequest request = request_at(site);
    request.site_antenna_m = 2.0;
    request.range_m = 2000.0;
    request.layers.cover = &cover;
    request.conditions.houses = rule;
    const coverage::MapGrid map = coverage::terrain_map_grid(ground, site, request.range_m);
    const coverage::SweepResult fast = coverage::sweep(map, test::on(ground, request));
    CHECK(fast.engine == coverage::Engine::carried);
    request.engine = coverage::Engine::exact;
    const Agreement agreement = compare(fast, coverage::sweep(map, test::on(ground, request)));
    CAPTURE(static_cast<int>(rule), static_cast<int>(ground.kind), agreement.worst_db);
    CHECK(agreement.cells > 5000);
    CHECK(agreement.within_tenth >= 0.90); // the patches' edges are sharp, as above
    CHECK(agreement.within_half >= 0.95);
    CHECK(agreement.same_sight >= 0.98);
}

// Each cell has its own share of a correction; so has the path to its centre.
TEST_CASE("a field correction fades alike in both engines and in a path", "[sweep]") {
    const terrain::HeightGrid ground = test::rough_ground(260, 240, 60.0);
    const geo::LatLon site = ground.georeference.position_of({130.0, 120.0});
    const auto cover = test::patches(ground, 8);
    coverage::SweepRequest request = request_at(site);
    request.site_antenna_m = 2.0;
    request.range_m = 3500.0;
    request.layers.cover = &cover;
    const coverage::MapGrid map = coverage::terrain_map_grid(ground, site, request.range_m);
    const coverage::SweepResult standard = coverage::sweep(map, test::on(ground, request));
    request.radials_per_rim_cell = standard.radials_per_rim_cell; // the same in all
    request.conditions.woodland_factor = 1.4;
    request.conditions.field_offset_db = -6.0;
    const coverage::SweepResult whole = coverage::sweep(map, test::on(ground, request));
    // Calls were made 12 km away from the site: from a tenth to a quarter of the correction is
    // left.
    request.field_reach = std::make_shared<link::FieldReach>(
        std::vector{geo::geodesic_destination(site, 90.0, 12000.0)}, 0.0, 8.0);
    const coverage::SweepResult fast = coverage::sweep(map, test::on(ground, request));
    request.engine = coverage::Engine::exact;
    const coverage::SweepResult exact = coverage::sweep(map, test::on(ground, request));
    const Agreement agreement = compare(fast, exact);
    CAPTURE(agreement.worst_db, agreement.cells);
    CHECK(agreement.within_tenth >= 0.90);
    CHECK(agreement.within_half >= 0.95);
    std::size_t between = 0;
    std::size_t cells = 0;
    for (std::size_t i = 0; i < fast.loss_db.size(); ++i) {
        if (std::isnan(fast.loss_db[i])) {
            continue;
        }
        ++cells;
        between += fast.loss_db[i] > standard.loss_db[i] + 0.3F &&
                           fast.loss_db[i] < whole.loss_db[i] - 2.0F
                       ? 1U
                       : 0U;
    }
    CHECK(cells > 1000);
    CHECK(between == cells);
}

TEST_CASE("on flat ground the two engines agree everywhere", "[sweep]") {
    const terrain::HeightGrid ground = test::rough_ground(300, 300, 0.0);
    const geo::LatLon site = ground.georeference.position_of({150.2, 149.7});
    coverage::SweepRequest request = request_at(site);
    const coverage::MapGrid map = coverage::terrain_map_grid(ground, site, request.range_m);
    const coverage::SweepResult carried = coverage::sweep(map, test::on(ground, request));
    request.engine = coverage::Engine::exact;
    const Agreement agreement = compare(carried, coverage::sweep(map, test::on(ground, request)));
    // The carried engine takes the smooth earth at its peak, the exact one at the profile's points.
    CHECK(agreement.within_tenth >= 0.9999);
    CHECK(agreement.worst_db < 0.13);
}

// Aimed at: 99.5 % of cells.
TEST_CASE("sight alone agrees with a fresh profile to every cell", "[sweep]") {
    const bool real = GENERATE(true, false);
    const terrain::HeightGrid ground =
        real ? test::cumberland() : test::rough_ground(400, 400, 150.0);
    const geo::LatLon site =
        real ? geo::LatLon{36.60, -84.20} : ground.georeference.position_of({190.0, 205.0});
    coverage::SweepRequest request = request_at(site);
    request.sight_only = true;
    request.conditions.method = propagation::Method::free_space;
    const coverage::MapGrid map = coverage::terrain_map_grid(ground, site, request.range_m);
    const coverage::SweepResult carried = coverage::sweep(map, test::on(ground, request));
    CHECK(carried.loss_db.empty());
    request.engine = coverage::Engine::exact;
    const coverage::SweepResult exact = coverage::sweep(map, test::on(ground, request));
    std::size_t cells = 0;
    std::size_t differ = 0;
    for (std::size_t i = 0; i < exact.sight.size(); ++i) {
        if (exact.sight[i] != coverage::SightClass::unknown) {
            ++cells;
            differ += carried.sight[i] == exact.sight[i] ? 0U : 1U;
        }
    }
    CHECK(cells > 50000);
    CHECK(static_cast<double>(differ) < 0.005 * static_cast<double>(cells));
    CHECK(carried.cells_predicted == exact.cells_predicted);
}

// Which thread takes which part of a map is chance; nothing may hang on it.
TEST_CASE("a map is the same to the last bit on any number of threads", "[sweep]") {
    const bool covered = GENERATE(false, true);
    const double time_percent = GENERATE(50.0, 10.0);
    CAPTURE(covered, time_percent);
    const terrain::HeightGrid ground =
        covered ? test::rough_ground(240, 240, 90.0) : test::cumberland();
    const geo::LatLon site =
        covered ? ground.georeference.position_of({120.0, 120.0}) : geo::LatLon{36.60, -84.20};
    const auto cover = test::patches(ground, 8);
    coverage::SweepRequest request = request_at(site);
    request.range_m = covered ? 3000.0 : 12000.0;
    request.layers.cover = covered ? &cover : nullptr;
    request.conditions.method = propagation::Method::p1812;
    request.conditions.time_percent = time_percent;
    const coverage::MapGrid map = coverage::terrain_map_grid(ground, site, request.range_m);
    const coverage::SweepResult first = coverage::sweep(map, test::on(ground, request));
    for (const unsigned threads : {1U, 2U, 2U, 8U, 8U}) {
        CAPTURE(threads);
        ThreadedTask task(threads);
        const coverage::SweepResult again = coverage::sweep(map, test::on(ground, request), task);
        CHECK(again.radials_per_rim_cell == first.radials_per_rim_cell);
        CHECK(again.sight == first.sight);
        REQUIRE(again.loss_db.size() == first.loss_db.size());
        CHECK(std::memcmp(again.loss_db.data(), first.loss_db.data(),
                          first.loss_db.size() * sizeof(float)) == 0);
    }
}

TEST_CASE("a map cell and the path to its centre are one prediction", "[sweep]") {
    const terrain::HeightGrid ground = test::cumberland();
    const geo::LatLon site{36.60, -84.20};
    coverage::SweepRequest request = request_at(site);
    request.engine = coverage::Engine::exact;
    request.range_m = 6000.0;
    const coverage::MapGrid map = coverage::terrain_map_grid(ground, site, request.range_m);
    const coverage::SweepResult result = coverage::sweep(map, test::on(ground, request));
    int compared = 0;
    for (int row = 3; row < map.rows; row += 17) {
        for (int column = 5; column < map.columns; column += 19) {
            const auto cell = static_cast<std::size_t>(row * map.columns + column);
            if (std::isnan(result.loss_db[cell])) {
                continue;
            }
            link::Station a{"a", site, request.site_antenna_m, {}};
            link::Station b{"b",
                            map.georeference.position_of(
                                {static_cast<double>(column), static_cast<double>(row)}),
                            request.receiver_antenna_m,
                            {}};
            const link::TwoWayPath path =
                link::two_way_path({&ground, {}, request.conditions, request.step_m}, a, b);
            CHECK(static_cast<double>(result.loss_db[cell]) ==
                  Approx(path.outward.loss.total_db()).margin(1e-3));
            ++compared;
        }
    }
    CHECK(compared > 20);
}

TEST_CASE("2 W to 5 W is 4 dB in every cell, because power adds to every budget alike", "[sweep]") {
    // Trade fact (common practice, no source): about 4 dB. 10 log10(5 / 2) = 3.98 dB.
    link::Radio two_watts;
    two_watts.power_dbm = 10.0 * std::log10(2000.0);
    link::Radio five_watts;
    five_watts.power_dbm = 10.0 * std::log10(5000.0);
    const double gained_db = link::received_without_path_dbm(five_watts, {}) -
                             link::received_without_path_dbm(two_watts, {});
    CHECK(gained_db == Approx(3.98).margin(0.005));
}

TEST_CASE("a void hides what lies behind it, and is never sea level", "[sweep]") {
    for (const auto engine : {coverage::Engine::carried, coverage::Engine::exact}) {
        terrain::HeightGrid ground = test::rough_ground(200, 200, 20.0);
        for (int row = 90; row < 110; ++row) {
            for (int column = 130; column < 140; ++column) {
                ground.height_m[static_cast<std::size_t>(row * 200 + column)] = std::nanf("");
            }
        }
        const geo::LatLon site = ground.georeference.position_of({100.0, 100.0});
        coverage::SweepRequest request = request_at(site);
        request.engine = engine;
        request.range_m = 2900.0;
        const coverage::MapGrid map = coverage::terrain_map_grid(ground, site, request.range_m);
        const coverage::SweepResult result = coverage::sweep(map, test::on(ground, request));
        const auto loss_at = [&](int column, int row) {
            const terrain::CellPosition cell = map.georeference.cell_of(
                ground.georeference.position_of({1.0 * column, 1.0 * row}));
            return result.loss_db[static_cast<std::size_t>(std::lround(cell.row) * map.columns +
                                                           std::lround(cell.column))];
        };
        CHECK(std::isnan(loss_at(135, 100)));
        CHECK(std::isnan(loss_at(160, 100)));
        CHECK_FALSE(std::isnan(loss_at(120, 100)));
        CHECK_FALSE(std::isnan(loss_at(60, 100)));
        CHECK(result.cells_off_terrain > 100);
        CHECK(result.cells_behind_void > 100);
    }
}

TEST_CASE("a station without ground under it is refused", "[sweep]") {
    const terrain::HeightGrid ground = test::rough_ground(50, 50, 20.0);
    const coverage::SweepRequest request = request_at({10.0, 10.0});
    const coverage::MapGrid map{10, 10, ground.georeference};
    CHECK_THROWS_WITH(coverage::sweep(map, test::on(ground, request)),
                      Catch::Contains("no ground height at the station"));
}
