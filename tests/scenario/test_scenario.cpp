#include "base/input_file.hpp"
#include "geo/units.hpp"
#include "link/handheld.hpp"
#include "link/receiver_noise.hpp"
#include "propagation/noise.hpp"
#include "scenario/scenario.hpp"
#include "scenario_text.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <string>

namespace earshot::scenario {

using test::changed;
using test::least_scenario;
using test::read_text;
using test::refused;
using test::ScenarioFolder;

namespace {

// Invented; every section and, where they do not exclude each other, every key.
const std::string full = R"(places_file = "more.csv"
[net]
name = "Invented net"
frequency_mhz = 446.1
[service]
readability = 4
time_percent = 10
places_percent = 90
prediction_deviation_db = 6
[[radios]]
name = "base"
frequency_mhz = 446.1
power_dbm = 44
sensitivity_uv = 0.25
bandwidth_khz = 25
feeder_loss_db = 2.5
[[antennas]]
name = "tall"
gain_dbd = 3
polarization = "vertical"
[[stations]]
name = "Hill"
position = "36 36.0N 84 12.0W"
antenna_height_ft = 30
radio = "base"
antenna = "tall"
[[stations]]
name = "Walker"
position = "16SGF 50123 54321"
antenna_height_m = 1.5
radio = "base"
antenna = "stock"
carried = "hip"
[listener]
antenna_height_m = 2
radio = "base"
antenna = "dipole"
body_loss_db = 1.25
[[places]]
name = "School"
position = "36.7, -84.1"
people = 120
[ground]
elevation = ["a.tif", "/tiles"]
height_unit = "us-ft"
cover_class = "woodland"
cover_height_m = 22
zones = "zones.tif"
[method]
name = "p1812"
knife_edge = "exact"
delta_n = 50
n0 = 330
woodland_fit = "mulhouse"
step_m = 25
)";

Scenario read_full() {
    const ScenarioFolder folder;
    // The first Hill is where the station is, the second is not.
    folder.write("more.csv", "name,lat,lon,people\nMill,36.61,-84.22,7\nHill,36.6,-84.2,1\n"
                             "Hill,36.61,-84.2,1\n");
    return read_scenario(folder.write("net.toml", full));
}

} // namespace

TEST_CASE("every part of a scenario is read") {
    const Scenario scenario = read_full();
    CHECK(scenario.net_name == "Invented net");
    CHECK(scenario.conditions.frequency_mhz == 446.1);
    CHECK(scenario.wanted_margin_db == 6.0); // where link::readability_classes() has "easy"
    CHECK(scenario.conditions.prediction_deviation_db == 6.0);
    CHECK(scenario.conditions.time_percent == 10.0);
    CHECK(scenario.conditions.location_percent == 90.0);
    CHECK(scenario.conditions.knife_edge == propagation::KnifeEdgeForm::exact);
    CHECK(scenario.conditions.refractivity.delta_n == 50.0);
    CHECK(scenario.conditions.refractivity.n0 == 330.0);
    CHECK(scenario.conditions.woodland_fit == propagation::WoodlandFit::mulhouse);
    CHECK(scenario.step_m == 25.0);

    REQUIRE(scenario.stations.size() == 2);
    const link::Station& hill = scenario.stations[0];
    CHECK(hill.name == "Hill");
    CHECK(hill.position.lat_deg == Approx(36.6).margin(1e-9));
    CHECK(hill.position.lon_deg == Approx(-84.2).margin(1e-9));
    CHECK(hill.antenna_height_m == Approx(9.144)); // 30 international feet of 0.3048 m
    CHECK(hill.radio.power_dbm == 44.0);
    // Power in 50 ohms: 10 log10((0.25e-6 V)^2 / 50 ohm / 1 mW) = -119.03 dBm.
    REQUIRE(hill.radio.needed); // in the noise of the countryside, as none is named
    CHECK(hill.radio.needed->sensitivity_dbm == Approx(-119.0309).margin(1e-4));
    CHECK(hill.radio.feeder_loss_db == 2.5);
    CHECK(hill.radio.antenna_gain_dbi == Approx(5.15)); // a dipole has 2.15 dBi (ITU-R V.573)
    CHECK(hill.radio.body_loss_db == 0.0);
    CHECK(scenario.stations[1].radio.antenna_gain_dbi == link::antenna_gain_dbi("stock", 446.1));
    CHECK(scenario.stations[1].radio.body_loss_db ==
          link::body_loss_db(link::Carried::on_hip, 446.1));
    CHECK(scenario.listener.antenna_height_m == 2.0);
    CHECK(scenario.listener.radio.body_loss_db == 1.25);

    REQUIRE(scenario.places.size() == 2);
    CHECK(scenario.places[0].name == "School");
    CHECK(scenario.places[0].people == 120.0);
    CHECK(scenario.places[1].name == "Mill");
    CHECK(scenario.places[1].people == 7.0);
    REQUIRE(scenario.notes.size() == 1); // the second place Hill
    CHECK_THAT(scenario.notes[0], Catch::Contains("Hill"));

    const GroundInputs& ground = scenario.ground;
    REQUIRE(ground.elevation.size() == 2);
    CHECK(ground.elevation[0] == scenario.file.parent_path() / "a.tif");
    CHECK(ground.elevation[1] == "/tiles");
    CHECK(ground.height_unit_m == Approx(1200.0 / 3937.0)); // US survey foot
    REQUIRE(ground.uniform_cover);
    CHECK(ground.uniform_cover->height_m == 22.0);
    CHECK(ground.uniform_cover->woodland);
    CHECK(ground.uniform_cover->clutter == terrain::Clutter::urban_or_trees);
    REQUIRE(ground.zones.size() == 1);
}

