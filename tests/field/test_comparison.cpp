#include "field/comparison.hpp"
#include "field/verification.hpp"
#include "geo/units.hpp"
#include "link/handheld.hpp"
#include "report/say/field_words.hpp"
#include "scenario/scenario_text.hpp"
#include "setting.hpp"

#include <catch2/catch.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <string>

namespace earshot::field {

using namespace scenario;

namespace {

using test::sample_ground;
using test::ScenarioFolder;

const Scenario& scenario() {
    static const ScenarioFolder folder;
    static const Scenario read = read_scenario(folder.write(
        "net.toml", test::least_scenario() + "[[antennas]]\nname = \"wire\"\ngain_dbi = 1\n"
                                             "[[set_ups]]\nname = \"tall\"\nantenna_height_m = 4\n"
                                             "radio = \"handheld\"\nantenna = \"wire\"\n"
                                             "[listener]\nantenna_height_m = 1.5\n"
                                             "radio = \"handheld\"\nantenna = \"stock\"\n"));
    return read;
}

ComparisonRequest request() {
    ComparisonRequest request;
    request.scenario = &scenario();
    request.conditions = scenario().conditions;
    request.step_m = 90.0;
    return request;
}

FieldCall call_at(geo::LatLon position, const std::string& set_up, CallDirection direction) {
    FieldCall call;
    call.stop = "Ford";
    call.position = position;
    call.set_up.name = set_up;
    call.direction = direction;
    call.score = 3;
    return call;
}

const geo::LatLon ford{36.62, -84.15};

// ---- invented calls with a known truth ----------------------------------------------------------

/// Draws what is heard at stops where predictions run from weak to strong.
class Invention {
public:
    explicit Invention(unsigned seed) : random_(seed) {}

    double bias_db = 0.0;
    double gain_error_db = 0.0; ///< heard less predicted gain of the second set-up
    double stop_db = 5.0;
    double call_db = 3.0;

