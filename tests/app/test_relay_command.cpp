#include "program.hpp"

#include <GeographicLib/Geodesic.hpp>
#include <fmt/format.h>
#include <gdal_priv.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>

namespace earshot::app {

using namespace testing;
using nlohmann::json;

namespace {

/// Four people of an invented net on the sample of real ground: two in sight of each other, two
/// behind hills.
constexpr const char* net_of_four = R"toml(
[net]
name = "Four (invented)"
frequency_mhz = 146
[service]
margin_db = 6
[ground]
elevation = "ground.tif"
[[radios]]
name = "handheld"
power_w = 5
threshold_dbm = -116
[[antennas]]
name = "plain"
gain_dbi = 0
[[stations]]
name = "Ridge"
position = "36.60, -84.20"
antenna_height_m = 6
radio = "handheld"
antenna = "plain"
[[stations]]
name = "Camp"
position = "36.68, -84.10"
antenna_height_m = 2
radio = "handheld"
antenna = "plain"
[[places]]
name = "Ford"
position = "36.52, -84.30"
people = 30
[[places]]
name = "Mill"
position = "36.62, -84.12"
people = 4
)toml";

TemporaryFolder& folder_with_net() {
    static TemporaryFolder folder;
    if (!std::filesystem::exists(folder / "net.toml")) {
        std::filesystem::create_symlink(sample, folder / "ground.tif");
        write_file(folder / "net.toml", net_of_four);
    }
    return folder;
}

const Arguments relay{"relay", "--scenario", "net.toml", "--most-candidates", "60"};

/// The refusal of a command that must fail, in one line and without a trace.
std::string refusal(const Arguments& arguments, int exit_code) {
    const TemporaryFolder& folder = folder_with_net();
    const auto before = folder.names();
    const Outcome outcome = run(folder, arguments);
    INFO(outcome.err);
    CHECK(outcome.exit_code == exit_code);
    CHECK(outcome.out.empty());
    CHECK(std::ranges::count(outcome.err, '\n') == 1);
    CHECK(folder.names() == before);
    return outcome.err;
}

double margin_of_path(const json& document) {
    return std::min(document["outward"]["margin_db"].get<double>(),
                    document["backward"]["margin_db"].get<double>());
}

} // namespace

TEST_CASE("a relay for a scenario serves its people, as the path command says") {
    const TemporaryFolder& folder = folder_with_net();
    const json answer =
        json::parse(output_of(folder, relay + Arguments{"--json", "--relay-antenna-height", "8m"}));
    CHECK(answer["wanted_margin_db"] == 6.0);
    CHECK(answer["total"] == 36.0); // two stations, 30 and 4 people
    REQUIRE(answer["sites"].size() == 1);
    const json& site = answer["sites"][0];
    REQUIRE(site["places"].size() == 4);
    for (const json& place : site["places"]) {
        INFO(place.dump());
        // The listener is a handheld of 1.5 m, which every station of the scenario overrides.
        const std::string at = std::to_string(site["latitude"].get<double>()) + "," +
                               std::to_string(site["longitude"].get<double>());
        const json path = json::parse(output_of(
            folder, {"path", "--scenario", "net.toml", "--from", at, "--from-antenna-height", "8m",
                     "--to", place["name"].get<std::string>(), "--json"}));
        CHECK(std::min(place["to_place_db"].get<double>(), place["to_relay_db"].get<double>()) ==
              Approx(margin_of_path(path)).margin(0.05));
        CHECK(place["served"] == (margin_of_path(path) >= 6.0));
    }
    CHECK(json::parse(output_of(
              folder, relay + Arguments{"--json", "--serve", "places"}))["total"] == 34.0);
    CHECK(json::parse(output_of(folder, relay + Arguments{"--json", "--place", "Camp", "--place",
                                                          "Hut=36.60,-84.15"}))["total"] == 2.0);
}