TEST_CASE("a scenario and what it names are inputs") {
    const ScenarioFolder folder;
    folder.write("more.csv", "name,lat,lon\nMill,36.61,-84.22\n");
    folder.write("a.tif", ""); // opened later
    folder.write("other.csv", "");
    (void)read_scenario(folder.write("net.toml", full));
    for (const char* const name : {"net.toml", "more.csv", "a.tif"}) {
        CHECK(is_input(folder.path() / name));
    }
    CHECK_FALSE(is_input(folder.path() / "other.csv"));
}

TEST_CASE("the least scenario has the defaults") {
    const Scenario scenario = read_text(least_scenario());
    CHECK(scenario.wanted_margin_db == 0.0);
    CHECK(scenario.conditions.method == propagation::Method::short_range);
    CHECK(scenario.conditions.polarization == propagation::Polarization::vertical);
    CHECK(scenario.stations.at(0).radio.power_dbm == Approx(36.9897).margin(1e-4)); // 5 W
    // What nobody said is what people hold: at the face, in the noise of the countryside.
    CHECK(scenario.assumed.at_face);
    CHECK(scenario.assumed.rural_noise);
    CHECK_FALSE(scenario.assumed.stock_antenna);
    CHECK(scenario.stations.at(0).radio.body_loss_db ==
          link::body_loss_db(link::Carried::at_face, 146.52));
    REQUIRE(scenario.stations.at(0).radio.needed);
    CHECK(scenario.stations.at(0).radio.needed->sensitivity_dbm == -116.0);
    CHECK(scenario.stations.at(0).radio.threshold_dbm > -116.0);
    CHECK(scenario.listener.antenna_height_m == default_listener_height_m);
    CHECK_FALSE(scenario.step_m);
    CHECK(scenario.places.empty());
    CHECK(scenario.notes.empty());
}

TEST_CASE("noise raises what a station needs") {
    const auto in_noise = [](const std::string& noise) {
        return read_text(changed(least_scenario() + "carried = \"clear\"\n",
                                 "frequency_mhz = 146.52",
                                 "frequency_mhz = 146.52\nnoise = \"" + noise + "\""));
    };
    const Scenario quiet = in_noise("none");
    CHECK_FALSE(quiet.assumed.any());
    CHECK(quiet.stations.at(0).radio.threshold_dbm == -116.0);
    CHECK_FALSE(quiet.stations.at(0).radio.needed);
    const Scenario noisy = in_noise("city");
    const link::Radio& radio = noisy.stations.at(0).radio;
    REQUIRE(radio.needed);
    // A dipole without feeder or body in the way weakens nothing.
    const auto expected = link::needed_level(
        -116.0, propagation::FmChannel::narrow, propagation::VoiceQuality::twelve_db_sinad,
        propagation::external_noise_figure_db(propagation::NoiseEnvironment::city, 146.52), 0.0);
    CHECK(radio.threshold_dbm == Approx(expected.needed_dbm));
    CHECK(radio.threshold_dbm > quiet.stations.at(0).radio.threshold_dbm + 1.0);
}

