#include "earshot/base/error.hpp"
#include "earshot/link/path.hpp"
#include "link/quality.hpp"
#include "propagation/p1812.hpp"
#include "propagation/vegetation.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <numbers>
#include <random>

using namespace earshot;

namespace {

/// Invented ground: a plain at 100 m in UTM 33N with 30 m cells, and a wall of 60 m across it.
terrain::HeightGrid plain_with_wall() {
    terrain::HeightGrid grid;
    grid.columns = 400;
    grid.rows = 100;
    grid.georeference = terrain::Georeference("EPSG:32633", 500015.0, 5000015.0, 30.0, -30.0);
    for (int row = 0; row < grid.rows; ++row) {
        for (int column = 0; column < grid.columns; ++column) {
            grid.height_m.push_back(column >= 198 && column <= 202 ? 160.0F : 100.0F);
        }
    }
    return grid;
}

link::Station station_at(const terrain::HeightGrid& grid, const char* name, double column) {
    return {name, grid.georeference.position_of({column, 50.0}), 2.0, {}};
}

propagation::Conditions settings() {
    propagation::Conditions settings;
    settings.frequency_mhz = 146.0;
    return settings;
}

} // namespace

TEST_CASE("margins both ways differ by what the radios differ by", "[path]") {
    const terrain::HeightGrid ground = plain_with_wall();
    link::Station a = station_at(ground, "A", 50.0);
    link::Station b = station_at(ground, "B", 150.0);
    b.radio.power_dbm = a.radio.power_dbm - 3.98;
    b.radio.threshold_dbm = -119.0;
    b.radio.antenna_gain_dbi = 6.0; // serves both ways alike
    const link::TwoWayPath path = link::two_way_path({&ground, {}, settings(), 30.0}, a, b);
    // B is 3 dB keener and 3.98 dB weaker: A's call stands 6.98 dB better than B's.
    CHECK(path.outward.budget.margin_db - path.backward.budget.margin_db ==
          Approx(6.98).margin(1e-3));
    CHECK(path.line.distance_m == Approx(3000.0).epsilon(0.001));
    CHECK(path.outward.loss.sight.clear);
    CHECK(path.outward.chance_percent ==
          Approx(link::chance_percent(path.outward.budget.margin_db, path.outward.deviation_db)));
    // Place, time and prediction together are never less than the prediction's own, which is
    // 5 dB or more.
    CHECK(path.outward.deviation_db > path.outward.prediction_deviation_db);
    CHECK(path.outward.prediction_deviation_db >= 5.0);
}

TEST_CASE("a prediction misses by more, the more its path loses beyond free space", "[path]") {
    const propagation::Conditions conditions = settings();
    link::Doubt doubt;
    doubt.distance_m = 10000.0;
    // ITU-R P.525: 32.45 + 20 log10(146) + 20 log10(10) = 95.74 dB.
    const auto beyond = [&](double beyond_db) {
        doubt.median_loss_db = doubt.seldom_loss_db = 95.74 + beyond_db;
        return link::prediction_deviation_db(conditions, doubt);
    };
    // 11 - 6 * 2^(-x / 21) dB, docs/woods-and-noise.md.
    CHECK(beyond(0.0) == Approx(5.0).margin(0.01));
    CHECK(beyond(-3.0) == Approx(5.0).margin(0.01)); // no surer than in sight
    CHECK(beyond(21.0) == Approx(8.0).margin(0.01));
    CHECK(beyond(42.0) == Approx(9.5).margin(0.01));
    CHECK(beyond(300.0) == Approx(11.0).margin(0.01));
    // Places add as roots of squares do, and each end among houses adds 6 dB.
    doubt.median_loss_db = doubt.seldom_loss_db = 95.74 + 21.0;
    doubt.place_db = 6.0;
    CHECK(link::deviation_db(conditions, doubt) == Approx(10.0).margin(0.01));
    CHECK(link::houses_deviation_db(15.0, 0.0) == 6.0);
    CHECK(link::houses_deviation_db(15.0, 16.0) == Approx(std::hypot(6.0, 6.0)));
    CHECK(link::houses_deviation_db(0.0, 2.0) == 1.0); // nearly at the roofs
    // sqrt(8^2 + (20^2 - 8^2) / 4) dB where two models part by 20 dB, whichever way.
    doubt.apart_db = -20.0;
    CHECK(link::prediction_deviation_db(conditions, doubt) ==
          Approx(std::sqrt(148.0)).margin(0.01));
    doubt.apart_db = 7.0; // as two that miss by 8 dB do
    CHECK(link::prediction_deviation_db(conditions, doubt) == Approx(8.0).margin(0.01));
    // What somebody knows goes before all this.
    doubt.apart_db = -20.0;
    propagation::Conditions known = conditions;
    known.prediction_deviation_db = 3.0;
    CHECK(link::prediction_deviation_db(known, doubt) == 3.0);
}