TEST_CASE("single sites that are listed stand apart, each with its reason") {
    const TemporaryFolder& folder = folder_with_net();
    const json answer = json::parse(
        output_of(folder, relay + Arguments{"--json", "--apart", "3km", "--margin", "35dB"}));
    const json& singles = answer["single_sites"];
    REQUIRE(singles.size() > 2);
    for (std::size_t a = 0; a < singles.size(); ++a) {
        CHECK_THAT(singles[a]["reason"].get<std::string>(), Catch::StartsWith("hears "));
        for (std::size_t b = 0; b < a; ++b) {
            // On a sphere of 6371 km, which is good to half a percent.
            const double degree = std::acos(-1.0) / 180.0;
            const double north =
                singles[a]["latitude"].get<double>() - singles[b]["latitude"].get<double>();
            const double east =
                (singles[a]["longitude"].get<double>() - singles[b]["longitude"].get<double>()) *
                std::cos(36.6 * degree);
            CHECK(6371.0 * degree * std::hypot(north, east) > 2.97);
        }
    }
}

TEST_CASE("the map of the chosen sites has a band for each, and who serves best") {
    const TemporaryFolder& folder = folder_with_net();
    const json answer = json::parse(output_of(
        folder, relay + Arguments{"--sites", "2", "--margin", "45dB", "--range", "12km", "--json",
                                  "--out", "map.tif", "--out", "sites.geojson"}));
    REQUIRE(answer["sites"].size() == 2);
    const json sites = json::parse(content_of(folder / "sites.geojson"));
    REQUIRE(sites["features"].size() == 2);
    CHECK(sites["features"][1]["properties"]["name"] == "relay 2");

    GDALAllRegister();
    const GDALDatasetUniquePtr map(GDALDataset::Open((folder / "map.tif").c_str()));
    REQUIRE(map);
    REQUIRE(map->GetRasterCount() == 5);
    CHECK_THAT(map->GetRasterBand(1)->GetDescription(), Catch::Contains("relay 1"));
    CHECK_THAT(map->GetRasterBand(2)->GetDescription(), Catch::Contains("relay 2"));
    CHECK_THAT(map->GetMetadataItem("RELAY_NAME"), Catch::Equals("relay 1; relay 2"));
    const int width = map->GetRasterXSize();
    const int height = map->GetRasterYSize();
    std::vector<std::vector<float>> bands(
        5, std::vector<float>(static_cast<std::size_t>(width) * static_cast<std::size_t>(height)));
    for (int band = 0; band < 5; ++band) {
        REQUIRE(map->GetRasterBand(band + 1)->RasterIO(
                    GF_Read, 0, 0, width, height, bands[static_cast<std::size_t>(band)].data(),
                    width, height, GDT_Float32, 0, 0, nullptr) == CE_None);
    }
    std::size_t both = 0;
    for (std::size_t cell = 0; cell < bands[0].size(); ++cell) {
        const float a = bands[0][cell];
        const float b = bands[1][cell];
        if (a == -9999.0F || b == -9999.0F) {
            continue;
        }
        ++both;
        REQUIRE(bands[2][cell] == Approx(std::max(a, b)).margin(1e-3));
        const int heard = (a >= 45.0F ? 1 : 0) + (b >= 45.0F ? 1 : 0);
        REQUIRE(std::abs(bands[3][cell] - static_cast<float>(heard)) <=
                (std::min(std::abs(a - 45.0F), std::abs(b - 45.0F)) < 1e-3F ? 1.0F : 0.0F));
        if (heard > 0 && std::abs(a - b) > 1e-3F) {
            REQUIRE(bands[4][cell] == (a > b ? 1.0F : 2.0F));
        }
    }
    CHECK(both > 1000);
    std::filesystem::remove(folder / "map.tif");
    std::filesystem::remove(folder / "sites.geojson");
}

