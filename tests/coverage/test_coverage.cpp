#include "coverage/areas.hpp"
#include "earshot/base/error.hpp"
#include "earshot/coverage/coverage.hpp"
#include "ground.hpp"
#include "link/quality.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <set>
#include <string>

using namespace earshot;
using coverage::BandKind;

namespace {

constexpr geo::LatLon ridge{36.60, -84.20};

coverage::Job job_on(const terrain::HeightGrid& ground, std::vector<BandKind> bands) {
    coverage::Job job;
    job.ground = &ground;
    job.stations = {{"Ridge", ridge, 6.0, {}}};
    job.receiver_height_m = 1.5;
    job.range_m = 4000.0;
    job.bands = std::move(bands);
    return job;
}

coverage::Result run_of(const coverage::Job& job) {
    ThreadedTask task(2);
    return coverage::run(job, task);
}

const std::vector<float>& values_of(const coverage::Result& result, BandKind kind) {
    const coverage::Band* band = coverage::find_band(result.raster, kind);
    REQUIRE(band != nullptr);
    return band->values;
}

bool same(float a, float b) {
    return a == b || (std::isnan(a) && std::isnan(b));
}

/// Share of cells, known in both, that are the same.
double agreement(const std::vector<float>& a, const std::vector<float>& b) {
    std::size_t agree = 0;
    std::size_t known = 0;
    for (std::size_t i = 0; i < a.size(); ++i) {
        REQUIRE(std::isnan(a[i]) == std::isnan(b[i]));
        known += std::isnan(a[i]) ? 0U : 1U;
        agree += a[i] == b[i] ? 1U : 0U;
    }
    REQUIRE(known > 5000);
    return static_cast<double>(agree) / static_cast<double>(known);
}

} // namespace

TEST_CASE("the table of bands is whole, and no two are taken for one another", "[coverage]") {
    std::set<std::string_view> names;
    std::set<std::string_view> titles;
    int number = 0;
    for (const coverage::BandInfo& info : coverage::band_kinds()) {
        CHECK(static_cast<int>(info.kind) == number++); // each kind once, in order
        CHECK(&coverage::band_info(info.kind) == &info);
        CHECK((info.name.empty() || names.insert(info.name).second));
        CHECK(titles.insert(info.title).second);
        CHECK((info.unit == "dB" || info.unit == "dBm" || info.unit == "%" || info.unit == "1"));
        CHECK((info.for_one || info.for_several));
        coverage::CoverageRaster map;
        map.bands = {{"something else", "1", {}}, {std::string(info.title), "", {}}};
        for (const coverage::BandInfo& other : coverage::band_kinds()) {
            CHECK((coverage::find_band(map, other.kind) == &map.bands[1]) ==
                  (other.kind == info.kind));
        }
    }
    CHECK(number == static_cast<int>(BandKind::best_relay) + 1);
    CHECK(names.size() == 12);
}

TEST_CASE("areas add up cells of known size", "[coverage]") {
    // Squares of 100 m in UTM 16N near its central meridian, where lengths on the ground are 1 /
    // 0.9996 of those on the map: 1 cell = 0.01 / 0.9996^2 km2.
    const coverage::MapGrid map{
        3, 2, terrain::Georeference("EPSG:32616", 500050.0, 4049950.0, 100.0, -100.0)};
    const float unknown = std::nanf("");
    const std::vector<float> values{3.0F, unknown, -0.5F, 0.0F, 2.0F, 6.0F};
    const double cell_km2 = 0.01 / (0.9996 * 0.9996);
    const coverage::Areas any = coverage::measure_areas(values, 0.0, map);
    CHECK(any.known_km2 == Approx(5.0 * cell_km2).epsilon(1e-4));
    CHECK(any.reached_km2 == Approx(4.0 * cell_km2).epsilon(1e-4));
    CHECK(coverage::measure_areas(values, 2.5, map).reached_km2 ==
          Approx(2.0 * cell_km2).epsilon(1e-4));
}

