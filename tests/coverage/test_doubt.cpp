#include "coverage/doubt.hpp"
#include "coverage/ground.hpp"
#include "earshot/coverage/coverage.hpp"
#include "earshot/link/path.hpp"
#include "support.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <random>

using namespace earshot;

namespace {

coverage::Job doubt_job(const terrain::HeightGrid& ground, coverage::Engine engine) {
    coverage::Job job;
    job.ground = &ground;
    job.conditions.frequency_mhz = 446.0;
    job.stations = {{"hill", ground.georeference.position_of({150.3, 170.2}), 8.0, {}}};
    job.range_m = 9000.0;
    job.bands = {coverage::BandKind::doubt, coverage::BandKind::loss};
    job.engine = engine;
    return job;
}

struct Compared {
    std::vector<double> away_db; ///< of the map from the path, where both are known; or %
    int disagreed = 0;           ///< cells that one knows and the other does not
};

/// Random cells of the map's first band against `word(predictor, there)` on a path to their
/// centres.
template <typename Word>
Compared against_paths(const coverage::Job& job, int cells, Word word) {
    const coverage::Result result = coverage::run(job);
    const coverage::CoverageRaster& map = result.raster;
    std::mt19937 random(11);
    link::PathPredictor predictor(job);
    Compared compared;
    for (int k = 0; k < cells; ++k) {
        const auto column = static_cast<int>(random() % static_cast<unsigned>(map.columns));
        const auto row = static_cast<int>(random() % static_cast<unsigned>(map.rows));
        const auto cell = static_cast<std::size_t>(row * map.columns + column);
        if (std::isnan(map.bands[1].values[cell])) {
            continue; // out of range
        }
        const link::Station there{
            "there",
            map.georeference.position_of({static_cast<double>(column), static_cast<double>(row)}),
            job.receiver_height_m, job.receiver};
        const double path_db = word(predictor, there);
        const auto map_db = static_cast<double>(map.bands[0].values[cell]);
        compared.disagreed += std::isnan(path_db) != std::isnan(map_db) ? 1 : 0;
        if (!std::isnan(path_db) && !std::isnan(map_db)) {
            compared.away_db.push_back(std::abs(path_db - map_db));
        }
    }
    std::sort(compared.away_db.begin(), compared.away_db.end());
    return compared;
}

Compared against_paths(const coverage::Job& job, int cells) {
    return against_paths(job, cells,
                         [&](link::PathPredictor& predictor, const link::Station& there) {
                             return predictor.margins(job.first(), there, true).apart_db;
                         });
}

double share_within(const Compared& compared, double limit_db) {
    const auto beyond =
        std::upper_bound(compared.away_db.begin(), compared.away_db.end(), limit_db);
    return static_cast<double>(beyond - compared.away_db.begin()) /
           static_cast<double>(compared.away_db.size());
}

} // namespace

TEST_CASE("The band of doubt is a path's word on each cell", "[doubt]") {
    const terrain::HeightGrid ground = test::cumberland();
    coverage::Job job = doubt_job(ground, coverage::Engine::exact);
    SECTION("over bare ground") {}
    SECTION("by the pure standard, for few of the time and places") {
        job.conditions.method = propagation::Method::p1812;
        job.conditions.time_percent = 10.0;
        job.conditions.location_percent = 90.0;
    }
    SECTION("the other way round") {
        job.conditions.method = propagation::Method::irregular_terrain;
    }
    const Compared compared = against_paths(job, 400);
    CHECK(compared.away_db.size() > 200);
    CHECK(compared.disagreed == 0);
    CHECK(compared.away_db.back() < 0.001); // a map holds floats
}

TEST_CASE("Neither cover nor a wall moves the band of doubt", "[doubt]") {
    const terrain::HeightGrid ground = test::cumberland();
    const terrain::GroundCover cover = test::patches(ground, 5);
    coverage::Job job = doubt_job(ground, coverage::Engine::exact);
    job.range_m = 4000.0;
    const std::vector<float> bare = coverage::run(job).raster.bands[0].values;
    job.layers.cover = &cover;
    job.conditions.building_entry = propagation::BuildingEntry{12.0, 5.0};
    CHECK(against_paths(job, 200).away_db.back() < 0.001);
    const std::vector<float> covered = coverage::run(job).raster.bands[0].values;
    for (std::size_t i = 0; i < bare.size(); ++i) {
        CHECK((std::isnan(bare[i]) ? std::isnan(covered[i])
                                   : std::abs(bare[i] - covered[i]) < 0.001F));
    }
}

TEST_CASE("The fast engine keeps to the band of doubt within what its header says", "[doubt]") {
    const int which = GENERATE(0, 1, 2, 3);
    CAPTURE(which);
    const terrain::HeightGrid ground = which == 0   ? test::cumberland()
                                       : which == 1 ? test::rough_ground(400, 400, 300.0)
                                                    : test::rough_ground(400, 400, 600.0);
    coverage::Job job = doubt_job(ground, coverage::Engine::carried);
    if (which == 3) {
        job.grid = {true, 47.0}; // receivers between the centres of the ground's cells
    }
    const Compared compared = against_paths(job, 3000);
    CHECK(compared.away_db.size() > 1000);
    CHECK(compared.disagreed == 0);
    CHECK(share_within(compared, 0.15) >= 0.5);
    CHECK(share_within(compared, 1.2) >= 0.95);
    CHECK(share_within(compared, 3.5) >= 0.99);
    CHECK(compared.away_db.back() < 20.0);
}

TEST_CASE("The fast engine keeps to a path's chance within what the map promises", "[doubt]") {
    const bool real = GENERATE(true, false);
    CAPTURE(real);
    const terrain::HeightGrid ground =
        real ? test::cumberland() : test::rough_ground(400, 400, 600.0);
    coverage::Job job = doubt_job(ground, coverage::Engine::carried);
    job.bands = {coverage::BandKind::chance, coverage::BandKind::loss};
    const Compared compared =
        against_paths(job, 2000, [&](link::PathPredictor& predictor, const link::Station& there) {
            return predictor.path(job.first(), there).outward.chance_percent;
        });
    CHECK(compared.away_db.size() > 700);
    CHECK(compared.disagreed == 0);
    CHECK(share_within(compared, 1.0) >= 0.95);
    CHECK(share_within(compared, 3.0) >= 0.99);
}

TEST_CASE("A method without a second has no band of doubt", "[doubt]") {
    const terrain::HeightGrid ground = test::cumberland();
    coverage::Job job = doubt_job(ground, coverage::Engine::carried);
    job.conditions.method = propagation::Method::bullington;
    CHECK_THAT(testing::message_of(Fault::usage, [&] { (void)coverage::run(job); }),
               Catch::Contains("no second model to doubt method bullington"));
}
