#include "coverage/ground.hpp"
#include "plan/fallback.hpp"
#include "plan/hearing.hpp"
#include "plan/ladder.hpp"
#include "report/say/net_report.hpp"
#include "report/say/plan_words.hpp"
#include "scenario/scenario.hpp"
#include "scenario/scenario_text.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <string>

using namespace earshot;
using namespace earshot::plan;

namespace {

/// Invented: antennas high over the sample ground, so that all paths are short and clear. West and
/// East have channel 1 and the repeater's; South has the high band alone.
const std::string two_bands = R"([net]
name = "Invented net"
noise = "none"
[ground]
elevation = "ground.tif"
[[channels]]
name = "1"
frequency_mhz = 146.52
[[channels]]
name = "2"
transmit_mhz = 146.0
receive_mhz = 146.6
[[channels]]
name = "3"
frequency_mhz = 446.0
[[radios]]
name = "low"
band_mhz = [144, 148]
power_dbm = 37
threshold_dbm = -116
[[radios]]
name = "high"
band_mhz = [430, 450]
power_dbm = 36
threshold_dbm = -115
[[radios]]
name = "box"
band_mhz = [144, 148]
power_dbm = 44
threshold_dbm = -117
feeder_loss_db = 3
[[antennas]]
name = "low one"
band_mhz = [144, 148]
gain_dbi = 2
[[antennas]]
name = "low two"
band_mhz = [144, 148]
gain_dbi = 5
[[antennas]]
name = "high one"
band_mhz = [430, 450]
gain_dbi = 4
[[stations]]
name = "West"
position = "36.60, -84.20"
antenna_height_m = 400
radio = "low"
antenna = "low one"
[[stations]]
name = "East"
position = "36.60, -84.16"
antenna_height_m = 400
radio = "low"
antenna = "low one"
[[stations]]
name = "South"
position = "36.58, -84.18"
antenna_height_m = 400
radio = "high"
antenna = "high one"
[[stations]]
name = "Box"
position = "36.62, -84.18"
antenna_height_m = 400
radio = "box"
antenna = ["low one", "low two"]
takes_in = "2"
gives_out = "2"
[[stations]]
name = "Bridge"
position = "36.59, -84.18"
antenna_height_m = 400
radio = ["low", "high"]
antenna = ["low one", "high one"]
takes_in = "1"
gives_out = "3"
both_ways = "yes"
)";

std::vector<Pair> pairs_of(const scenario::Scenario& net, const terrain::HeightGrid& ground,
                           double wanted_db = 0.0) {
    HearingRequest request;
    request.conditions = net.conditions;
    request.ground = &ground;
    request.wanted_margin_db = wanted_db;
    return hear_net(net, request);
}

const Pair& pair_of(const scenario::Scenario& net, const std::vector<Pair>& pairs,
                    const std::string& a, const std::string& b) {
    return *std::find_if(pairs.begin(), pairs.end(), [&](const Pair& pair) {
        return net.stations[pair.a].name == a && net.stations[pair.b].name == b;
    });
}

/// Recommendation ITU-R P.525-4 equation (4): 32.4 + 20 log f + 20 log d, in MHz and km.
double free_space_db(double frequency_mhz, double distance_m) {
    return 32.4 + 20.0 * std::log10(frequency_mhz) + 20.0 * std::log10(distance_m / 1000.0);
}

/// Clear paths of 2 to 4 km lose what they do in free space, within this: the tenths are of the
/// slant, of the atmosphere and of the constant, which the Recommendation rounds.
constexpr double clear_db = 0.3;

} // namespace