TEST_CASE("unknown keys are refused with the place and what was meant") {
    const std::string text = least_scenario();
    CHECK_THAT(refused(changed(text, "power_w", "pwoer_w")),
               Catch::StartsWith("net.toml, line 8, column 1: key 'pwoer_w' is not known in "
                                 "[[radios]]; did you mean 'power_w'?"));
    CHECK_THAT(refused(changed(text, "antenna_height_m", "antenna_height")),
               Catch::Contains("line 13, column 1") &&
                   Catch::EndsWith("; write antenna_height_m or antenna_height_ft"));
    CHECK_THAT(refused(changed(text, "frequency_mhz", "Frequency-MHz")),
               Catch::EndsWith("did you mean 'frequency_mhz'?"));
    CHECK_THAT(refused(changed(text, "[ground]", "[gruond]")),
               Catch::Contains("line 4") && Catch::EndsWith("did you mean 'ground'?"));
    CHECK_THAT(refused(changed(text, "[ground]", "places_file = \"p.csv\"\n[ground]")),
               Catch::Contains("line 4") && Catch::EndsWith("it belongs at the top of the file, "
                                                            "before the first section"));
    CHECK_THAT(refused(changed(text, "power_w = 5", "power_w = 5\ncarried = \"hip\"")),
               Catch::EndsWith("it belongs in [[stations]]"));
    CHECK_THAT(refused("colour = 3\n" + text), Catch::Contains("line 1, column 1") &&
                                                   Catch::Contains("known are places_file, net"));
}

TEST_CASE("keys that are missing or given twice over are refused") {
    const std::string text = least_scenario();
    CHECK_THAT(refused(changed(text, "power_w = 5", "power_w = 5\npower_dbm = 37")),
               Catch::Contains("line 9") &&
                   Catch::EndsWith("'handheld' in [[radios]] gives the power twice, as power_w and "
                                   "as power_dbm; keep one"));
    CHECK_THAT(refused(changed(text, "power_w = 5\n", "")),
               Catch::Contains("line 6") &&
                   Catch::EndsWith("has no power; give power_w or power_dbm"));
    CHECK_THAT(refused(changed(text, "position = \"36.60, -84.20\"\n", "")),
               Catch::Contains("line 10") &&
                   Catch::Contains("'Camp' in [[stations]] has no position"));
    CHECK_THAT(refused(changed(text, "antenna_height_m = 2",
                               "antenna_height_m = 2\nantenna_height_ft = 6")),
               Catch::Contains("gives the antenna height twice"));
    CHECK_THAT(refused(changed(text, "[ground]\nelevation = \"ground.tif\"\n", "")),
               Catch::EndsWith("net.toml: there is no [ground]; a scenario needs one"));
    CHECK_THAT(refused(changed(text, "power_w = 5", "power_w = 5\npower_w = 6")),
               Catch::Contains("line 9") && Catch::Contains("not valid TOML"));
}

TEST_CASE("values of the wrong type or out of range are refused") {
    const std::string text = least_scenario();
    CHECK_THAT(refused(changed(text, "power_w = 5", "power_w = \"5\"")),
               Catch::Contains("line 8, column 11: power_w is a text but must be a number"));
    CHECK_THAT(refused(changed(text, "power_w = 5", "power_w = 0")),
               Catch::Contains("power_w = 0 is out of range; give 0.001 to 10000"));
    CHECK_THAT(refused(changed(text, "power_w = 5", "power_w = nan")),
               Catch::Contains("out of range"));
    CHECK_THAT(refused(changed(text, "power_w = 5", "power_w = inf")),
               Catch::Contains("out of range"));
    CHECK_THAT(refused(changed(text, "146.52", "29.9")), Catch::Contains("give 30 to 1000"));
    CHECK_THAT(refused(changed(text, "\"Camp\"", "12")),
               Catch::Contains("name is a number but must be a text in quotes"));
    CHECK_THAT(refused(changed(text, "\"Camp\"", "\" \"")), Catch::EndsWith("name is empty"));
    CHECK_THAT(refused(changed(text, "\"36.60, -84.20\"", "\"96.60, -84.20\"")),
               Catch::Contains("line 12, column 12: "));
    CHECK_THAT(refused(changed(text, "power_w = 5", "power_w = 5\nbandwidth_khz = 15")),
               Catch::Contains("12.5 (narrow) or 25 (wide)"));
    CHECK_THAT(refused(text + "carried = \"knee\"\n"),
               Catch::EndsWith("carried = 'knee' is not known; give clear, face, chest, hip"));
    CHECK_THAT(refused(text + "[service]\nreadability = 2.5\n"), Catch::Contains("whole number"));
    CHECK_THAT(refused(changed(text, "[[stations]]", "[stations]")),
               Catch::Contains("put [[stations]] on a line of its own"));
    CHECK_THAT(refused(changed(text, "\"ground.tif\"", "[]")), Catch::EndsWith("names nothing"));
    CHECK_THAT(refused(changed(text, "\"ground.tif\"", "[3]")), Catch::Contains("text in quotes"));
}