TEST_CASE("a relay search that cannot be run is refused in one line") {
    const TemporaryFolder& folder = folder_with_net();
    const auto contains = [](const char* words) { return Catch::Contains(words); };
    CHECK_THAT(refusal(relay + Arguments{"--place", "A=36.6,-84.2", "--place", "A=36.7,-84.2"}, 2),
               contains("two places have the name A"));
    CHECK_THAT(refusal(relay + Arguments{"--place", "Rigde"}, 2),
               contains("Rigde") && contains("did you mean 'Ridge'"));
    CHECK_THAT(refusal(relay + Arguments{"--place", "Far=36.9,-84.2"}, 3),
               contains("Far") || contains("no elevation"));
    CHECK_THAT(refusal(relay + Arguments{"--place", "Ridge", "--place", "Sea=36.3,-84.2"}, 3),
               contains("Sea") && contains("off the elevation"));
    CHECK_THAT(refusal(relay + Arguments{"--above", "5000m"}, 3),
               contains("no place is left") && contains("'ground above 5000 m' removed"));
    write_file(folder / "empty.geojson", R"({"type":"Polygon","coordinates":[]})");
    write_file(folder / "flat.geojson",
               R"({"type":"Polygon","coordinates":[[[-84,36.6],[-84.1,36.7],[-84,36.6]]]})");
    for (const char* file : {"empty.geojson", "flat.geojson"}) {
        CHECK_THAT(refusal(relay + Arguments{"--area", file}, 3),
                   contains(file) && contains("empty"));
        CHECK_THAT(refusal(relay + Arguments{"--inside", file}, 3),
                   contains(file) && contains("empty"));
    }
    CHECK_THAT(refusal(relay + Arguments{"--out", "map.png"}, 2), contains(".tif"));
    CHECK_THAT(refusal(relay + Arguments{"--out", "absent/map.tif"}, 4),
               contains("does not exist"));
    CHECK_THAT(refusal(relay + Arguments{"--out", "net.tif", "--out", "net.tif"}, 2),
               contains("two outputs"));
    CHECK_THAT(refusal({"relay", "--terrain", sample, "--frequency", "146MHz"}, 2),
               contains("what to serve"));

    std::string twice = net_of_four;
    twice.replace(twice.find("\"Camp\""), 6, "\"Ridge\"");
    write_file(folder / "twice.toml", twice);
    CHECK_THAT(refusal({"net", "--scenario", "twice.toml"}, 3),
               contains("Ridge") && contains("twice.toml, line"));
    std::string other = net_of_four;
    other.insert(other.find("power_w"), "frequency_mhz = 446\n");
    write_file(folder / "other.toml", other);
    CHECK_THAT(refusal({"relay", "--scenario", "other.toml"}, 3),
               contains("446 MHz") && contains("net on 146 MHz"));
    for (const char* file : {"empty.geojson", "flat.geojson", "twice.toml", "other.toml"}) {
        std::filesystem::remove(folder / file);
    }
}

TEST_CASE("a map that cannot be written takes nothing of the answer away") {
    const TemporaryFolder& folder = folder_with_net();
    const auto before = folder.names();
    Surroundings full_disk;
    full_disk.largest_file_bytes = 16384;
    const Outcome outcome =
        run(folder, relay + Arguments{"--range", "10km", "--out", "map.tif"}, full_disk);
    CHECK(outcome.exit_code == 4);
    CHECK_THAT(outcome.out, Catch::Contains("One relay serves") && Catch::Contains("relay 1 at"));
    CHECK_THAT(outcome.err, Catch::Contains("map.tif") && Catch::Contains("disk"));
    CHECK(folder.names() == before);
}

