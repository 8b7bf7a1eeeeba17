#include "coverage/ground.hpp"
#include "earshot/base/error.hpp"
#include "earshot/link/path.hpp"
#include "plan/ladder.hpp"
#include "report/say/plan_words.hpp"
#include "setting.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>

using namespace earshot;
using namespace earshot::plan;

namespace {

link::Station handheld(const std::string& name, geo::LatLon position, double power_w) {
    link::Station station;
    station.name = name;
    station.position = position;
    station.antenna_height_m = 1.5;
    station.radio.power_dbm = 30.0 + 10.0 * std::log10(power_w);
    return station;
}

const Rung& rung_of(const std::vector<Rung>& rungs, Lever lever) {
    const auto found =
        std::ranges::find_if(rungs, [&](const Rung& rung) { return rung.pulls(lever); });
    REQUIRE(found != rungs.end());
    return *found;
}

/// Weak handhelds: a short antenna and a body at either end.
link::Station on_flat(const terrain::HeightGrid& ground) {
    link::Station here = handheld("here", ground.georeference.position_of({200.0, 200.0}), 2.0);
    here.radio.antenna_gain_dbi = -5.0;
    here.radio.body_loss_db = 4.0;
    return here;
}

} // namespace

TEST_CASE("what the levers buy on flat wooded ground", "[ladder]") {
    // Common practice, no source: at 146 MHz from 2 W to 5 W is 4 dB and about a quarter more
    // range; a better antenna at both ends is worth several times that and about doubles the range.
    // With antennas low over the ground the received power falls with the fourth power of distance
    // (the two-ray limit), so 4 dB is a factor of 10^(4/40) = 1.26 and 12 dB one of 2.0.
    const terrain::HeightGrid ground = test::rough_ground(401, 401, 0.0);
    const terrain::GroundCover woods = terrain::GroundCover::uniform(
        {0, "woodland", terrain::Clutter::urban_or_trees, 15.0, true});
    LadderQuestion question;
    question.here = on_flat(ground);
    question.person = question.here;
    question.power_dbm = 36.99;
    question.better_antenna_db = 6.0;
    question.layers.cover = &woods;
    question.step_m = 30.0;
    question.range_m = 5000.0;
    question.move_m = 0.0;
    const LadderAnswer answer = climb_ladder(test::on(ground, question));
    const double start_m = answer.start.range->typical_m;
    REQUIRE(start_m > 300.0);
    REQUIRE(start_m < 2400.0);

    const Rung& power = rung_of(answer.alone, Lever::power);
    CHECK(*power.gain_db == Approx(10.0 * std::log10(5.0 / 2.0)).margin(0.02));
    CHECK(power.range->typical_m / start_m > 1.18);
    CHECK(power.range->typical_m / start_m < 1.35);
    CHECK(*rung_of(answer.alone, Lever::antenna_here).gain_db == Approx(6.0).margin(1e-6));

    LadderQuestion antennas = question;
    antennas.here.radio.antenna_gain_dbi += 6.0;
    antennas.person.radio.antenna_gain_dbi += 6.0;
    const double both_m = climb_ladder(test::on(ground, antennas)).start.range->typical_m;
    CHECK(both_m / start_m > 1.75);
    CHECK(both_m / start_m < 2.2);
    CHECK((both_m - start_m) > 2.5 * (power.range->typical_m - start_m));

    // All stack: decibels add, and no rung loses range.
    double last_m = start_m;
    double power_and_antennas_db = 0.0;
    for (const Rung& rung : answer.stacked) {
        CHECK(rung.range->typical_m >= last_m);
        last_m = rung.range->typical_m;
        if (rung.pulls(Lever::power) || rung.pulls(Lever::antenna_here) ||
            rung.pulls(Lever::antenna_there)) {
            power_and_antennas_db += *rung.gain_db;
        }
    }
    CHECK(power_and_antennas_db == Approx(12.0 + 10.0 * std::log10(2.5)).margin(0.02));
    CHECK(last_m > both_m);
}