TEST_CASE("names must be new where they are given and known where they are used") {
    const std::string text = least_scenario();
    const std::string station = text.substr(text.find("[[stations]]"));
    CHECK_THAT(refused(text + station),
               Catch::Contains("line 17") && Catch::Contains("a station 'Camp' is there already"));
    CHECK_THAT(refused(text + "[[places]]\nname = \"Camp\"\nposition = \"36.6,-84.1\"\n"),
               Catch::Contains("a station 'Camp' is there already"));
    CHECK_THAT(refused(changed(text, "radio = \"handheld\"", "radio = \"handhold\"")),
               Catch::Contains("line 14") &&
                   Catch::EndsWith("no [[radios]] is named 'handhold'; did you mean 'handheld'?"));
    CHECK_THAT(refused(changed(text, "\"dipole\"", "\"dipol\"")),
               Catch::EndsWith("did you mean 'dipole'?"));
    CHECK_THAT(refused(changed(text, "\"dipole\"", "\"dish of my own\"")),
               Catch::Contains("known are stock, quarter-wave"));
}

TEST_CASE("radios and antennas that do not go together are refused") {
    const std::string text = least_scenario();
    CHECK_THAT(refused(changed(text, "power_w = 5", "power_w = 5\nfrequency_mhz = 146.55")),
               Catch::Contains("line 15") &&
                   Catch::EndsWith("radio 'handheld' is on 146.55 MHz but the net on 146.52 MHz; "
                                   "set both alike"));
    const std::string second = "[[stations]]\nname = \"B\"\nposition = \"36.61,-84.2\"\n"
                               "antenna_height_m = 2\nradio = \"handheld\"\nantenna = \"flat\"\n"
                               "[[antennas]]\nname = \"flat\"\ngain_dbi = 2\n"
                               "polarization = \"horizontal\"\n";
    CHECK_THAT(refused(text + second),
               Catch::Contains("the antenna of B and that of Camp differ in polarization"));
    const Scenario flat = read_text(changed(text, "\"dipole\"", "\"flat\"") +
                                    second.substr(second.find("[[antennas]]")));
    CHECK(flat.conditions.polarization == propagation::Polarization::horizontal);
}

TEST_CASE("keys that do nothing beside others are refused") {
    const std::string text = least_scenario();
    CHECK_THAT(
        refused(text + "[method]\nk_factor = 1\n"),
        Catch::EndsWith("k_factor does nothing with method short-range; give delta_n instead"));
    CHECK_THAT(refused(text + "[method]\nname = \"deygout\"\nn0 = 320\n"),
               Catch::Contains("n0 does nothing with method deygout"));
    CHECK_THAT(refused(text + "[method]\nname = \"deygout\"\n[service]\nplaces_percent = 90\n"),
               Catch::Contains("method deygout predicts half of time and places only"));
    const std::string irregular = text + "[method]\nname = \"irregular-terrain\"\n";
    CHECK_THAT(refused(irregular + "k_factor = 1.3\n"), Catch::Contains("give n0 instead"));
    CHECK_THAT(refused(irregular + "delta_n = 40\n"), Catch::Contains("give n0 instead"));
    const Scenario taken =
        read_text(irregular + "n0 = 320\n[service]\ntime_percent = 10\nplaces_percent = 90\n");
    CHECK(taken.conditions.method == propagation::Method::irregular_terrain);
    CHECK(taken.conditions.refractivity.n0 == 320.0);
    CHECK(taken.conditions.time_percent == 10.0);
    CHECK_THAT(refused(changed(text, "\"ground.tif\"", "\"ground.tif\"\ncover_height_m = 5")),
               Catch::Contains("needs a cover_class"));
    CHECK_THAT(refused(changed(text, "\"ground.tif\"", "\"ground.tif\"\ncover_table = \"nlcd\"")),
               Catch::Contains("needs the rasters"));
    CHECK_THAT(refused(changed(text, "\"ground.tif\"",
                               "\"ground.tif\"\ncover = \"c.tif\"\ncover_class = \"open\"")),
               Catch::Contains("gives the cover twice"));
}

