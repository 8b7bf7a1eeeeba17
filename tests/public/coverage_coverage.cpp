#include "earshot/coverage/coverage.hpp"

#include "ground.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <vector>

using namespace earshot;

TEST_CASE("example of coverage/coverage.hpp") {
    const terrain::HeightGrid ground = examples::hills();
    const link::Station ridge{"ridge", examples::ridge, 10.0, {}};
    const link::Setting setting{&ground, {}, propagation::Conditions()};
    auto job = link::made_in<coverage::Job>(setting);
    job.stations = {ridge};
    job.range_m = 2000.0;
    job.bands = {coverage::BandKind::margin, coverage::BandKind::chance};
    const coverage::Result result = coverage::run(job);
    const double heard_km2 = *result.heard_km2;
    CHECK(heard_km2 > 0.0);
    CHECK(heard_km2 <= result.predicted_km2);
    // The promise.
    const coverage::CoverageRaster& map = result.raster;
    link::PathPredictor predictor(setting);
    std::size_t cells = 0;
    std::size_t within_tenth = 0;
    std::size_t within_half = 0;
    for (int row = 0; row < map.rows; ++row) {
        for (int column = 0; column < map.columns; ++column) {
            const std::size_t cell = static_cast<std::size_t>(row * map.columns + column);
            const auto margin_db = static_cast<double>(map.bands.front().values[cell]);
            if (std::isnan(margin_db)) {
                continue;
            }
            link::Station there{"there", map.georeference.position_of({1.0 * column, 1.0 * row}),
                                job.receiver_height_m, job.receiver};
            const double off_db = std::abs(predictor.margins(ridge, there).out_db - margin_db);
            ++cells;
            within_tenth += off_db <= 0.1 ? 1 : 0;
            within_half += off_db <= 0.5 ? 1 : 0;
        }
    }
    REQUIRE(cells > 500);
    CHECK(100 * within_tenth >= 95 * cells);
    CHECK(100 * within_half >= 99 * cells);
}