TEST_CASE("a path's levers are the differences of two paths", "[ladder]") {
    const terrain::HeightGrid ground = test::cumberland();
    LadderQuestion question;
    question.here = handheld("A", {36.60, -84.20}, 2.0);
    question.there = {{handheld("B", {36.68, -84.10}, 2.0), 1.0}};
    question.step_m = 90.0;
    question.raised_m = 8.0;
    question.move_m = 150.0;
    const auto margin = [&](const link::Station& a, const link::Station& b) {
        const link::TwoWayPath path =
            link::two_way_path({&ground, {}, question.conditions, question.step_m}, a, b);
        return std::min(path.outward.budget.margin_db, path.backward.budget.margin_db);
    };
    const LadderAnswer answer = climb_ladder(test::on(ground, question));
    link::Station a = question.here;
    link::Station b = question.there[0].station;
    const double start_db = margin(a, b);
    CHECK(*answer.start.margin_db == Approx(start_db).margin(0.001));
    a.antenna_height_m = 8.0;
    CHECK(*rung_of(answer.alone, Lever::raise_here).gain_db ==
          Approx(margin(a, b) - start_db).margin(0.001));
    a.antenna_height_m = 1.5;
    b.antenna_height_m = 8.0;
    CHECK(*rung_of(answer.alone, Lever::raise_there).gain_db ==
          Approx(margin(a, b) - start_db).margin(0.001));
    b.antenna_height_m = 1.5;
    double best_db = start_db;
    for (int k = 0; k < 8; ++k) {
        a.position = geo::geodesic_destination(question.here.position, 45.0 * k, 150.0);
        best_db = std::max(best_db, margin(a, b));
    }
    REQUIRE(best_db > start_db);
    CHECK(*rung_of(answer.alone, Lever::move).gain_db == Approx(best_db - start_db).margin(0.001));

    // The stack's gains add up to the difference between its ends.
    double sum_db = 0.0;
    for (const Rung& rung : answer.stacked) {
        sum_db += *rung.gain_db;
    }
    CHECK(sum_db ==
          Approx(*answer.stacked.back().margin_db - *answer.start.margin_db).margin(1e-6));
    // The first has the most decibels for its effort.
    for (const Rung& rung : answer.alone) {
        CHECK(*rung.gain_db / rung.effort <=
              *answer.alone[0].gain_db / answer.alone[0].effort + 1e-9);
    }
    CHECK_THAT(report::ladder_words(answer), Catch::Contains(report::rung_words(answer.alone[0])));
}

TEST_CASE("what a ladder reaches by one of two models alone is to be tested", "[ladder]") {
    const terrain::HeightGrid ground = test::cumberland();
    LadderQuestion question;
    question.here = handheld("A", {36.60, -84.20}, 2.0);
    question.there = {{handheld("B", {36.68, -84.10}, 2.0), 1.0}};
    question.move_m = 0.0;
    const link::TwoWayPath path = link::two_way_path({&ground, {}, question.conditions},
                                                     question.here, question.there[0].station);
    const double weaker_db =
        std::min(path.outward.budget.margin_db, path.backward.budget.margin_db);
    REQUIRE(std::abs(path.outward.apart_db) > 1.0);
    // Half way between what the two say: one of them has it.
    question.wanted_margin_db = weaker_db - path.outward.apart_db / 2.0;
    LadderAnswer answer = climb_ladder(test::on(ground, question));
    CHECK(answer.start.in_doubt == 1);
    if (answer.start.places == 1) {
        CHECK_THAT(report::ladder_words(answer), Catch::Contains("two models part on that"));
    }
    // Neither has it: nothing to test.
    question.wanted_margin_db = weaker_db + 100.0;
    answer = climb_ladder(test::on(ground, question));
    CHECK(answer.start.in_doubt == 0);
    CHECK_THAT(report::ladder_words(answer), !Catch::Contains("two models part"));
}

TEST_CASE("power that is there already is no lever", "[ladder]") {
    const terrain::HeightGrid ground = test::rough_ground(60, 60, 20.0);
    LadderQuestion question;
    question.here = handheld("A", ground.georeference.position_of({10.0, 10.0}), 5.0);
    question.there = {{handheld("B", ground.georeference.position_of({50.0, 50.0}), 5.0), 1.0}};
    question.step_m = 30.0;
    question.power_dbm = 36.9;
    question.better_antenna_db = 6.0;
    question.raised_m = 1.0;
    question.move_m = 0.0;
    const LadderAnswer answer = climb_ladder(test::on(ground, question));
    CHECK(answer.alone.size() == 2);
    CHECK(std::ranges::none_of(answer.alone,
                               [](const Rung& rung) { return rung.pulls(Lever::power); }));
}

