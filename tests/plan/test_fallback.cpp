#include "coverage/ground.hpp"
#include "earshot/base/error.hpp"
#include "earshot/link/path.hpp"
#include "plan/fallback.hpp"
#include "report/say/plan_words.hpp"
#include "setting.hpp"

#include <catch2/catch.hpp>

using namespace earshot;
using namespace earshot::plan;

namespace {

/// A valley with a station in it, a ridge, and two stations on the plain beyond. Invented.
struct Valley {
    terrain::HeightGrid ground = test::rough_ground(300, 120, 0.0);
    earshot::scenario::Scenario scenario;
    FallbackRequest request;
    std::vector<Pair> pairs;

    Valley() {
        for (int row = 0; row < ground.rows; ++row) {
            for (int column = 90; column < 110; ++column) {
                ground.height_m[static_cast<std::size_t>(row * ground.columns + column)] = 400.0F;
            }
        }
        const auto add = [&](const char* name, double column, double row) {
            link::Station station;
            station.name = name;
            station.position = at(column, row);
            station.antenna_height_m = 1.5;
            station.radio.antenna_gain_dbi = -3.0;
            scenario.stations.push_back(station);
        };
        add("Sisk Clinic Tent", 70.0, 60.0);
        add("Nessavin", 200.0, 60.0);
        add("Quorrel", 210.0, 40.0);
        scenario.listener.antenna_height_m = 1.5;
        scenario.duties.resize(3);
        scenario.air = earshot::scenario::one_channel(scenario.stations, scenario.listener,
                                                      request.hearing.conditions.frequency_mhz);
        request.hearing.step_m = 30.0;
        request.hearing.wanted_margin_db = 20.0;
        request.reach_m = 2000.0;
        request.hearing.ground = &ground;
        pairs = hear_net(scenario.stations, request.hearing);
    }

    [[nodiscard]] geo::LatLon at(double column, double row) const {
        return ground.georeference.position_of({column, row});
    }
    [[nodiscard]] std::size_t talks_from(geo::LatLon position) const {
        link::Station moved = scenario.stations[0];
        moved.position = position;
        std::size_t count = 0;
        for (std::size_t other = 1; other < scenario.stations.size(); ++other) {
            const link::TwoWayPath path = link::two_way_path(
                {&ground, {}, request.hearing.conditions, 30.0}, moved, scenario.stations[other]);
            count += path.outward.budget.margin_db >= request.hearing.wanted_margin_db &&
                             path.backward.budget.margin_db >= request.hearing.wanted_margin_db
                         ? 1
                         : 0;
        }
        return count;
    }
};

} // namespace

TEST_CASE("fallback: up the ridge when the valley hears nobody", "[fallback]") {
    const Valley valley;
    REQUIRE_FALSE(valley.pairs[0].mutual());
    REQUIRE_FALSE(valley.pairs[1].mutual());
    const auto fallbacks = find_fallbacks(valley.scenario, valley.pairs, valley.request);
    REQUIRE(fallbacks.size() == 3);
    REQUIRE(fallbacks[0]);
    CHECK(fallbacks[0]->name.empty());
    CHECK_FALSE(fallbacks[0]->planned);
    CHECK(fallbacks[0]->climb_m == Approx(300.0)); // from 100 m to 400 m
    CHECK(fallbacks[0]->distance_m <= 2000.0);
    CHECK(fallbacks[0]->talks_with == valley.talks_from(fallbacks[0]->position));
    CHECK(fallbacks[0]->talks_with >= 1);
    CHECK(fallbacks[0]->others == 2);
    CHECK_THAT(report::fallback_words(*fallbacks[0]), Catch::Contains("300 m up"));
}

TEST_CASE("fallback: the nearest place that is good enough", "[fallback]") {
    Valley valley;
    valley.scenario.places = {{"Far end of the ridge", valley.at(99.0, 110.0), 1.0},
                              {"Valley floor", valley.at(73.0, 60.0), 1.0}};
    const auto without = find_fallbacks(valley.scenario, valley.pairs, valley.request);
    REQUIRE(without[0]);
    CHECK(without[0]->name.empty()); // high ground is nearer, and the floor hears nobody
    valley.scenario.places.push_back({"Near edge", valley.at(91.0, 60.0), 1.0});
    const auto with = find_fallbacks(valley.scenario, valley.pairs, valley.request);
    REQUIRE(with[0]);
    CHECK(with[0]->distance_m <= without[0]->distance_m + 1.0);
}

TEST_CASE("fallback: the scenario's word goes first", "[fallback]") {
    Valley valley;
    valley.scenario.places = {{"Plain", valley.at(170.0, 60.0), 1.0}};
    valley.scenario.duties[0].fallback = "Plain";
    const auto fallbacks = find_fallbacks(valley.scenario, valley.pairs, valley.request);
    REQUIRE(fallbacks[0]);
    CHECK(fallbacks[0]->planned);
    CHECK(fallbacks[0]->name == "Plain");
    REQUIRE(fallbacks[0]->talks_with == 2);
    CHECK(fallbacks[0]->talks_with == valley.talks_from(valley.at(170.0, 60.0)));
    CHECK(fallbacks[0]->climb_m == Approx(0.0));
    // 100 cells of 30 m to the east.
    CHECK(fallbacks[0]->distance_m == Approx(3000.0).epsilon(0.001));
    CHECK_THAT(report::fallback_words(*fallbacks[0]),
               Catch::StartsWith("Plain, 3 km east (9") &&
                   Catch::EndsWith(" deg): talks with 2 of 2 from there"));
}

TEST_CASE("fallback: a place that helps nobody is not offered, planned or not", "[fallback]") {
    Valley valley;
    valley.scenario.places = {{"Valley floor", valley.at(40.0, 60.0), 1.0}};
    valley.scenario.duties[0].fallback = "Valley floor";
    REQUIRE(valley.talks_from(valley.at(40.0, 60.0)) == 0);
    const auto better = find_fallbacks(valley.scenario, valley.pairs, valley.request);
    REQUIRE(better[0]);
    CHECK(better[0]->found());
    CHECK_FALSE(better[0]->planned);
    CHECK(better[0]->name.empty());
    CHECK_THAT(report::fallback_words(*better[0]),
               Catch::Contains("from Valley floor, as planned, with nobody"));
    // Too far to walk to the ridge: nothing is left to offer.
    valley.request.reach_m = 400.0;
    const auto none = find_fallbacks(valley.scenario, valley.pairs, valley.request);
    REQUIRE(none[0]);
    CHECK_FALSE(none[0]->found());
    CHECK_THAT(report::fallback_words(*none[0]),
               Catch::Contains("no better place was found") && Catch::Contains("within 400 m") &&
                   Catch::Contains("Valley floor, as planned, talks with nobody"));
}

TEST_CASE("fallback: bad requests are refused", "[fallback]") {
    Valley valley;
    valley.request.reach_m = 0.0;
    CHECK_THROWS_AS(find_fallbacks(valley.scenario, valley.pairs, valley.request), Error);
    valley.request.reach_m = 2000.0;
    valley.scenario.stations[1].position = {0.0, 0.0};
    CHECK_THROWS_WITH(find_fallbacks(valley.scenario, valley.pairs, valley.request),
                      Catch::Contains("Nessavin"));
}
