#include "field/walk_test.hpp"
#include "maths/statistics.hpp"
#include "report/say/field_words.hpp"
#include "scenario/scenario_text.hpp"

#include <catch2/catch.hpp>
#include <fmt/format.h>

#include <cmath>
#include <map>
#include <set>
#include <string>

namespace earshot::field {

using namespace scenario;

namespace {

using test::sample_ground;
using test::ScenarioFolder;

const Scenario& walked_scenario() {
    static const ScenarioFolder folder;
    static const Scenario read = read_scenario(folder.write(
        "net.toml", test::least_scenario() + "[listener]\nantenna_height_m = 1.5\nradio = "
                                             "\"handheld\"\nantenna = \"stock\"\n"));
    return read;
}

SetUp set_up(const std::string& name, double power_dbm, const std::string& antenna) {
    SetUp result;
    result.name = name;
    result.power_dbm = power_dbm;
    result.antenna = antenna;
    return result;
}

WalkRequest walk_request() {
    WalkRequest request;
    request.title = "Trial";
    request.prediction.ground = &sample_ground();
    request.prediction.scenario = &walked_scenario();
    request.prediction.conditions = walked_scenario().conditions;
    request.prediction.step_m = 90.0;
    request.way = points_toward(walked_scenario().stations.front().position, 60.0, 9000.0, 300.0);
    request.set_ups = {set_up("low", 33.01, "stock"), set_up("high", 36.99, "stock"),
                       set_up("tall", 36.99, "half-wave"), set_up("best", 40.0, "half-wave")};
    request.stops = 8;
    request.apart_m = 400.0;
    return request;
}

} // namespace

TEST_CASE("orders of set-ups are balanced", "[walk-test]") {
    // E. J. Williams, 1949: each treatment as often at each place, and as often directly after each
    // other one.
    for (std::size_t count = 1; count <= 9; ++count) {
        const auto rows = balanced_orders(count);
        CHECK(rows.size() == (count % 2 == 0 || count == 1 ? count : 2 * count));
        std::map<std::pair<std::size_t, std::size_t>, std::size_t> at_place;
        std::map<std::pair<std::size_t, std::size_t>, std::size_t> after;
        for (const auto& row : rows) {
            CHECK(std::set(row.begin(), row.end()).size() == count);
            for (std::size_t k = 0; k < count; ++k) {
                ++at_place[{k, row[k]}];
                if (k > 0) {
                    ++after[{row[k - 1], row[k]}];
                }
            }
        }
        CHECK(at_place.size() == count * count);
        CHECK(after.size() == count * (count - 1));
        for (const auto& [where, times] : at_place) {
            CHECK(times == rows.size() / count);
        }
        for (const auto& [which, times] : after) {
            CHECK(times == rows.size() / count);
        }
    }
}

TEST_CASE("the information of a score is Fisher's", "[walk-test]") {
    // By its definition, the mean of the squared slope of the logarithm of the probability, with
    // slopes from differences.
    const auto classes = link::readability_classes();
    const auto chance = [&](std::size_t k, double margin_db, double deviation_db) {
        const auto below = [&](std::size_t limit) {
            return limit == 0 ? 0.0
                   : limit == classes.size()
                       ? 1.0
                       : maths::normal_probability((classes[limit].least_margin_db - margin_db) /
                                                   deviation_db);
        };
        return below(k + 1) - below(k);
    };
    for (const double margin_db : {-20.0, -4.0, 0.0, 3.0, 12.0, 25.0}) {
        for (const double deviation_db : {4.0, 9.0}) {
            double expected = 0.0;
            constexpr double h = 1e-4;
            for (std::size_t k = 0; k < classes.size(); ++k) {
                const double slope = (chance(k, margin_db + h, deviation_db) -
                                      chance(k, margin_db - h, deviation_db)) /
                                     (2.0 * h);
                const double p = chance(k, margin_db, deviation_db);
                expected += p > 0.0 ? slope * slope / p : 0.0;
            }
            const double found = score_information(margin_db, deviation_db);
            CHECK(found == Approx(expected).epsilon(1e-5));
            // A score says no more than the margin itself would (R. A. Fisher's bound).
            CHECK(found < 1.0 / (deviation_db * deviation_db));
        }
    }
    CHECK(score_information(3.0, 8.0) > score_information(25.0, 8.0));
    CHECK(score_information(1000.0, 8.0) == Approx(0.0).margin(1e-12));
    CHECK_THROWS_AS(score_information(0.0, 0.0), Error);
}

TEST_CASE("points lie evenly along a way", "[walk-test]") {
    const geo::LatLon start{36.6, -84.2};
    const geo::LatLon corner = geo::geodesic_destination(start, 90.0, 1000.0);
    const geo::LatLon end = geo::geodesic_destination(corner, 0.0, 550.0);
    const std::vector<std::vector<geo::LatLon>> lines{{start, corner, end}};
    const auto points = points_along(lines, 300.0);
    REQUIRE(points.size() == 7); // 0, 300 ... 1500 and the end at 1550
    CHECK(points[6].along_m == Approx(1550.0).margin(1e-6));
    // 1200 m along is 200 m beyond the corner.
    CHECK(geo::geodesic_between(corner, points[4].position).distance_m ==
          Approx(200.0).margin(1e-3));
    CHECK(points_toward(start, 45.0, 1000.0, 250.0).size() == 4);
    CHECK_THROWS_AS(points_along(lines, 0.0), Error);
    CHECK_THROWS_AS(points_along(lines, 1e-4), Error);
    CHECK_THROWS_AS(points_along({}, 100.0), Error);
    CHECK_THROWS_AS(points_toward(start, 45.0, 100.0, 250.0), Error);
}

TEST_CASE("a walk test is planned and its log read back", "[walk-test]") {
    const WalkRequest wanted = walk_request();
    const WalkPlan plan = plan_walk(wanted);
    REQUIRE(plan.stops.size() == 8);
    CHECK(plan.base == "Camp");
    CHECK(plan.calls() == 8 * 4 * 2);
    for (std::size_t a = 0; a < plan.stops.size(); ++a) {
        for (std::size_t b = 0; b < a; ++b) {
            CHECK(
                geo::geodesic_between(plan.stops[a].position, plan.stops[b].position).distance_m >=
                wanted.apart_m);
        }
        CHECK((a == 0 || plan.stops[a].along_m > plan.stops[a - 1].along_m));
    }
    // What was left out of a set-up has come from the listener.
    CHECK(plan.set_ups[0].antenna_height_m == 1.5);

    std::string csv = log_csv(plan);
    for (std::size_t at = csv.find(",,,,\n"); at != std::string::npos;
         at = csv.find(",,,,\n", at)) {
        csv.insert(at + 1, 1, '3');
    }
    const ScenarioFolder folder;
    const FieldLog log = read_field_log(folder.write("log.csv", csv));
    REQUIRE(log.calls.size() == plan.calls());
    CHECK(log.bad_rows.empty());
    CHECK(log.notes.empty());
    std::size_t index = 0;
    for (const PlannedStop& stop : plan.stops) {
        for (const PlannedCall& call : stop.calls) {
            const FieldCall& read = log.calls[index++];
            CHECK(read.stop == stop.name);
            CHECK(read.position.lat_deg == Approx(stop.position.lat_deg).margin(1e-6));
            CHECK(read.direction == call.direction);
            CHECK(read.base == "Camp");
            CHECK(read.set_up.name == plan.set_ups[call.set_up].name);
            CHECK(*read.set_up.power_dbm ==
                  Approx(*plan.set_ups[call.set_up].power_dbm).margin(0.01));
            CHECK(read.set_up.antenna == plan.set_ups[call.set_up].antenna);
        }
    }
}

TEST_CASE("stops are where scores tell most", "[walk-test]") {
    WalkRequest wanted = walk_request();
    const auto information = [&](StopChoice choice) {
        wanted.choice = choice;
        const WalkPlan plan = plan_walk(wanted);
        double sum = 0.0;
        for (const PlannedStop& stop : plan.stops) {
            for (const PlannedCall& call : stop.calls) {
                sum += score_information(call.margin_db, 9.0);
            }
        }
        return sum / static_cast<double>(plan.calls());
    };
    const double uncertain = information(StopChoice::uncertain);
    CHECK(uncertain > 1.1 * information(StopChoice::even));
    CHECK(uncertain >= information(StopChoice::useful));
}

TEST_CASE("walk tests that make no sense are refused", "[walk-test]") {
    WalkRequest wanted = walk_request();
    SECTION("no set-up") {
        wanted.set_ups.clear();
    }
    SECTION("a set-up twice") {
        wanted.set_ups[1].name = "low";
    }
    SECTION("no stops") {
        wanted.stops = 0;
    }
    SECTION("no way") {
        wanted.way.clear();
    }
    SECTION("an unknown antenna") {
        wanted.set_ups[0].antenna = "clothes line";
    }
    SECTION("a way off the ground") {
        wanted.way = points_toward({10.0, 10.0}, 0.0, 1000.0, 100.0);
    }
    CHECK_THROWS_AS(plan_walk(wanted), Error);
}

TEST_CASE("fewer stops than wanted are told of", "[walk-test]") {
    WalkRequest wanted = walk_request();
    wanted.apart_m = 3000.0;
    const WalkPlan plan = plan_walk(wanted);
    CHECK(plan.stops.size() < 5);
    const std::vector<std::string> notes = report::walk_notes(plan);
    REQUIRE_FALSE(notes.empty());
    CHECK(notes[0].find("of 8 wanted") != std::string::npos);
}

} // namespace earshot::field