namespace {

/// Two handhelds on flat ground, 5 W, stock antennas; the first on the belt.
LadderQuestion belt_question(const terrain::HeightGrid& ground) {
    LadderQuestion question;
    question.conditions.frequency_mhz = 150.0;
    question.here = handheld("A", ground.georeference.position_of({10.0, 50.0}), 5.0);
    question.there = {{handheld("B", ground.georeference.position_of({290.0, 50.0}), 5.0), 1.0}};
    for (link::Station* station : {&question.here, &question.there[0].station}) {
        station->radio.antenna = "stock";
        station->radio.antenna_gain_dbi = -4.5;
        station->radio.body_loss_db = 3.0;
        station->radio.powers_dbm = {30.0, 30.0 + 10.0 * std::log10(5.0)};
    }
    question.here.radio.body_loss_db = 16.0;
    question.step_m = 30.0;
    question.move_m = 0.0;
    return question;
}

double start_margin_db(const terrain::HeightGrid& ground, const LadderQuestion& question) {
    return *climb_ladder(test::on(ground, question)).start.margin_db;
}

} // namespace

TEST_CASE("what costs nothing gets the call through first: off the belt", "[ladder]") {
    const terrain::HeightGrid ground = test::rough_ground(300, 100, 0.0);
    LadderQuestion question = belt_question(ground);
    // 10 dB short on the belt: at the face it is 16 - 3 = 13 dB better (docs/woods-and-noise.md,
    // common practice, no source), so it is enough by itself.
    question.wanted_margin_db = start_margin_db(ground, question) + 10.0;
    const LadderAnswer answer = climb_ladder(test::on(ground, question));
    REQUIRE(answer.help);
    REQUIRE(answer.help->pulls.size() == 1);
    CHECK(answer.help->pulls[0].lever == Lever::hold_here);
    CHECK(answer.help->pulls[0].worn == link::Carried::on_hip);
    CHECK(answer.help->reached == std::vector<std::string>{"B"});
    CHECK(*answer.help->then.margin_db - *answer.start.margin_db == Approx(13.0).margin(1e-6));
    CHECK_THAT(report::ladder_words(answer),
               Catch::Contains("10 dB short; holding the radio here at the face instead of on the "
                               "belt gets the call through both ways"));
    // A handheld that does 5 W at most does not go to 10 W, and a stock antenna is not raised.
    for (const Lever never :
         {Lever::power, Lever::raise_here, Lever::antenna_here, Lever::hold_there}) {
        CHECK(std::ranges::none_of(answer.alone,
                                   [&](const Rung& rung) { return rung.pulls(never); }));
    }
    // One that is turned down goes up to what it does: 5 W over 1 W are 7 dB.
    question.here.radio.power_dbm = question.there[0].station.radio.power_dbm = 30.0;
    const Rung power = rung_of(climb_ladder(test::on(ground, question)).alone, Lever::power);
    CHECK(*power.gain_db == Approx(10.0 * std::log10(5.0)).margin(1e-6));
    CHECK(report::rung_words(power) == "1 W to 5 W at both ends");
}

TEST_CASE("the smallest stack gets through where no step does alone, or none is said to",
          "[ladder]") {
    const terrain::HeightGrid ground = test::rough_ground(300, 100, 0.0);
    LadderQuestion question = belt_question(ground);
    question.antennas = {{"half-wave", 1.65, true, {}}, {"j-pole", 2.15, false, {}}};
    const double start_db = start_margin_db(ground, question);
    // 13 dB off the belt, 1.65 + 4.5 = 6.15 dB by a half-wave: 15 dB take both, not the dearer
    // j-pole on a mast.
    question.wanted_margin_db = start_db + 15.0;
    const LadderAnswer both = climb_ladder(test::on(ground, question));
    REQUIRE(both.help);
    REQUIRE(both.help->pulls.size() == 2);
    CHECK(*both.help->then.margin_db - start_db == Approx(19.15).margin(1e-6));
    CHECK_THAT(report::ladder_words(both), Catch::Contains("on the belt and the half-wave antenna "
                                                           "here gets the call through"));
    // The antenna that can be raised is named, and nobody holds it.
    CHECK(report::rung_words(rung_of(both.alone, Lever::raise_here)) ==
          "the j-pole antenna here raised to 6 m");
    question.wanted_margin_db = start_db + 150.0;
    const LadderAnswer none = climb_ladder(test::on(ground, question));
    CHECK_FALSE(none.help);
    CHECK_THAT(report::ladder_words(none), Catch::Contains("nothing tried gets the call through"));
}