    std::vector<ComparedCall> calls(std::size_t stops, std::size_t times = 1) {
        std::vector<ComparedCall> made;
        std::normal_distribution<double> normal;
        for (std::size_t s = 0; s < stops; ++s) {
            const double here_db = stop_db * normal(random_);
            const double margin_db =
                -8.0 + 20.0 * static_cast<double>(s) / static_cast<double>(stops);
            for (std::size_t n = 0; n < 2 * times; ++n) {
                const bool second = n % 2 == 1;
                ComparedCall call;
                call.stop = fmt::format("{}", s);
                call.set_up.name = second ? "high" : "low";
                call.mover_power_dbm = second ? 37.0 : 33.0;
                call.median_margin_db = margin_db + (second ? 4.0 : 0.0);
                call.margin_db = call.median_margin_db;
                const double heard_db = call.median_margin_db + bias_db +
                                        (second ? gain_error_db : 0.0) + here_db +
                                        call_db * normal(random_);
                call.score = static_cast<int>(link::readability(heard_db).readability);
                made.push_back(call);
            }
        }
        return made;
    }

private:
    std::mt19937 random_;
};

} // namespace

TEST_CASE("calls are predicted as paths are", "[comparison]") {
    FieldLog log;
    log.calls = {call_at(ford, "usual", CallDirection::from_mover),
                 call_at(ford, "usual", CallDirection::to_mover)};
    log.calls[1].set_up.power_dbm = 33.0;
    const Predictions predictions = predict_calls(log, test::on(sample_ground(), request()));
    REQUIRE(predictions.calls.size() == 2);
    link::Station mover = scenario().listener;
    mover.position = ford;
    const link::TwoWayPath path = link::two_way_path(
        {&sample_ground(), {}, scenario().conditions, 90.0}, scenario().stations.front(), mover);
    CHECK(predictions.calls[0].margin_db == path.backward.budget.margin_db);
    CHECK(predictions.calls[0].chance_percent == path.backward.chance_percent);
    // With the mover's power turned down the base is heard as before.
    CHECK(predictions.calls[1].margin_db == path.outward.budget.margin_db);
    CHECK(predictions.calls[1].distance_m == path.line.distance_m);
    CHECK(predictions.calls[1].bearing_deg == path.line.bearing_deg);
}

TEST_CASE("set-ups change predictions by what they are", "[comparison]") {
    FieldLog log;
    const auto add = [&](const std::string& name) -> SetUp& {
        log.calls.push_back(call_at(ford, name, CallDirection::from_mover));
        return log.calls.back().set_up;
    };
    add("usual");
    add("low").power_dbm = geo::dbm_from_watts(1.0);
    add("dipole").antenna = "dipole";
    add("wire").antenna = "Wire";
    add("gain").antenna_gain_dbi = 3.0;
    add("hip").carried = "hip";
    add("tall");
    const auto calls = predict_calls(log, test::on(sample_ground(), request())).calls;
    REQUIRE(calls.size() == 7);
    const auto gain_db = [&](std::size_t k) { return calls[k].margin_db - calls[0].margin_db; };
    const double stock_dbi = link::antenna_gain_dbi("stock", 146.52);
    CHECK(gain_db(1) == Approx(-6.9897).margin(1e-4)); // 10 log10(1/5)
    CHECK(gain_db(2) == Approx(2.15 - stock_dbi));
    CHECK(gain_db(3) == Approx(1.0 - stock_dbi));
    CHECK(gain_db(4) == Approx(3.0 - stock_dbi));
    // The usual one is at the face, as the scenario does not say where.
    CHECK(gain_db(5) == Approx(link::body_loss_db(link::Carried::at_face, 146.52) -
                               link::body_loss_db(link::Carried::on_hip, 146.52)));
    CHECK(calls[6].mover_height_m == 4.0);
    CHECK(calls[6].mover_gain_dbi == 1.0);
    CHECK(calls[6].antenna == "wire");
}

TEST_CASE("calls that cannot be predicted are listed", "[comparison]") {
    FieldLog log;
    log.calls = {call_at(ford, "usual", CallDirection::from_mover),
                 call_at({10.0, 10.0}, "usual", CallDirection::from_mover),
                 call_at(ford, "usual", CallDirection::from_mover),
                 call_at(ford, "odd", CallDirection::from_mover)};
    log.calls[1].line = 11;
    log.calls[2].base = "Nobody";
    log.calls[3].set_up.antenna = "clothes line";
    const Predictions predictions = predict_calls(log, test::on(sample_ground(), request()));
    CHECK(predictions.calls.size() == 1);
    REQUIRE(predictions.not_predicted.size() == 3);
    CHECK(predictions.not_predicted[0].line == 11);
    // The mistake does not make the ground to load any larger.
    CHECK(circle_of_calls(scenario(), log, "").radius_m < 10000.0);
    log.calls = {log.calls[1]};
    CHECK_THROWS_AS(predict_calls(log, test::on(sample_ground(), request())), Error);
    CHECK_THROWS_AS(circle_of_calls(scenario(), log, "Nobody"), Error);
}

TEST_CASE("a contingency table is scored as forecasts are", "[verification]") {
    // Finley's tornado forecasts of 1884 as in D. S. Wilks, "Statistical methods in the atmospheric
    // sciences", chapter on forecast verification (from memory): proportion correct 0.966, hit rate
    // 0.549, false alarm ratio 0.720, Heidke skill 0.355.
    const ContingencyTable finley{28, 72, 23, 2680};
    CHECK(finley.right() == Approx(0.966).margin(5e-4));
    CHECK(finley.hit_rate() == Approx(0.549).margin(5e-4));
    CHECK(finley.false_alarm_ratio() == Approx(0.720).margin(5e-4));
    CHECK(finley.heidke_skill() == Approx(0.355).margin(5e-4));
    CHECK(std::isnan(ContingencyTable{}.right()));
}

TEST_CASE("bias and spread are found again", "[verification]") {
    Invention invention(1);
    invention.bias_db = -4.0;
    const Bias bias = bias_of(invention.calls(200, 2));
    REQUIRE(bias.bias_db);
    CHECK(bias.bias_db->value == Approx(-4.0).margin(1.2)); // three standard errors of 5 / sqrt 200
    CHECK(bias.stop_spread_db == Approx(5.0).margin(1.0));
    CHECK(bias.call_spread_db == Approx(3.0).margin(0.5));
    CHECK(*bias.spread_db == Approx(std::hypot(5.0, 3.0)).margin(1.0));
}

TEST_CASE("intervals hold the truth as often as they say", "[verification]") {
    // 95 %; with 300 logs the share itself is known to 2.5 % (two standard deviations).
    constexpr int logs = 300;
    int holds_bias = 0;
    int holds_gain = 0;
    for (unsigned seed = 0; seed < logs; ++seed) {
        Invention invention(seed + 100);
        invention.bias_db = 3.0;
        invention.gain_error_db = 2.0;            // 6 dB in all
        const auto calls = invention.calls(5, 3); // 30 calls
        const Verification verification = verify(calls, 0.0);
        // The bias is that of both set-ups together: half of the calls have 2 dB more.
        holds_bias += verification.all.bias.bias_db->interval.holds(4.0) ? 1 : 0;
        REQUIRE(verification.levers.size() == 1);
        holds_gain += verification.levers[0].measured_db->interval.holds(6.0) ? 1 : 0;
    }
    CHECK(holds_bias >= 0.925 * logs);
    CHECK(holds_gain >= 0.925 * logs);
}

TEST_CASE("a gain that is not there is seldom told", "[verification]") {
    constexpr int logs = 300;
    int told = 0;
    for (unsigned seed = 0; seed < logs; ++seed) {
        Invention invention(seed + 5000);
        invention.gain_error_db = -4.0; // nothing is left of the predicted gain
        const Verification verification = verify(invention.calls(15), 0.0); // 30 calls
        told += verification.levers[0].verdict == LeverVerdict::cannot_tell ? 0 : 1;
    }
    CHECK(told <= 0.10 * logs); // 5 % are right by the meaning of the interval
}

TEST_CASE("levers are told only when the calls tell them", "[verification]") {
    Invention invention(7);
    invention.call_db = 2.0;
    SECTION("many calls tell a gain of 4 dB") {
        const Verification verification = verify(invention.calls(30, 2), 0.0);
        REQUIRE(verification.levers.size() == 1);
        const LeverTest& power = verification.levers[0];
        CHECK(power.change == SetUpChange::power);
        CHECK(power.from == "low");
        CHECK(power.to == "high");
        CHECK(power.verdict == LeverVerdict::helps);
        CHECK(power.predicted_db == Approx(4.0));
        CHECK(power.measured_db->interval.holds(4.0));
    }
    SECTION("two stops tell nothing") {
        const Verification verification = verify(invention.calls(2, 3), 0.0);
        CHECK(verification.levers[0].verdict == LeverVerdict::cannot_tell);
        CHECK_FALSE(verification.levers[0].measured_db);
        CHECK(report::lever_test_words(verification.levers[0]).find("cannot tell") !=
              std::string::npos);
        CHECK_FALSE(verification.all.bias.bias_db);
    }
    SECTION("scores that are all 5 tell nothing") {
        invention.bias_db = 60.0;
        const Verification verification = verify(invention.calls(20), 0.0);
        CHECK(verification.levers[0].verdict == LeverVerdict::cannot_tell);
        CHECK_FALSE(verification.all.bias.bias_db);
    }
    SECTION("the mover's power says nothing of calls to it") {
        auto calls = invention.calls(10);
        for (ComparedCall& call : calls) {
            call.direction = CallDirection::to_mover;
        }
        CHECK(verify(calls, 0.0).levers.empty());
    }
}

TEST_CASE("a level counts for a call without a score", "[verification]") {
    ComparedCall call;
    call.needed_dbm = -118.0;
    call.level_dbm = -117.0;
    CHECK(heard(call, 0.0));
    CHECK_FALSE(heard(call, 3.0));
    call.score = 2; // who listened knows better
    CHECK_FALSE(heard(call, 0.0));
    call.score = 3;
    CHECK(heard(call, 0.0));
}

} // namespace earshot::field