TEST_CASE("files that are no scenarios are refused") {
    CHECK_THAT(test::refusal_of(Fault::input, [] { (void)read_scenario("/nowhere/net.toml"); }),
               Catch::Equals("/nowhere/net.toml: the scenario cannot be opened; check the name"));
    CHECK_THAT(test::refusal_of(Fault::input, [] { (void)read_scenario("/"); }),
               Catch::Contains("is a folder"));
    CHECK_THAT(refused("[net\nname = 3"),
               Catch::Contains("line 1") && Catch::Contains("not valid TOML"));
    CHECK_THAT(refused(""), Catch::Contains("there is no [net]"));
    const std::string text = least_scenario();
    CHECK_THAT(refused("net = 5\n" + text.substr(text.find("[ground]"))),
               Catch::Contains("line 1, column 7: net is not written as a section"));
    CHECK_THAT(refused(std::string("\0\1\2", 3)), Catch::Contains("not valid TOML"));
    CHECK_THAT(refused("places_file = \"none.csv\"\n" + least_scenario()),
               Catch::Contains("none.csv: there is no such file"));
}

TEST_CASE("what goes too deep is refused before it is parsed") {
    const auto many = [](int count, const std::string& part) {
        std::string text;
        for (int k = 0; k < count; ++k) {
            text += part;
        }
        return text;
    };
    const std::string text = least_scenario();
    for (const std::string& deep :
         {"a" + many(50000, ".a") + " = 1\n", "[" + many(50000, "a.") + "a]\n",
          "a = " + many(50000, "[") + many(50000, "]") + "\n",
          "a = " + many(50000, "{a=") + "1" + many(50000, "}") + "\n",
          "\"a\"" + many(50000, ".\"a\"") + " = 1\n"}) {
        CHECK_THAT(refused("# one line before\n" + deep + text),
                   Catch::Contains("line 2: more than 100 levels within one another"));
    }
    // Points in texts and remarks are no levels.
    const std::string points = many(200, "...");
    CHECK(read_text(changed(text, "name = \"Camp\"", "name = \"Camp\" # " + points))
              .stations.size() == 1);
    CHECK(read_text(changed(text, "[ground]", "# it's \"open\n[ground]")).stations.size() == 1);
    CHECK(read_text(text + "[briefing]\nremarks = \"" + points + "\"\n").briefing.remarks ==
          std::vector{points});
    CHECK(
        read_text(text + "[briefing]\nremarks = \"\"\"\n" + points + "\"\"\"\n").briefing.remarks ==
        std::vector{points});
}

TEST_CASE("what screens would obey is refused in texts") {
    for (const char* const hidden :
         {"\\u001b[31m", "\\u009b31m", "\\u202e", "\\uffff", "\\u007f"}) {
        CHECK_THAT(refused(changed(least_scenario(), "name = \"Camp\"",
                                   "name = \"Camp" + std::string(hidden) + "\"")),
                   Catch::Contains("cannot be seen but would be obeyed"));
    }
}

TEST_CASE("stations and places are found by name") {
    const Scenario scenario = read_full();
    CHECK(station_named(scenario, "Walker").radio.body_loss_db > 5.0);
    const link::Station school = station_named(scenario, "School");
    CHECK(school.position.lat_deg == Approx(36.7));
    CHECK(school.antenna_height_m == 2.0);
    CHECK(school.radio.body_loss_db == 1.25);
    CHECK_THAT(test::refusal_of(Fault::usage, [&] { (void)station_named(scenario, "Shool"); }),
               Catch::EndsWith("did you mean 'School'?"));
    CHECK_THAT(test::refusal_of(Fault::usage, [&] { (void)station_named(scenario, "Lighthouse"); }),
               Catch::EndsWith("it has Hill, Walker, School, Mill"));
}