TEST_CASE("chances come true of invented calls, where two models part too", "[path]") {
    // Two models that miss by 8 dB each and share half of what they do not know: their errors are
    // sqrt(1/2) of one deviate that is common and one of their own (docs/woods-and-noise.md).
    std::mt19937 random(5);
    const auto deviate = [&] { // Box and Muller; std::normal_distribution is each library's own
        const auto uniform = [&] { return (static_cast<double>(random()) + 0.5) / 4294967296.0; };
        return std::sqrt(-2.0 * std::log(uniform())) * std::cos(2.0 * std::numbers::pi * uniform());
    };
    const propagation::Conditions conditions = settings();
    link::Doubt doubt;
    doubt.distance_m = 10000.0;
    doubt.median_loss_db = doubt.seldom_loss_db = 95.74 + 21.0; // 8 dB
    struct Tally {
        double calls = 0.0, heard = 0.0;
        [[nodiscard]] double share() const { return heard / calls; }
    };
    Tally all, parted, parted_untold; // of those said to have 70 to 80 %
    for (int call = 0; call < 400000; ++call) {
        const double common_db = std::sqrt(32.0) * deviate();
        const double first_db = common_db + std::sqrt(32.0) * deviate();
        const double apart_db = common_db + std::sqrt(32.0) * deviate() - first_db;
        const double margin_db = 15.0 * deviate();
        const bool heard = margin_db - first_db > 0.0;
        const auto add = [&](Tally& tally, double told_apart_db) {
            doubt.apart_db = told_apart_db;
            const double chance =
                link::chance_percent(margin_db, link::deviation_db(conditions, doubt));
            if (chance >= 70.0 && chance < 80.0) {
                tally.calls += 1.0;
                tally.heard += heard ? 1.0 : 0.0;
            }
        };
        add(all, apart_db);
        if (std::abs(apart_db) >= 14.0) {
            add(parted, apart_db);
            add(parted_untold, std::nan(""));
        }
    }
    CHECK(parted.calls > 1000.0);
    CHECK(all.share() > 0.70);
    CHECK(all.share() < 0.80);
    CHECK(parted.share() > 0.70);
    CHECK(parted.share() < 0.80);
    CHECK(parted_untold.share() < 0.70);
}

TEST_CASE("a wall hides and costs, and the loss is the same from either side", "[path]") {
    const terrain::HeightGrid ground = plain_with_wall();
    // Not the whole standard, whose smooth earth makes low antennas on a plain lose so much that a
    // wall between them can even help (docs/physics-p1812.md).
    propagation::Conditions settings = ::settings();
    settings.method = propagation::Method::bullington_p526;
    const link::TwoWayPath clear =
        link::two_way_path({&ground, {}, settings, 30.0}, station_at(ground, "A", 50.0),
                           station_at(ground, "B", 150.0));
    const link::TwoWayPath blocked =
        link::two_way_path({&ground, {}, settings, 30.0}, station_at(ground, "A", 150.0),
                           station_at(ground, "B", 250.0));
    CHECK_FALSE(blocked.outward.loss.sight.clear);
    CHECK(blocked.outward.loss.basic_loss_db > clear.outward.loss.basic_loss_db + 10.0);
    CHECK(blocked.outward.loss.basic_loss_db ==
          Approx(blocked.backward.loss.basic_loss_db).margin(0.05));
}