TEST_CASE("the bands of one station are one prediction", "[coverage]") {
    const terrain::HeightGrid ground = test::cumberland();
    coverage::Job job =
        job_on(ground, {BandKind::loss, BandKind::margin, BandKind::received, BandKind::readability,
                        BandKind::sight, BandKind::in_sight});
    job.receiver.threshold_dbm = -90.0;
    const coverage::Result result = run_of(job);
    REQUIRE(result.raster.bands.size() == job.bands.size());
    for (std::size_t k = 0; k < job.bands.size(); ++k) {
        CHECK(result.raster.bands[k].name == coverage::band_info(job.bands[k]).title);
        CHECK(result.raster.bands[k].unit == coverage::band_info(job.bands[k]).unit);
    }
    const double level_dbm = link::received_without_path_dbm(job.first().radio, job.receiver);
    std::size_t known = 0;
    for (std::size_t i = 0; i < values_of(result, BandKind::loss).size(); ++i) {
        const auto at = [&](BandKind kind) {
            return static_cast<double>(values_of(result, kind)[i]);
        };
        if (std::isnan(at(BandKind::loss))) {
            REQUIRE(std::isnan(at(BandKind::margin)));
            REQUIRE(std::isnan(at(BandKind::readability)));
            continue;
        }
        ++known;
        REQUIRE(at(BandKind::received) == Approx(level_dbm - at(BandKind::loss)).margin(1e-4));
        REQUIRE(at(BandKind::margin) == Approx(at(BandKind::received) + 90.0).margin(1e-4));
        REQUIRE(at(BandKind::readability) ==
                static_cast<double>(link::readability(at(BandKind::margin)).readability));
        REQUIRE(at(BandKind::in_sight) == std::min(at(BandKind::sight), 1.0));
    }
    CHECK(known == result.cells_predicted);
    CHECK(result.predicted_km2 == Approx(std::numbers::pi * 16.0).epsilon(0.01));
    REQUIRE(result.heard_km2);
    REQUIRE(result.in_sight_km2);
    CHECK(*result.heard_km2 > *result.in_sight_km2);
    CHECK(*result.heard_km2 < result.predicted_km2);
    REQUIRE(result.short_ground.size() == 1);
    CHECK(result.short_ground.front().share_percent == 0.0);
}

TEST_CASE("several stations: the best in each cell, and who it is", "[coverage]") {
    const terrain::HeightGrid ground = test::cumberland();
    coverage::Job job = job_on(ground, {BandKind::margin, BandKind::heard, BandKind::serving,
                                        BandKind::in_sight, BandKind::margin_with_each});
    job.stations.push_back({"Knob", {36.61, -84.17}, 10.0, {}});
    job.wanted_margin_db = 20.0;
    job.both_ways = true;
    job.stations.front().radio.threshold_dbm = -110.0; // the weaker way, by 6 dB
    const coverage::Result result = run_of(job);
    REQUIRE(result.raster.bands.size() == 6);
    CHECK(result.raster.bands[4].name == "margin with Ridge");
    CHECK(result.raster.bands[5].name == "margin with Knob");
    const std::vector<float>& first = result.raster.bands[4].values;
    const std::vector<float>& second = result.raster.bands[5].values;
    for (std::size_t i = 0; i < first.size(); ++i) {
        const float best = std::fmax(first[i], second[i]);
        REQUIRE(same(values_of(result, BandKind::margin)[i], best));
        if (!std::isnan(best)) {
            REQUIRE(values_of(result, BandKind::heard)[i] ==
                    static_cast<float>(first[i] >= 20.0F) + static_cast<float>(second[i] >= 20.0F));
            REQUIRE(values_of(result, BandKind::serving)[i] ==
                    (best < 20.0F ? 0.0F : (same(best, first[i]) ? 1.0F : 2.0F)));
        }
    }
    // Alone, one way, the first has 6 dB more.
    job.stations.resize(1);
    job.both_ways = false;
    job.bands = {BandKind::margin, BandKind::in_sight};
    job.grid = {true, 100.0};
    const coverage::Result alone = run_of(job);
    job.both_ways = true;
    const std::vector<float>& one_way = values_of(alone, BandKind::margin);
    const coverage::Result weaker = run_of(job);
    for (std::size_t i = 0; i < one_way.size(); ++i) {
        const float both_ways = values_of(weaker, BandKind::margin)[i];
        REQUIRE((std::isnan(both_ways) ? std::isnan(one_way[i])
                                       : std::abs(one_way[i] - both_ways - 6.0F) < 1e-3F));
    }
    CHECK(*result.in_sight_km2 > *alone.in_sight_km2);
    CHECK(result.predicted_km2 > alone.predicted_km2);
}