TEST_CASE("legs through a repeater are the budgets worked by hand", "[channels]") {
    const terrain::HeightGrid ground = test::cumberland();
    const scenario::Scenario net = test::read_text(two_bands);
    const std::vector<Pair> pairs = pairs_of(net, ground);
    const Pair& direct = pair_of(net, pairs, "West", "East");
    // 37 dBm + 2 dBi + 2 dBi + 116 dBm on 146.52 MHz, either way.
    const double direct_db = 157.0 - free_space_db(146.52, direct.distance_m);
    CHECK(direct.channel == 0);
    CHECK(direct.b_hears_a.margin_db == Approx(direct_db).margin(clear_db));
    CHECK(direct.a_hears_b.margin_db == Approx(direct_db).margin(clear_db));

    const Pair& leg = pair_of(net, pairs, "West", "Box");
    CHECK(leg.b_repeats);
    // In on 146.0 MHz, to the first antenna: 37 + 2 + 2 - 3 + 117. Out on 146.6 MHz, from the
    // second: 44 - 3 + 5 + 2 + 116.
    const double in_db = 155.0 - free_space_db(146.0, leg.distance_m);
    const double out_db = 164.0 - free_space_db(146.6, leg.distance_m);
    CHECK(leg.b_hears_a.margin_db == Approx(in_db).margin(clear_db));
    CHECK(leg.a_hears_b.margin_db == Approx(out_db).margin(clear_db));

    REQUIRE(direct.through);
    CHECK(net.stations[direct.through->repeater].name == "Box");
    CHECK(net.stations[direct.through->listener].name == "Box");
    const Pair& other = pair_of(net, pairs, "East", "Box");
    CHECK(direct.through->margin_db ==
          std::min(leg.b_hears_a.margin_db, other.b_hears_a.margin_db));
    CHECK_FALSE(direct.repeated()); // they need none
}

TEST_CASE("a repeater from band to band joins those who have no channel in common", "[channels]") {
    const terrain::HeightGrid ground = test::cumberland();
    const scenario::Scenario net = test::read_text(two_bands);
    const std::vector<Pair> pairs = pairs_of(net, ground);
    const Pair& pair = pair_of(net, pairs, "West", "South");
    CHECK(pair.channel == no_channel);
    CHECK_FALSE(pair.mutual());
    CHECK(pair.talk());
    REQUIRE(pair.through);
    CHECK(net.stations[pair.through->repeater].name == "Bridge");
    CHECK(pair.through->from_a == 0);
    CHECK(pair.through->from_b == 2);
    // West and Bridge: 37 + 2 + 2 + 116 on 146.52 MHz. South and Bridge: 36 + 4 + 4 + 115 on 446.
    const Pair& low = pair_of(net, pairs, "West", "Bridge");
    const Pair& high = pair_of(net, pairs, "South", "Bridge");
    const double low_db = 157.0 - free_space_db(146.52, low.distance_m);
    const double high_db = 159.0 - free_space_db(446.0, high.distance_m);
    CHECK(low.b_hears_a.margin_db == Approx(low_db).margin(clear_db));
    CHECK(low.a_hears_b.margin_db == Approx(low_db).margin(clear_db));
    CHECK(high.b_hears_a.margin_db == Approx(high_db).margin(clear_db));
    CHECK(pair.through->margin_db == Approx(std::min(low_db, high_db)).margin(clear_db));
    CHECK(pair.through->margin_db == pair.talk_margin_db());
    // What it hears on one side it does not send on the same.
    const Pair& same = pair_of(net, pairs, "West", "East");
    CHECK(net.stations[same.through->repeater].name != "Bridge");

    const NetStructure structure = net_structure(5, pairs);
    CHECK(structure.cut_off.empty());
    CHECK(structure.unreachable_pairs == 0);
    CHECK(structure.relayed.empty());
    CHECK(structure.splitting == maths::Nodes{4}); // without Bridge South is alone
    CHECK(structure.mutual[3].empty());            // nobody stands at Box
}

TEST_CASE("a repeater that does only one way carries no talk from band to band", "[channels]") {
    const terrain::HeightGrid ground = test::cumberland();
    const scenario::Scenario net =
        test::read_text(test::changed(two_bands, "both_ways = \"yes\"\n", ""));
    const std::vector<Pair> pairs = pairs_of(net, ground);
    CHECK_FALSE(pair_of(net, pairs, "West", "South").talk());
    CHECK(pair_of(net, pairs, "South", "Bridge").a_hears_b.heard);
    CHECK_FALSE(pair_of(net, pairs, "South", "Bridge").b_hears_a.heard);
}