TEST_CASE("woods around a terminal cost what P.833 says, on top of the path", "[path]") {
    const terrain::HeightGrid ground = plain_with_wall();
    link::Station a = station_at(ground, "A", 50.0);
    link::Station b = station_at(ground, "B", 150.0);
    a.antenna_height_m = b.antenna_height_m = 1.5; // no higher than where P.833 was measured
    const terrain::GroundCover woods = terrain::GroundCover::uniform(
        {0, "woodland", terrain::Clutter::urban_or_trees, 15.0, true});
    const link::TwoWayPath open = link::two_way_path({&ground, {}, settings(), 30.0}, a, b);
    const link::TwoWayPath path =
        link::two_way_path({&ground, {&woods, nullptr}, settings(), 30.0}, a, b);
    const propagation::PathLoss& loss = path.outward.loss;
    // All of the way is one wood, shared by both ends: no tree is left as an obstacle, and each end
    // has half of the way among trees.
    CHECK(loss.basic_loss_db == Approx(open.outward.loss.basic_loss_db).margin(1e-6));
    CHECK(loss.tx_woodland_depth_m == Approx(1500.0).epsilon(0.02));
    CHECK(loss.rx_woodland_depth_m == Approx(1500.0).epsilon(0.02));
    CHECK(loss.rx_woodland_db ==
          Approx(propagation::woodland_loss_db(
              loss.rx_woodland_depth_m,
              propagation::woodland_loss_per_metre_db(146.0, propagation::Polarization::vertical),
              propagation::greatest_woodland_loss_db(146.0))));
    CHECK(path.outward.budget.received_dbm ==
          Approx(open.outward.budget.received_dbm - loss.tx_woodland_db - loss.rx_woodland_db));
}

TEST_CASE("a path tells where a hand's breadth changes it", "[path]") {
    const terrain::HeightGrid ground = plain_with_wall();
    const link::TwoWayPath path =
        link::two_way_path({&ground, {}, settings(), 30.0}, station_at(ground, "A", 150.0),
                           station_at(ground, "B", 250.0));
    // A wave bends steadily over one wall.
    CHECK(link::unsteadiness_db(path) < 0.5);
    // Two walls alike seen from antennas on the ground: Deygout takes one of them for the main edge
    // and works out the other from it.
    link::TwoWayPath torn = path;
    torn.conditions.method = propagation::Method::deygout;
    torn.a.antenna_height_m = torn.b.antenna_height_m = 10.0;
    const std::size_t points = torn.profile.size();
    for (std::size_t i = 0; i < points; ++i) {
        torn.profile.ground_m[i] = i == points / 8 || i == points - 1 - points / 8 ? 120.0 : 0.0;
    }
    const auto loss_db = [&](double height_m) {
        return propagation::path_loss(torn.profile, {height_m, 10.0}, torn.conditions).total_db();
    };
    torn.outward.loss = propagation::path_loss(torn.profile, {10.0, 10.0}, torn.conditions);
    CHECK(link::unsteadiness_db(torn) >= Approx(std::max(std::abs(loss_db(10.1) - loss_db(10.0)),
                                                         std::abs(loss_db(9.9) - loss_db(10.0)))));
}

TEST_CASE("a path tells what woods would take", "[path]") {
    const terrain::HeightGrid ground = plain_with_wall();
    link::Station a = station_at(ground, "A", 50.0);
    link::Station b = station_at(ground, "B", 150.0);
    a.antenna_height_m = b.antenna_height_m = 1.5;
    const link::TwoWayPath open = link::two_way_path({&ground, {}, settings(), 30.0}, a, b);
    // P.833: 1.37 f^0.42 at either end of a long way.
    CHECK(link::woods_at_both_ends_db(open) ==
          Approx(2.0 * 1.37 * std::pow(146.0, 0.42)).margin(0.02));
    const terrain::GroundCover woods = terrain::GroundCover::uniform(
        {0, "woodland", terrain::Clutter::urban_or_trees, 15.0, true});
    const link::TwoWayPath covered =
        link::two_way_path({&ground, {&woods, nullptr}, settings(), 30.0}, a, b);
    CHECK(covered.outward.loss.total_db() - open.outward.loss.total_db() ==
          Approx(link::woods_at_both_ends_db(open)).margin(0.01));
}