TEST_CASE("the starter and the sample are scenarios") {
    const Scenario starter = read_text(std::string(starter_scenario()));
    CHECK(starter.stations.size() == 2);
    CHECK(starter.places.size() == 1);
    const Scenario sample = read_scenario(EARSHOT_SOURCE_DIR "/dem-samples/valley-scenario.toml");
    CHECK(sample.stations.size() == 6);
    CHECK(sample.places.size() == 3);
    for (const link::Station& station : sample.stations) {
        // The places file is where the valley's places are.
        const auto places = read_places(EARSHOT_SOURCE_DIR "/dem-samples/valley-places.csv").places;
        const auto place = std::ranges::find(places, station.name, &Place::name);
        REQUIRE(place != places.end());
        CHECK(geo::geodesic_between(place->position, station.position).distance_m < 1.0);
    }
}

TEST_CASE("what a scenario says for the briefing is read") {
    const Scenario scenario = read_text(least_scenario() + R"(
person = "Ana Corbelt"
role = "relay"
fallback = "Well"
[[places]]
name = "Well"
position = "36.61, -84.21"
[[channels]]
name = "1 Talk"
frequency_mhz = 146.52
tone_hz = 100.0
use = "all calls"
power = "low first"
[[channels]]
name = "2 Spare"
frequency_mhz = 146.58
[briefing]
title = "A day out"
date = "6 June"
prepared_by = "Jory"
declination_deg = -5.5
range_km = 12
paths = [["Camp", "Well"], ["Well", "Camp"]]
ladder = ["Camp", "Well"]
remarks = ["One.", "Two."]
)");
    REQUIRE(scenario.duties.size() == scenario.stations.size());
    CHECK(scenario.duties[0].person == "Ana Corbelt");
    CHECK(scenario.duties[0].role == "relay");
    CHECK(scenario.duties[0].fallback == "Well");
    const std::vector<Channel>& channels = scenario.air.channels;
    REQUIRE(channels.size() == 2);
    CHECK(channels[0].transmit_mhz == 146.52);
    CHECK(channels[0].receive_mhz == 146.52);
    CHECK(channels[0].tone_hz == 100.0);
    CHECK(channels[0].use == "all calls");
    CHECK(channels[0].power == "low first");
    CHECK_FALSE(channels[1].tone_hz);
    const BriefingPlan& briefing = scenario.briefing;
    CHECK(briefing.title == "A day out");
    CHECK(briefing.date == "6 June");
    CHECK(briefing.prepared_by == "Jory");
    CHECK(briefing.declination_deg == -5.5);
    CHECK(briefing.range_m == 12000.0);
    REQUIRE(briefing.paths.size() == 2);
    CHECK(briefing.paths[1] == std::pair<std::string, std::string>("Well", "Camp"));
    CHECK(briefing.ladder == std::vector<std::string>{"Camp", "Well"});
    CHECK(briefing.remarks == std::vector<std::string>{"One.", "Two."});
}

TEST_CASE("a scenario without a briefing has an empty one") {
    const Scenario scenario = read_text(least_scenario());
    CHECK(scenario.duties.size() == 1);
    REQUIRE(scenario.air.channels.size() == 1); // that of the net
    CHECK(scenario.air.channels[0].direct());
    CHECK(scenario.air.channels[0].receive_mhz == scenario.conditions.frequency_mhz);
    CHECK(scenario.briefing.title.empty());
    CHECK_FALSE(scenario.briefing.range_m);
    CHECK(scenario.briefing.paths.empty());
}