TEST_CASE("a relay is written into the scenario, and nothing else of it changes") {
    const TemporaryFolder folder;
    std::filesystem::create_symlink(sample, folder / "ground.tif");
    const std::string before = "# Ours, by hand.\n" + std::string(net_of_four);
    write_file(folder / "mine.toml", before);
    std::filesystem::create_symlink("mine.toml", folder / "net.toml");
    const Arguments apply{"--apply", "--relay-like", "Ridge"};
    const std::string words = output_of(folder, relay + apply);
    CHECK_THAT(words, Catch::Contains("Relays are taken to have 5 W, antenna plain (+0.0 dBi), 6 m "
                                      "above the ground") &&
                          Catch::Contains("; weakest link ") && Catch::Contains(", chance ") &&
                          Catch::Contains("Wrote relay 1 into net.toml"));
    const std::string after = content_of(folder / "mine.toml");
    CHECK(after.starts_with(before));
    CHECK(folder.names() == std::vector<std::string>{"ground.tif", "mine.toml", "net.toml"});
    CHECK(std::filesystem::is_symlink(folder / "net.toml"));
    const json net = json::parse(output_of(folder, {"net", "--scenario", "net.toml", "--json"}));
    REQUIRE(net["stations"].size() == 3);
    CHECK(net["stations"][2]["name"] == "relay 1");
    CHECK(net["stations"][2]["antenna_height_m"] == 6.0);
    CHECK(net["stations"][2]["body_loss_db"] == 0.0);
    // Once more: it stands there already.
    const Outcome again = run(folder, relay + apply);
    CHECK(again.exit_code == 2);
    CHECK_THAT(again.err, Catch::Contains("relay 1 stands in net.toml already"));
    CHECK(content_of(folder / "mine.toml") == after);
    write_file(folder / "mine.toml", before);

    // A radio that the scenario does not have is not written, and the file stays as it is.
    const std::string twice = content_of(folder / "mine.toml");
    const Outcome other = run(folder, relay + apply + Arguments{"--relay-power", "9W"});
    CHECK(other.exit_code == 2);
    CHECK_THAT(other.err, Catch::Contains("does not have"));
    CHECK(content_of(folder / "mine.toml") == twice);
    // Nor on a full disk.
    Surroundings full;
    full.largest_file_bytes = 700;
    CHECK(run(folder, relay + apply, full).exit_code != 0);
    CHECK(content_of(folder / "mine.toml") == twice);
    CHECK(folder.names() == std::vector<std::string>{"ground.tif", "mine.toml", "net.toml"});
}

TEST_CASE("answers come in one system of units, the scenario's") {
    const TemporaryFolder folder;
    std::filesystem::create_symlink(sample, folder / "ground.tif");
    std::string text = net_of_four;
    text.insert(text.find("[service]"), "units = \"imperial\"\n");
    write_file(folder / "net.toml", text);
    const std::string range =
        output_of(folder, {"range", "--scenario", "net.toml", "--at", "Camp", "--range", "3km"});
    CHECK_THAT(range, Catch::Contains(" mi") && !Catch::Contains(" km") && !Catch::Contains(" m "));
    const std::string net = output_of(folder, {"net", "--scenario", "net.toml"});
    CHECK_THAT(net, Catch::Contains(" mi  ") && !Catch::Contains(" km"));
    // 6 m are 19.7 ft.
    CHECK_THAT(output_of(folder, relay + Arguments{"--relay-like", "Ridge"}),
               Catch::Contains("19.7 ft above the ground") && !Catch::Contains(" km"));
}