TEST_CASE("a path over the sea is predicted as one", "[path]") {
    const terrain::HeightGrid ground = plain_with_wall();
    const link::Station a = station_at(ground, "A", 10.0);
    const link::Station b = station_at(ground, "B", 190.0);
    const terrain::GroundCover sea =
        terrain::GroundCover::uniform({1, "sea", terrain::Clutter::water, 0.0, false});
    propagation::Conditions seldom = settings();
    seldom.time_percent = 1.0;
    const link::TwoWayPath land = link::two_way_path({&ground, {}, seldom, 30.0}, a, b);
    const link::TwoWayPath water =
        link::two_way_path({&ground, {nullptr, &sea}, seldom, 30.0}, a, b);
    CHECK(land.outward.loss.p1812->geometry.sea_fraction == 0.0);
    CHECK(water.outward.loss.p1812->geometry.sea_fraction == Approx(1.0));
    // Salt water conducts: a wave over it creeps on with less loss (ITU-R P.526, ground constants).
    CHECK(water.outward.loss.basic_loss_db < land.outward.loss.basic_loss_db);
}

TEST_CASE("a path that cannot be predicted says why", "[path]") {
    terrain::HeightGrid ground = plain_with_wall();
    const link::Station a = station_at(ground, "A", 50.0);
    const link::Station b = station_at(ground, "B", 150.0);
    link::Station far = b;
    far.position = {10.0, 10.0};
    CHECK_THROWS_WITH(link::two_way_path({nullptr, {}, settings(), 30.0}, a, far),
                      Catch::Contains("no ground"));
    CHECK_THROWS_WITH(link::PathPredictor({nullptr, {}, settings(), 30.0}),
                      Catch::Contains("no ground"));
    CHECK_THROWS_WITH(link::two_way_path({&ground, {}, settings(), 30.0}, a, far),
                      Catch::Contains("off the elevation"));
    CHECK_THROWS_WITH(link::two_way_path({&ground, {}, settings(), 30.0}, a, a),
                      Catch::Contains("less than 1 m apart"));
    link::Station buried = b;
    buried.antenna_height_m = -1.0;
    CHECK_THROWS_WITH(link::two_way_path({&ground, {}, settings(), 30.0}, a, buried),
                      Catch::Contains("below the ground"));
    for (int row = 40; row < 60; ++row) {
        ground.height_m[static_cast<std::size_t>(row * 400 + 100)] = std::nanf("");
    }
    CHECK_THROWS_WITH(link::two_way_path({&ground, {}, settings(), 30.0}, a, b),
                      Catch::Contains("unknown height"));
    CHECK_THROWS_WITH(
        link::two_way_path({&ground, {}, settings(), 30.0}, a, station_at(ground, "V", 100.0)),
        Catch::Contains("void"));
}

TEST_CASE("a path has a second model's word on it, both ways, and margins if asked", "[path]") {
    const terrain::HeightGrid ground = plain_with_wall();
    const link::Station a = station_at(ground, "A", 100.0);
    const link::Station b = station_at(ground, "B", 280.0);
    const link::Setting setting{&ground, {}, settings(), 0.0};
    const link::TwoWayPath path = link::two_way_path(setting, a, b);
    link::Setting other = setting;
    other.conditions.method = propagation::Method::irregular_terrain;
    const link::TwoWayPath second = link::two_way_path(other, a, b);
    CHECK(path.outward.apart_db ==
          Approx(second.outward.loss.total_db() - path.outward.loss.total_db()).margin(1e-9));
    CHECK(path.backward.apart_db == Approx(path.outward.apart_db).margin(1e-6));
    CHECK(second.outward.apart_db == Approx(-path.outward.apart_db).margin(1e-9));
    link::PathPredictor predictor(setting);
    CHECK(std::isnan(predictor.margins(a, b).apart_db));
    CHECK(predictor.margins(a, b, true).apart_db == Approx(path.outward.apart_db).margin(1e-9));
    // Too near for the second.
    CHECK(std::isnan(
        link::two_way_path(setting, a, station_at(ground, "C", 120.0)).outward.apart_db));
}