TEST_CASE("briefing keys that contradict the scenario are refused with their line") {
    const auto says = [](const std::string& more, const std::string& part) {
        INFO(more);
        const std::string message = refused(least_scenario() + more);
        CHECK_THAT(message, Catch::Contains(part));
        CHECK_THAT(message, Catch::Contains(", line "));
    };
    says("fallback = \"Cmap\"\n", "did you mean 'Camp'");
    says("fallback = \"Camp\"\n", "the station itself");
    says("[briefing]\npaths = [\"Camp\", \"Well\"]\n", "list of pairs");
    says("[briefing]\npaths = [[\"Camp\"]]\n", "list of pairs");
    says("[briefing]\npaths = [[\"Camp\", 3]]\n", "text in quotes");
    says("[briefing]\npaths = [[\"Camp\", \"Well\"]]\n", "no station or place is named 'Well'");
    says("[briefing]\npaths = [[\"Camp\", \"Camp\"]]\n", "to itself");
    says("[briefing]\nladder = [\"Camp\", \"Camp\"]\n", "to itself");
    says("[briefing]\nladder = [\"Camp\", \"Camp\", \"Camp\"]\n", "more than two");
    says("[briefing]\nrange_km = 0\n", "out of range");
    says("[briefing]\ndeclination = 4\n", "declination_deg");
    says("[[channels]]\nname = \"1\"\n", "frequency_mhz");
    says("[[channels]]\nname = \"1\"\nfrequency_mhz = 146\n[[channels]]\nname = \"1\"\n"
         "frequency_mhz = 147\n",
         "there already");
}

namespace {

/// Invented: a second station, a repeater and three channels to what the least scenario has.
std::string with_channels() {
    return least_scenario() + R"([[channels]]
name = "1 Talk"
frequency_mhz = 146.52
[[channels]]
name = "2 Ridge"
transmit_mhz = 146.0
receive_mhz = 146.6
bandwidth_khz = 25
[[channels]]
name = "3 Camp"
frequency_mhz = 446.0
[[radios]]
name = "high"
band_mhz = [430, 450]
power_w = 4
threshold_dbm = -115
[[stations]]
name = "Both"
position = "36.61, -84.21"
antenna_height_m = 1.5
radio = ["handheld", "high"]
antenna = "stock"
[[stations]]
name = "Box"
position = "36.62, -84.22"
antenna_height_m = 12
radio = "handheld"
antenna = ["dipole", "j-pole"]
takes_in = "2 Ridge"
gives_out = "2 Ridge"
)";
}

} // namespace

TEST_CASE("channels, who is on them and what a repeater does are read") {
    Scenario net = read_text(with_channels());
    const Air& air = net.air;
    REQUIRE(air.channels.size() == 3);
    CHECK(net.channel == 0);
    CHECK_FALSE(air.channels[1].direct());
    CHECK(air.channels_of[0] == std::vector<std::size_t>{0, 1}); // its radio is for one band
    CHECK(air.channels_of[1] == std::vector<std::size_t>{0, 1, 2});
    CHECK(air.channels_of[2].empty());
    REQUIRE(air.repeats.size() == 1);
    CHECK(air.is_repeater(2));
    // The first antenna takes in, the last gives out.
    CHECK(air.talked[1].stations[2].radio.antenna == "dipole");
    CHECK(air.heard[1].stations[2].radio.antenna == "j-pole");
    // Each band with its own radio, antenna gain, loss to the body and noise.
    const link::Radio& low = air.heard[0].stations[1].radio;
    const link::Radio& high = air.heard[2].stations[1].radio;
    CHECK(low.kind == "handheld");
    CHECK(high.kind == "high");
    CHECK(low.antenna_gain_dbi == link::antenna_gain_dbi("stock", 146.52));
    CHECK(high.antenna_gain_dbi == link::antenna_gain_dbi("stock", 446.0));
    CHECK(low.body_loss_db == link::body_loss_db(link::Carried::at_face, 146.52));
    CHECK(high.body_loss_db == link::body_loss_db(link::Carried::at_face, 446.0));
    CHECK(low.needed->external_noise_db ==
          propagation::external_noise_figure_db(propagation::NoiseEnvironment::rural, 146.52));
    CHECK(high.needed->external_noise_db ==
          propagation::external_noise_figure_db(propagation::NoiseEnvironment::rural, 446.0));

    use_channel(net, "3 Camp");
    CHECK(net.conditions.frequency_mhz == 446.0);
    REQUIRE(net.stations.size() == 1);
    CHECK(net.stations[0].name == "Both");
    CHECK(net.stations[0].radio.kind == "high");
    CHECK_THAT(net.notes.back(), Catch::Contains("Camp (1 Talk), Box (2 Ridge)"));
    net = read_text(with_channels());
    use_channel(net, "2 Ridge"); // on which only the repeater is heard
    REQUIRE(net.stations.size() == 1);
    CHECK(net.stations[0].name == "Box");
    CHECK(net.conditions.frequency_mhz == 146.6);
    CHECK_THAT(test::refusal_of(Fault::usage, [&] { use_channel(net, "2 Rigde"); }),
               Catch::Contains("did you mean '2 Ridge'?"));
}