TEST_CASE("line of sight alone is what it is beside losses", "[coverage]") {
    const auto engine = GENERATE(coverage::Engine::carried, coverage::Engine::exact);
    const bool covered = GENERATE(false, true);
    CAPTURE(coverage::name_of(engine), covered);
    const terrain::HeightGrid ground = test::cumberland();
    const terrain::GroundCover cover = test::patches(ground, 8);
    coverage::Job job = job_on(ground, {BandKind::in_sight});
    job.engine = engine;
    job.layers.cover = covered ? &cover : nullptr;
    const coverage::Result alone = run_of(job);
    job.bands = {BandKind::margin, BandKind::in_sight};
    const coverage::Result beside = run_of(job);
    CHECK(alone.engine == engine);
    CHECK(alone.raster.bands.size() == 1);
    CHECK_FALSE(alone.heard_km2);
    REQUIRE(alone.in_sight_km2);
    CHECK(alone.cells_predicted == beside.cells_predicted);
    CHECK(alone.predicted_km2 == Approx(beside.predicted_km2));
    const double share =
        agreement(values_of(alone, BandKind::in_sight), values_of(beside, BandKind::in_sight));
    CHECK(*alone.in_sight_km2 == Approx(*beside.in_sight_km2).epsilon(0.01));
    // Radials of another density: in a few cells on the rim of what is seen they differ.
    CHECK(share >= (engine == coverage::Engine::exact || covered ? 1.0 : 0.995));
}

TEST_CASE("line of sight alone counts what a void hides", "[coverage]") {
    terrain::HeightGrid ground = test::cumberland();
    const terrain::CellPosition site = ground.georeference.cell_of(ridge);
    for (int row = 0; row < 12; ++row) {
        for (int column = 0; column < 6; ++column) {
            ground.height_m[static_cast<std::size_t>(
                (static_cast<int>(site.row) - 6 + row) * ground.columns +
                static_cast<int>(site.column) + 20 + column)] = std::nanf("");
        }
    }
    coverage::Job job = job_on(ground, {BandKind::in_sight});
    const coverage::Result carried = run_of(job);
    job.engine = coverage::Engine::exact;
    const coverage::Result exact = run_of(job);
    CHECK(carried.cells_off_terrain == 72);
    CHECK(carried.cells_behind_void > 100);
    CHECK(carried.cells_predicted + carried.cells_off_terrain + carried.cells_behind_void ==
          exact.cells_predicted + exact.cells_off_terrain + exact.cells_behind_void);
    CHECK(static_cast<double>(carried.cells_predicted) ==
          Approx(static_cast<double>(exact.cells_predicted)).epsilon(0.01));
}

TEST_CASE("a map that reaches beyond the elevation knows where", "[coverage]") {
    const terrain::HeightGrid ground = test::cumberland();
    coverage::Job job = job_on(ground, {BandKind::margin});
    // The north edge of the sample lies at 36.7329 degrees, some 2.5 km off.
    job.stations.front().position = {36.71, -84.2};
    const coverage::ShortGround found = run_of(job).short_ground.front();
    CHECK(found.share_percent ==
          Approx(100.0 * std::acos(2.54 / 4.0) / std::numbers::pi).margin(3));
    CHECK(found.nearest_m == Approx(2540.0).margin(80.0));
    CHECK((found.nearest_bearing_deg <= 10.0 || found.nearest_bearing_deg >= 350.0));
}

TEST_CASE("cells wider than the range are refused", "[coverage]") {
    const terrain::HeightGrid ground = test::cumberland();
    coverage::Job job = job_on(ground, {BandKind::margin});
    job.grid = {true, 5000.0};
    CHECK_THROWS_WITH(run_of(job), Catch::Contains("smaller cells"));
}

TEST_CASE("what explains a map is whole", "[coverage]") {
    const terrain::HeightGrid ground = test::cumberland();
    coverage::Job job = job_on(ground, {BandKind::margin});
    job.stations.push_back({"Knob", {36.61, -84.17}, 10.0, {}});
    const auto metadata = coverage::metadata_of(job, coverage::Engine::exact, {"t", "c", ""});
    const auto said = [&](const std::string& key) {
        const auto found = std::find_if(metadata.begin(), metadata.end(),
                                        [&](const auto& entry) { return entry.first == key; });
        return found == metadata.end() ? "nothing" : found->second;
    };
    CHECK(said("STATION_NAME") == "Ridge; Knob");
    CHECK(said("STATION_LATITUDE") == "36.60000000; 36.61000000");
    CHECK(said("STATION_ANTENNA_HEIGHT_M") == "6; 10");
    CHECK(said("ENGINE") == "exact");
    CHECK(said("TERRAIN") == "t");
    CHECK(said("GROUND_COVER") == "c");
    CHECK(said("FIELD_CORRECTION") == "none");
    CHECK(said("WARNINGS") == "none");
}
