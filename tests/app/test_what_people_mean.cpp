#include "program.hpp"

#include <catch2/catch.hpp>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <string>

namespace earshot::app::testing {
namespace {

using Catch::Contains;
using nlohmann::json;

const std::string valley_net = net_of_two("GF 49000 54000");

const Arguments on_sample{"--terrain", sample, "--frequency", "146.52MHz"};

std::string refused_with(const TemporaryFolder& folder, const Arguments& arguments, int code) {
    const Outcome outcome = run(folder, arguments);
    CHECK(outcome.exit_code == code);
    return outcome.err;
}

} // namespace

TEST_CASE("help is given when it is asked for in words") {
    const TemporaryFolder folder;
    CHECK(output_of(folder, {"help"}) == output_of(folder, {"--help"}));
    CHECK(output_of(folder, {"help", "net"}) == output_of(folder, {"net", "--help"}));
    CHECK_THAT(refused_with(folder, {"help", "nonsense"}, 2), Contains("nonsense"));
}

TEST_CASE("a scenario alone is enough for its net and for a map of all its stations") {
    const TemporaryFolder folder;
    write_file(folder / "net.toml", valley_net);
    CHECK(output_of(folder, {"net", "net.toml"}) ==
          output_of(folder, {"net", "--scenario", "net.toml"}));
    const Arguments map{"map", "--scenario", "net.toml", "--range", "1km", "--out", "map.tif"};
    const json all = json::parse(output_of(folder, map + Arguments{"--json"}));
    CHECK(all.at("stations") == 2);
    CHECK_THAT(refused_with(folder, Arguments{"map", "--out", "map.tif"} + on_sample, 2),
               Contains("--at is missing") && Contains("--scenario"));
}

TEST_CASE("a file whose ending is that of another format is not written") {
    const TemporaryFolder folder;
    write_file(folder / "net.toml", valley_net);
    const Arguments map = Arguments{"map", "--at", "36.58,-84.21", "--range", "1km"} + on_sample;
    CHECK_THAT(refused_with(folder, map + Arguments{"--out", "nc.png"}, 2),
               Contains("nc.png") && Contains("name it nc.tif"));
    const Arguments net{"net", "net.toml"};
    CHECK_THAT(refused_with(folder, net + Arguments{"--csv", "net.geojson"}, 2),
               Contains("net.csv"));
    CHECK_THAT(refused_with(folder, net + Arguments{"--geojson", "net.kml"}, 2),
               Contains("net.geojson"));
    CHECK(folder.names() == std::vector<std::string>{"net.toml"});
    (void)output_of(folder, net + Arguments{"--csv", "net.txt"}); // no format's ending
    (void)output_of(folder, map + Arguments{"--out", "MAP.TIFF"});
}

TEST_CASE("stops and relay sites are written as the ending says") {
    const TemporaryFolder folder;
    write_file(folder / "net.toml", valley_net);
    const Arguments walk{"walk",     "--scenario", "net.toml", "--bearing", "60",
                         "--length", "3km",        "--stops",  "4",         "--out"};
    const Arguments relay =
        Arguments{"relay",    "--place", "A=36.58,-84.21", "--place", "B=36.60,-84.19",
                  "--around", "1km",     "--out"} +
        Arguments{};
    for (const auto& [ending, mark] : {std::pair<std::string, std::string>{"gpx", "<wpt "},
                                       {"kml", "<Placemark>"},
                                       {"geojson", "\"Point\""}}) {
        CHECK_THAT(output_of(folder, walk + Arguments{"stops." + ending}),
                   Contains("where to stop"));
        CHECK_THAT(content_of(folder / ("stops." + ending)), Contains(mark));
        (void)output_of(folder, relay + Arguments{"sites." + ending} + on_sample);
        CHECK_THAT(content_of(folder / ("sites." + ending)), Contains(mark));
    }
    CHECK_THAT(refused_with(folder, walk + Arguments{"stops.pdf"}, 2), Contains("stops.csv"));
    // The stops of a phone are a log when their scores are filled in.
    CHECK_THAT(refused_with(folder, {"compare", "--scenario", "net.toml", "--log", "stops.gpx"}, 3),
               Contains("no call in it has a score"));
}

TEST_CASE("a position off the elevation is told what was probably meant") {
    const TemporaryFolder folder;
    const Arguments path = Arguments{"path", "--from", "36.58,-84.21", "--to"};
    CHECK_THAT(refused_with(folder, path + Arguments{"36.60,84.19"} + on_sample, 3),
               Contains("runs from 36.73292, -84.41375") &&
                   Contains("did you mean 36.60000, -84.19000"));
    CHECK_THAT(refused_with(folder, path + Arguments{"-84.19,36.60"} + on_sample, 3),
               Contains("did you mean 36.60000, -84.19000") && Contains("other way round"));
    CHECK_THAT(refused_with(folder,
                            Arguments{"map", "--at", "36.6,84.2", "--out", "m.tif"} + on_sample, 3),
               Contains("no elevation within") && Contains("did you mean 36.60000, -84.20000"));
}

TEST_CASE("one slip in a phone's places does not stop everything") {
    const TemporaryFolder folder;
    write_file(folder / "net.toml", "places_file = \"camps.csv\"\n" + valley_net);
    write_file(folder / "camps.csv",
               "name,lat,lon\nMill camp,36.58,-84.20\nMill camp,36.59,-84.19\n"
               "Lost,36.58,84.20\nFord,36.6,-84.21\n");
    const std::string said = output_of(
        folder, Arguments{"relay", "--places-file", "camps.csv", "--around", "1km"} + on_sample);
    CHECK_THAT(said, Contains("a second 'Mill camp'") && Contains("the place Lost") &&
                         Contains("off the elevation and left out") && Contains("2 of 2 places"));
    CHECK_THAT(output_of(folder, {"net", "net.toml"}),
               Contains("whose name is there already were left out") && Contains("Mill camp"));
    // Named by hand, it is refused.
    CHECK_THAT(refused_with(folder,
                            Arguments{"relay", "--place", "Ford=36.6,-84.21", "--place",
                                      "Lost=36.58,84.20", "--around", "1km"} +
                                on_sample,
                            3),
               Contains("Lost") && Contains("did you mean 36.58000, -84.20000"));
}

TEST_CASE("positions and heights are taken as people write them") {
    const TemporaryFolder folder;
    write_file(folder / "net.toml", valley_net);
    const auto margin = [&](const Arguments& arguments) {
        const json path = json::parse(output_of(
            folder, Arguments{"path", "--from", "36.5792,-84.2108", "--json"} + arguments));
        return path.at("outward").at("margin_db").get<double>();
    };
    const double zoned_db = margin(Arguments{"--to", "16SGF 49000 54000"} + on_sample);
    CHECK(margin({"--scenario", "net.toml", "--to", "GF 49000 54000"}) ==
          Approx(margin({"--scenario", "net.toml", "--to", "16SGF4900054000"})));
    CHECK(margin(Arguments{"--to", "16SGF 49000 54000", "--to-antenna-height", "5'6\""} +
                 on_sample) ==
          Approx(margin(Arguments{"--to", "16SGF 49000 54000", "--to-antenna-height", "1.6764m"} +
                        on_sample)));
    CHECK(zoned_db != 0.0);
    CHECK_THAT(output_of(folder, Arguments{"path", "--from", "36.5792,-84.2108", "--to", "EM76vo"} +
                                     on_sample),
               Contains("EM76vo is a square of some 4.6 km"));
    CHECK_THAT(refused_with(folder,
                            Arguments{"path", "--from", "36.58,-84.21", "--to", "GF4900054000"} +
                                on_sample,
                            2),
               Contains("without its zone"));
}

TEST_CASE("a set-up that the scenario does not know is not made up") {
    const TemporaryFolder folder;
    write_file(folder / "net.toml", valley_net + R"(
[[set_ups]]
name = "5W stock"
radio = "handheld"
antenna = "stock"
antenna_height_m = 1.5
)");
    write_file(folder / "log.csv", "stop,latitude,longitude,set_up,score\n"
                                   "A,36.58,-84.20,5W stock,3\nB,36.59,-84.20,5W stok,3\n"
                                   "C,36.59,-84.21,whip,3\n");
    const std::string said =
        output_of(folder, {"compare", "--scenario", "net.toml", "--log", "log.csv"});
    CHECK_THAT(said, Contains("no set-up '5W stok'") && Contains("did you mean '5W stock'") &&
                         Contains("no set-up 'whip'; name one of 5W stock"));
}

TEST_CASE("every answer says that metres were taken where the elevation does not say") {
    const TemporaryFolder folder;
    write_file(folder / "net.toml", valley_net);
    for (const Arguments& command :
         {Arguments{"path", "--from", "Ombrel Mill", "--to", "Quorrel"},
          Arguments{"range", "--at", "Quorrel", "--range", "1km"},
          Arguments{"map", "--range", "1km", "--out", "map.tif"}, Arguments{"net"}}) {
        INFO(command.front());
        const Arguments asked = command + Arguments{"--scenario", "net.toml"};
        CHECK_THAT(output_of(folder, asked), Contains("metres were taken"));
        CHECK_THAT(output_of(folder, asked + Arguments{"--json"}), Contains("metres were taken"));
    }
    CHECK_THAT(output_of(folder, Arguments{"path", "--from", "36.58,-84.21", "--to", "36.60,-84.19",
                                           "--height-unit", "m"} +
                                     on_sample),
               !Contains("metres were taken"));
}

} // namespace earshot::app::testing