TEST_CASE("channels and repeaters that cannot be are refused with their line") {
    const auto says = [](const std::string& from, const std::string& to, const std::string& part) {
        INFO(to);
        const std::string message = refused(changed(with_channels(), from, to));
        CHECK_THAT(message, Catch::Contains(part));
        CHECK_THAT(message, Catch::Contains("net.toml, line "));
    };
    const std::string on_both = "antenna = \"stock\"\n";
    says(on_both, on_both + "channels = [\"3 Capm\"]\n", "did you mean '3 Camp'?");
    says(on_both, on_both + "channels = [\"3 Camp\", \"3 Camp\"]\n", "twice");
    says("antenna = \"dipole\"\n", "antenna = \"dipole\"\nchannels = \"3 Camp\"\n",
         "is not for the 446 MHz of channel '3 Camp'");
    says("antenna = \"stock\"", "antenna = \"tall\"\nchannels = \"3 Camp\"",
         "no antenna is named 'tall'");
    says("receive_mhz = 146.6", "receive_mhz = 146.0", "hear itself");
    says("receive_mhz = 146.6\n", "", "go together");
    says("transmit_mhz = 146.0", "transmit_mhz = 1001", "give 30 to 1000");
    says("transmit_mhz = 146.0", "transmit_mhz = 29", "give 30 to 1000");
    says("transmit_mhz = 146.0\nreceive_mhz = 146.6\nbandwidth_khz = 25", "frequency_mhz = 146.52",
         "is the same as '1 Talk'");
    says("bandwidth_khz = 25", "bandwidth_khz = 20", "12.5 (narrow)");
    says("gives_out = \"2 Ridge\"\n", "", "both takes_in and gives_out");
    says("gives_out = \"2 Ridge\"", "gives_out = \"2 Rigde\"", "did you mean '2 Ridge'?");
    says("takes_in = \"2 Ridge\"", "channels = \"1 Talk\"\ntakes_in = \"2 Ridge\"",
         "leave channels out");
    says("takes_in = \"2 Ridge\"", "both_ways = \"yes\"\ntakes_in = \"2 Ridge\"",
         "between two channels");
    says(on_both, on_both + "both_ways = \"yes\"\n", "is for a repeater");
    says("band_mhz = [430, 450]", "band_mhz = [450, 430]", "lowest and the highest");
    says("frequency_mhz = 146.52\n[ground]", "[ground]\nkind = 1", "'kind' is not known");
}

TEST_CASE("an antenna for another band is refused where a channel asks for it") {
    const std::string text = changed(with_channels(), "[[stations]]",
                                     "[[antennas]]\nname = \"tall\"\ngain_dbi = 5\n"
                                     "[[stations]]");
    // A gain without a band is for the band of the net.
    CHECK_THAT(refused(changed(text, "antenna = \"stock\"\n",
                               "antenna = \"tall\"\nchannels = \"3 Camp\"\n")),
               Catch::Contains("antenna 'tall' is not for the 446 MHz of channel '3 Camp'"));
}

TEST_CASE("who and what is of no use to anybody is told") {
    const std::string lonely = changed(with_channels(), "antenna = \"stock\"\n",
                                       "antenna = \"stock\"\nchannels = \"3 Camp\"\n");
    const std::vector<std::string> notes = read_text(lonely).notes;
    CHECK(std::ranges::any_of(notes, [](const std::string& note) {
        return note.starts_with("Both has no channel in common with anybody");
    }));
    const std::string idle =
        with_channels() + "[[channels]]\nname = \"4 Air\"\nfrequency_mhz = 121.5\n";
    CHECK(std::ranges::any_of(read_text(idle).notes, [](const std::string& note) {
        return note.starts_with("no station is on channel 4 Air");
    }));
}

} // namespace earshot::scenario
