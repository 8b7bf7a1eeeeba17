#include "coverage/ground.hpp"
#include "earshot/geo/geodesic.hpp"
#include "earshot/link/path.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

using namespace earshot;

namespace {

struct Pair {
    geo::LatLon a, b;
};

/// Random pairs on a ground, 1 to 25 km apart.
std::vector<Pair> random_pairs(const terrain::HeightGrid& ground, std::size_t count) {
    std::mt19937 random(8);
    std::uniform_real_distribution<double> share(0.0, 1.0);
    const auto place = [&] {
        const double column = share(random) * (ground.columns - 1);
        const double row = share(random) * (ground.rows - 1);
        return ground.georeference.position_of({column, row});
    };
    std::vector<Pair> pairs;
    while (pairs.size() < count) {
        const Pair pair{place(), place()};
        const double distance_m = geo::geodesic_between(pair.a, pair.b).distance_m;
        if (distance_m >= 1000.0 && distance_m <= 25000.0) {
            pairs.push_back(pair);
        }
    }
    return pairs;
}

/// The value that a share of them do not exceed.
double quantile(std::vector<double> values, double share) {
    std::sort(values.begin(), values.end());
    return values[static_cast<std::size_t>(share * static_cast<double>(values.size() - 1))];
}

} // namespace

// Over the points that the path's own ground has, where the standard stands does not hang on where
// the samples fall: from either end, and against profiles eight times as fine as the cells.
TEST_CASE("a pair has one loss, from either end and however finely it is looked at", "[path]") {
    const bool real = GENERATE(true, false);
    const double frequency_mhz = GENERATE(146.0, 446.0);
    // The standard hangs on the ridges alone, which a profile holds; the method for small radios
    // also on the slope of the ground beside them, which finer steps see in more detail.
    const bool standard = GENERATE(true, false);
    CAPTURE(real, frequency_mhz, standard);
    const terrain::HeightGrid ground =
        real ? test::cumberland() : test::rough_ground(800, 800, 300.0);
    propagation::Conditions conditions;
    conditions.frequency_mhz = frequency_mhz;
    conditions.method = standard ? propagation::Method::p1812 : propagation::Method::short_range;
    link::PathPredictor own({&ground, {}, conditions});
    const double cell_m =
        terrain::natural_step_m(ground, ground.georeference.position_of({1.0, 1.0}));
    link::PathPredictor fine({&ground, {}, conditions, cell_m / 8.0});
    constexpr double antenna_m = 1.5;
    std::vector<double> swapped_db;
    std::vector<double> finer_db;
    for (const Pair& pair : random_pairs(ground, 1000)) {
        const double there_db = own.losses(pair.a, antenna_m, pair.b, antenna_m).out_db;
        const double back_db = own.losses(pair.b, antenna_m, pair.a, antenna_m).out_db;
        const double fine_db = fine.losses(pair.a, antenna_m, pair.b, antenna_m).out_db;
        swapped_db.push_back(std::abs(there_db - back_db));
        finer_db.push_back(std::abs(there_db - fine_db));
    }
    CHECK(quantile(swapped_db, 0.99) <= 0.01);
    CHECK(quantile(swapped_db, 1.0) <= 0.2);
    CHECK(quantile(finer_db, 0.5) <= (standard ? 0.02 : 0.06));
    CHECK(quantile(finer_db, 0.99) <= (standard ? 1.0 : 3.0));
}

// A wall that is a single cell wide hides whatever lies behind it, wherever the path crosses it.
TEST_CASE("a ridge a single cell wide hides on every path across it", "[path]") {
    terrain::HeightGrid ground = test::rough_ground(300, 300, 0.0);
    for (int row = 0; row < ground.rows; ++row) {
        ground.height_m[static_cast<std::size_t>(row * ground.columns + 150)] += 60.0F;
    }
    link::PathPredictor predictor({&ground, {}, {}});
    int across = 0;
    for (const Pair& pair : random_pairs(ground, 300)) {
        const double a = ground.georeference.cell_of(pair.a).column;
        const double b = ground.georeference.cell_of(pair.b).column;
        if (std::min(a, b) < 149.0 && std::max(a, b) > 151.0) {
            ++across;
            REQUIRE_FALSE(predictor.loss(pair.a, pair.b, {1.5, 1.5}).sight.clear);
        }
    }
    CHECK(across > 80);
}