TEST_CASE("a channel that costs nothing is advised before all else", "[channels]") {
    const terrain::HeightGrid ground = test::cumberland();
    const scenario::Scenario net = test::read_text(two_bands);
    // More than the direct path has, less than the weakest leg over Box.
    const std::vector<Pair> plain = pairs_of(net, ground);
    const Pair& pair = pair_of(net, plain, "West", "East");
    REQUIRE(pair.through->margin_db < pair.weaker_margin_db() + 10.0);
    const double wanted_db = pair.through->margin_db - 0.1;
    HearingRequest request;
    request.conditions = net.conditions;
    request.ground = &ground;
    request.wanted_margin_db = wanted_db;
    scenario::Scenario far = net;
    for (std::vector<scenario::Tuned>* side : {&far.air.talked, &far.air.heard}) {
        (*side)[0].stations[0].radio.power_dbm -= 20.0; // channel 1 alone is weak at West
    }
    const std::vector<Pair> pairs = hear_net(far, request);
    REQUIRE(pair_of(far, pairs, "West", "East").repeated());
    const auto helps = help_stations(far, pairs, request);
    REQUIRE(helps[0]);
    CHECK(report::station_help_words("West", *helps[0]) ==
          "West: calling on channel 2 through Box; then it talks with East as well");
    CHECK_FALSE(helps[3]); // a box cannot do anything

    const NetStructure structure = net_structure(5, pairs);
    const report::NetResult result{far, pairs, structure, helps};
    const std::string text = report::net_text(result);
    CHECK_THAT(text, Catch::Contains("The repeater Box serves West, East; not South"));
    CHECK_THAT(text, Catch::Contains("through Box; weakest leg"));
    CHECK_THAT(text, Catch::Contains("may need a licence"));
    CHECK_THAT(report::net_csv(result), Catch::Contains(",Box,"));
    CHECK_THAT(report::net_json(result), Catch::Contains("\"repeater\": \"Box\""));

    const std::vector<std::string> there{"East"};
    const auto repeater = repeater_for(far, pairs, "West", there);
    REQUIRE(repeater);
    CHECK(repeater->name == "Box");
    LadderQuestion question;
    static_cast<link::Setting&>(question) = request;
    question.here = far.air.heard[0].stations[0];
    question.there = {{far.air.heard[0].stations[1], 1.0}};
    question.wanted_margin_db = wanted_db;
    question.repeater = repeater;
    const LadderAnswer answer = climb_ladder(question);
    REQUIRE(answer.help);
    CHECK(answer.help->pulls.front().lever == Lever::channel);
    CHECK(*answer.help->then.margin_db == repeater->margins_db[0]);
}

TEST_CASE("a place to go to counts whom a repeater carries", "[channels]") {
    const terrain::HeightGrid ground = test::cumberland();
    const std::string text =
        two_bands + "[[places]]\nname = \"Stump\"\nposition = \"36.61, -84.20\"\n";
    scenario::Scenario net = test::read_text(text);
    for (std::vector<scenario::Tuned>* side : {&net.air.talked, &net.air.heard}) {
        for (scenario::Tuned& tuned : *side) {
            tuned.listener->antenna_height_m = 500.0; // people keep their own radio
        }
    }
    FallbackRequest request;
    request.hearing.conditions = net.conditions;
    request.hearing.ground = &ground;
    net.duties[2].fallback = "Stump";
    const std::vector<Pair> pairs = hear_net(net, request.hearing);
    const auto fallbacks = find_fallbacks(net, pairs, request);
    REQUIRE(fallbacks[2]);
    CHECK(fallbacks[2]->talks_with == 2); // South, over Bridge
    CHECK(fallbacks[2]->others == 2);
    CHECK_FALSE(fallbacks[3]);
}

TEST_CASE("a handheld takes only antennas that another like it has", "[channels]") {
    AntennaChoice collinear{"collinear", 5.15, false, {"base"}};
    link::Station medic;
    medic.antenna_height_m = 1.5;
    medic.radio.kind = "handheld";
    medic.radio.antenna = "stock";
    const std::vector<AntennaChoice> of_base{collinear};
    CHECK_FALSE(raise_antenna(medic, 6.0, of_base));
    CHECK(medic.antenna_height_m == 1.5);
    collinear.radios.emplace_back("handheld");
    const std::vector<AntennaChoice> of_both{collinear};
    CHECK(raise_antenna(medic, 6.0, of_both));
    CHECK(medic.radio.antenna == "collinear");
}
