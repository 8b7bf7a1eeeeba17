#include "earshot/coverage/sweep.hpp"
#include "ground.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <vector>

using namespace earshot;

TEST_CASE("example of coverage/sweep.hpp") {
    const terrain::HeightGrid ground = examples::hills();
    const geo::LatLon ridge = examples::ridge;
    const coverage::MapGrid map = coverage::terrain_map_grid(ground, ridge, 2000.0);
    const link::Setting setting{&ground, {}, propagation::Conditions()};
    auto request = link::made_in<coverage::SweepRequest>(setting);
    request.site = ridge;
    request.site_antenna_m = 10.0;
    request.range_m = 2000.0;
    const coverage::SweepResult result = coverage::sweep(map, request);
    // The promise.
    request.engine = coverage::Engine::exact;
    const coverage::SweepResult exact = coverage::sweep(map, request);
    std::vector<double> off_db;
    for (std::size_t cell = 0; cell < exact.loss_db.size(); ++cell) {
        CHECK(std::isnan(result.loss_db[cell]) == std::isnan(exact.loss_db[cell]));
        if (!std::isnan(exact.loss_db[cell])) {
            off_db.push_back(std::abs(static_cast<double>(result.loss_db[cell]) -
                                      static_cast<double>(exact.loss_db[cell])));
        }
    }
    std::sort(off_db.begin(), off_db.end());
    REQUIRE(off_db.size() > 1000);
    CHECK(off_db[off_db.size() * 95 / 100] <= 0.1);
    CHECK(off_db[off_db.size() * 99 / 100] <= 0.5);
}
