#include "program.hpp"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <string>

/// The invented net on two bands of dem-samples.

namespace earshot::app {

using namespace testing;
namespace {

using nlohmann::json;

const TemporaryFolder& folder_with_bands() {
    static const TemporaryFolder folder;
    static const bool written = [] {
        std::filesystem::create_symlink(sample, folder / "cumberland_3arcsec.tif");
        write_file(folder / "net.toml",
                   content_of(std::string(EARSHOT_SOURCE_DIR) + "/dem-samples/two-bands.toml"));
        return true;
    }();
    CHECK(written);
    return folder;
}

} // namespace

TEST_CASE("a net says who talks with whom on which channel and through which repeater") {
    const TemporaryFolder& folder = folder_with_bands();
    const json net = json::parse(output_of(folder, {"net", "net.toml", "--json"}));
    CHECK(net["channels"].size() == 3);
    CHECK(net["repeaters"].size() == 3); // one of them both ways
    for (const json& pair : net["pairs"]) {
        const json& way = pair["through"];
        CHECK((pair["talk"] == false || pair["mutual"] == true || way["heard"] == true));
        if (way.is_object()) {
            CHECK(way["heard"] == (way["weakest_margin_db"] >= 3.0));
        }
        // The tent has the high band alone, and only the car passes it on.
        if (pair["a"] == "Camp tent" && pair["b"] == "Walker") {
            CHECK(pair["channel"].is_null());
            CHECK(way["repeater"] == "Camp car");
            CHECK(way["a_talks_on"] == "3 Camp");
            CHECK(way["b_talks_on"] == "1 Talk");
        }
    }
    const std::string text = output_of(folder, {"net", "net.toml"});
    CHECK_THAT(text, Catch::Contains("The repeater Ridge box serves ") &&
                         Catch::Contains("no channel in common") &&
                         Catch::Contains("may need a licence"));
}

TEST_CASE("maps and paths are of the channel that is named") {
    const TemporaryFolder& folder = folder_with_bands();
    const Arguments path{"path",   "--scenario", "net.toml", "--from",
                         "Walker", "--to",       "Base",     "--json"};
    CHECK(json::parse(output_of(folder, path))["frequency_mhz"] == 146.52);
    const Outcome tent =
        run(folder, {"path", "--scenario", "net.toml", "--from", "Walker", "--to", "Camp tent"});
    CHECK(tent.exit_code == 2);
    CHECK_THAT(tent.err, Catch::Contains("Camp tent is not heard on channel 1 Talk") &&
                             Catch::Contains("--channel '3 Camp'"));
    const Outcome wrong = run(folder, path + Arguments{"--channel", "2 Rigde"});
    CHECK(wrong.exit_code == 2);
    CHECK_THAT(wrong.err, Catch::Contains("did you mean '2 Ridge'?"));
    const std::string map =
        output_of(folder, {"map", "--scenario", "net.toml", "--channel", "2 Ridge", "--range",
                           "3km", "--out", "map.tif", "--json"});
    // Of those on it only the repeater is heard there.
    CHECK(json::parse(map)["stations"] == 1);
    CHECK_THAT(map, Catch::Contains("predicted on channel 2 Ridge"));
}

TEST_CASE("a repeater is placed for both of its sides, and written") {
    const TemporaryFolder folder;
    std::filesystem::create_symlink(sample, folder / "cumberland_3arcsec.tif");
    write_file(folder / "net.toml", content_of(folder_with_bands() / "net.toml"));
    const Arguments place{"relay",   "--scenario",   "net.toml", "--takes-in",
                          "2 Ridge", "--around",     "2km",      "--most-candidates",
                          "60",      "--relay-like", "Ridge box"};
    const json found = json::parse(output_of(folder, place + Arguments{"--json"}));
    CHECK(std::ranges::any_of(found["notes"], [](const std::string& note) {
        return note.find("takes in 146 MHz and gives out 146.6 MHz") != std::string::npos;
    }));
    (void)output_of(folder, place + Arguments{"--apply"});
    const json net = json::parse(output_of(folder, {"net", "net.toml", "--json"}));
    const json& repeaters = net["repeaters"];
    REQUIRE(repeaters.size() == 4);
    CHECK(repeaters[3]["station"] == "relay 1");
    CHECK(repeaters[3]["gives_out"] == "2 Ridge");
    // What the search said of a place is what the net says of the leg, on both frequencies.
    for (const json& pair : net["pairs"]) {
        if (pair["b"] != "relay 1" || pair["channel"].is_null()) {
            continue;
        }
        for (const json& service : found["sites"][0]["places"]) {
            if (service["name"] == pair["a"]) {
                CHECK(service["to_place_db"].get<double>() ==
                      Approx(pair["a_hears_b"]["margin_db"].get<double>()).margin(0.1));
                CHECK(service["to_relay_db"].get<double>() ==
                      Approx(pair["b_hears_a"]["margin_db"].get<double>()).margin(0.1));
            }
        }
    }
    for (const auto& [words, part] :
         {std::pair(Arguments{"--takes-in", "1 Talk"}, "hear itself"),
          std::pair(Arguments{"--takes-in", "9"}, "it has 1 Talk"),
          std::pair(Arguments{"--gives-out", "1 Talk"}, "goes with --takes-in")}) {
        const Outcome refused = run(folder, Arguments{"relay", "--scenario", "net.toml"} + words);
        CHECK(refused.exit_code == 2);
        CHECK_THAT(refused.err, Catch::Contains(part));
    }
}

} // namespace earshot::app