TEST_CASE("mast, ladder and range take a scenario and its names") {
    const TemporaryFolder& folder = folder_with_net();
    const Arguments net{"--scenario", "net.toml", "--json"};
    const json path =
        json::parse(output_of(folder, Arguments{"path", "--from", "Ridge", "--to", "Camp"} + net));
    // At its own height, the mast's margin is that of the path.
    const json mast =
        json::parse(output_of(folder, Arguments{"mast", "--from", "Ridge", "--to", "Camp", "--end",
                                                "from", "--lowest", "6m", "--limit", "7m"} +
                                          net));
    CHECK(mast["wanted_margin_db"] == 6.0);
    CHECK(mast["masts"][0]["raised"] == "Ridge");
    CHECK(mast["masts"][0]["table"][0]["margin_out_db"].get<double>() ==
          Approx(path["outward"]["margin_db"].get<double>()).margin(1e-3));

    const json ladder =
        json::parse(output_of(folder, Arguments{"ladder", "--at", "Ridge", "--to", "Camp"} + net));
    CHECK(ladder["start"]["margin_db"].get<double>() == Approx(margin_of_path(path)).margin(1e-3));
    const json all =
        json::parse(output_of(folder, Arguments{"ladder", "--at", "Ridge", "--to-all"} + net));
    CHECK(all["start"]["weight"].get<double>() <= 35.0);
    CHECK_FALSE(all["start"].contains("margin_db"));

    const Arguments short_range{"--range", "3km", "--directions", "8", "--margin", "50dB"};
    const json range =
        json::parse(output_of(folder, Arguments{"range", "--at", "Camp"} + net + short_range));
    REQUIRE(range["directions"].size() == 8);
    const json on_foot = json::parse(output_of(
        folder, Arguments{"ladder", "--at", "Camp", "--range", "3km", "--move", "0m"} + net));
    CHECK_THAT(range["words"].get<std::string>(),
               Catch::Contains("half of directions reach") && Catch::Contains("worst"));
    CHECK_THAT(on_foot["start"]["words"].get<std::string>(),
               Catch::Contains("half of directions reach"));
    // The last point before the first without contact has the margin, and the next has not.
    const auto end = std::ranges::find_if(range["directions"], [](const json& direction) {
        return direction["unbroken_m"] > 200.0 && direction["to_the_end"] == false;
    });
    REQUIRE(end != range["directions"].end());
    const auto margin_at = [&](double distance_m) {
        double latitude = 0.0;
        double longitude = 0.0;
        GeographicLib::Geodesic::WGS84().Direct(36.68, -84.10, (*end)["bearing_deg"].get<double>(),
                                                distance_m, latitude, longitude);
        return margin_of_path(json::parse(
            output_of(folder, Arguments{"path", "--from", "Camp", "--to",
                                        fmt::format("{:.9f},{:.9f}", latitude, longitude)} +
                                  net)));
    };
    const double unbroken_m = (*end)["unbroken_m"].get<double>();
    CHECK(margin_at(unbroken_m) > 49.95);
    CHECK(margin_at(unbroken_m + range["spacing_m"].get<double>()) < 50.05);
}

TEST_CASE("a power option counts over a scenario, and so does an antenna in noise") {
    const TemporaryFolder& folder = folder_with_net();
    const auto margins = [&](const Arguments& more) {
        const json path =
            json::parse(output_of(folder, Arguments{"path", "--scenario", "net.toml", "--from",
                                                    "Ridge", "--to", "Camp", "--json"} +
                                              more));
        return std::pair(path["outward"]["margin_db"].get<double>(),
                         path["backward"]["margin_db"].get<double>());
    };
    const auto [out, back] = margins({});
    const auto [stronger, as_before] = margins({"--from-power", "10W"});
    CHECK(stronger - out == Approx(10.0 * std::log10(2.0)).margin(1e-3));
    CHECK(as_before == Approx(back).margin(1e-6));

    // In noise, with a receiver of noise figure f_r and an antenna that loses l, the level needed
    // rises by f = f_r + (f_a - 1) / l over f_r (ITU-R P.372-16 part 1). The scenario's noise must
    // be worked out anew for another antenna: as if the scenario had that antenna.
    std::string noisy = net_of_four;
    noisy.insert(noisy.find("[service]"), "noise = \"residential\"\n");
    write_file(folder / "noisy.toml", noisy);
    std::string poor = noisy;
    poor.replace(poor.find("gain_dbi = 0"), 12, "gain_dbi = -6");
    write_file(folder / "poor.toml", poor);
    const auto of = [&](const std::string& file, const Arguments& more) {
        const json path =
            json::parse(output_of(folder, Arguments{"path", "--scenario", file, "--from", "Ridge",
                                                    "--to", "Camp", "--json"} +
                                              more));
        return margin_of_path(path);
    };
    CHECK(of("noisy.toml", {"--gain", "-6dBi"}) == Approx(of("poor.toml", {})).margin(1e-6));
    CHECK(of("noisy.toml", {}) - of("poor.toml", {}) < 11.5); // 12 dB less what noise takes
    std::filesystem::remove(folder / "noisy.toml");
    std::filesystem::remove(folder / "poor.toml");
}

} // namespace earshot::app