TEST_CASE("each station of a net is told the least that helps it", "[ladder]") {
    const terrain::HeightGrid ground = test::rough_ground(300, 100, 0.0);
    const LadderQuestion question = belt_question(ground);
    earshot::scenario::Scenario net;
    net.stations = {question.here, question.there[0].station, question.there[0].station};
    net.stations[2].name = "C";
    net.stations[2].position = ground.georeference.position_of({290.0, 52.0});
    HearingRequest request;
    request.conditions = question.conditions;
    request.step_m = 30.0;
    request.ground = &ground;
    request.wanted_margin_db = start_margin_db(ground, question) + 8.0;
    net.air = earshot::scenario::one_channel(net.stations, {}, request.conditions.frequency_mhz);
    const std::vector<Pair> pairs = hear_net(net, request);
    REQUIRE_FALSE(pairs[0].mutual());
    REQUIRE(pairs[2].mutual());
    const auto helps = help_stations(net, pairs, request);
    REQUIRE(helps.size() == 3);
    REQUIRE(helps[0]);
    CHECK_THAT(
        report::station_help_words("A", *helps[0]),
        Catch::Contains("A: holding the radio at the face instead of on the belt; then it talks "
                        "with ") &&
            Catch::Contains("B") && Catch::Contains("C"));
    // B and C hold theirs at the face already, and have nothing else.
    CHECK((!helps[1] || helps[1]->pulls[0].lever == Lever::move));
}

TEST_CASE("a relay on the ridge reaches the places behind it", "[ladder]") {
    // A wall of 200 m across the middle of flat ground.
    terrain::HeightGrid ground = test::rough_ground(300, 100, 0.0);
    for (int row = 0; row < 100; ++row) {
        for (int column = 147; column <= 153; ++column) {
            ground
                .height_m[static_cast<std::size_t>(row) * 300 + static_cast<std::size_t>(column)] +=
                200.0F;
        }
    }
    LadderQuestion question;
    question.here = handheld("A", ground.georeference.position_of({20.0, 50.0}), 2.0);
    for (const double row : {30.0, 50.0, 70.0}) {
        question.there.push_back(
            {handheld("B", ground.georeference.position_of({280.0, row}), 2.0), 1.0});
    }
    question.step_m = 30.0;
    question.wanted_margin_db = 25.0;
    question.relay = handheld("relay", {}, 5.0);
    question.relay.antenna_height_m = 5.0;
    Candidate top;
    top.position = ground.georeference.position_of({150.0, 50.0});
    Candidate bottom;
    bottom.position = ground.georeference.position_of({60.0, 50.0});
    question.relay_candidates = {bottom, top};
    const LadderAnswer answer = climb_ladder(test::on(ground, question));
    CHECK(answer.start.places == 0);
    const Rung& relay = rung_of(answer.alone, Lever::relay);
    CHECK(relay.places == 3);
    CHECK(*relay.gain_db > 10.0);
    CHECK(answer.stacked.back().places == 3);

    question.there.clear();
    question.person = handheld("person", {}, 2.0);
    question.range_m = 4000.0;
    const LadderAnswer on_foot = climb_ladder(test::on(ground, question));
    const Rung& around = rung_of(on_foot.alone, Lever::relay);
    CHECK_FALSE(around.gain_db);
    CHECK(around.range->typical_m > on_foot.start.range->typical_m);
}

TEST_CASE("ladders that lean on nothing are refused", "[ladder]") {
    const terrain::HeightGrid ground = test::rough_ground(60, 60, 20.0);
    LadderQuestion good;
    good.here = handheld("A", ground.georeference.position_of({10.0, 10.0}), 5.0);
    good.there = {{handheld("B", ground.georeference.position_of({50.0, 50.0}), 5.0), 1.0}};
    good.step_m = 30.0;
    const auto refused = [&](auto change, const char* words) {
        LadderQuestion question = good;
        change(question);
        CHECK_THROWS_WITH(climb_ladder(test::on(ground, question)), Catch::Contains(words));
    };
    refused([](LadderQuestion& q) { q.here.position = {0.0, 0.0}; }, "A (0.00000, 0.00000) is off");
    refused([](LadderQuestion& q) { q.there[0].station.position = {0.0, 0.0}; }, "B (0.00000");
    refused([](LadderQuestion& q) { q.there[0].weight = 0.0; }, "weight 0 of B");
    refused([](LadderQuestion& q) { q.better_antenna_db = 0.0; }, "better antenna");
    refused([](LadderQuestion& q) { q.move_m = -1.0; }, "moving by -1 m");
    refused([](LadderQuestion& q) { q.step_m = -1.0; }, "step of profiles");
}
