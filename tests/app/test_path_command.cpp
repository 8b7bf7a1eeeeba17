#include "program.hpp"

#include <GeographicLib/Geodesic.hpp>
#include <nlohmann/json.hpp>

#include <cmath>
#include <sstream>

namespace earshot::app {

using namespace testing;
using nlohmann::json;

namespace {

// The highest cell of the sample, and the bottom of a valley in view of it some 10 miles off.
constexpr double hill_lat = 36.485;
constexpr double hill_lon = -84.230833;
constexpr double valley_lat = 36.623333;
constexpr double valley_lon = -84.180833;

Arguments hill_to_valley(const Arguments& more = {}) {
    return Arguments{"path",
                     "--terrain",
                     sample,
                     "--from",
                     "36.485,-84.230833",
                     "--to",
                     "36.623333,-84.180833",
                     "--frequency",
                     "146MHz"} +
           more;
}

std::vector<std::vector<double>> rows_of(std::istream& csv) {
    std::vector<std::vector<double>> rows;
    for (std::string line; std::getline(csv, line);) {
        std::istringstream fields(line);
        rows.emplace_back();
        for (std::string field; std::getline(fields, field, ',');) {
            rows.back().push_back(std::stod(field));
        }
    }
    return rows;
}

double distance_by_geographiclib_m() {
    double distance_m = 0.0;
    GeographicLib::Geodesic::WGS84().Inverse(hill_lat, hill_lon, valley_lat, valley_lon,
                                             distance_m);
    return distance_m;
}

} // namespace

TEST_CASE("a path from a hilltop into a valley in view 10 miles off is heard with ease") {
    // Two handhelds of 5 W at 146 MHz, held before the face with short antennas, reach that far
    // (common practice, no source). 16 dB is where the program starts to call it clear.
    const TemporaryFolder folder;
    const json path =
        json::parse(output_of(folder, hill_to_valley({"--power", "5W", "--gain", "-3dBi",
                                                      "--body-loss", "5dB", "--json"})));
    CHECK(path.at("distance_km").get<double>() == Approx(16.1).margin(0.3));
    CHECK(path.at("line_of_sight") == true);
    CHECK(path.at("outward").at("margin_db").get<double>() > 16.0);
    CHECK(path.at("backward").at("margin_db").get<double>() > 16.0);
    CHECK_THAT(path.at("verdict").get<std::string>(), Catch::Contains("hear each other (clear)"));
}

TEST_CASE("the path as JSON holds what was asked and what comes of it") {
    const TemporaryFolder folder;
    const json path = json::parse(output_of(
        folder, hill_to_valley({"--from-name", "Hill", "--to-name", "Valley", "--antenna-height",
                                "6ft", "--to-antenna-height", "2m", "--json"})));
    CHECK(path.at("a").at("name") == "Hill");
    CHECK(path.at("b").at("name") == "Valley");
    CHECK(path.at("a").at("latitude").get<double>() == Approx(hill_lat).margin(1e-12));
    CHECK(path.at("b").at("longitude").get<double>() == Approx(valley_lon).margin(1e-12));
    CHECK(path.at("a").at("antenna_height_m").get<double>() == Approx(6 * 0.3048));
    CHECK(path.at("b").at("antenna_height_m").get<double>() == Approx(2.0));
    // The highest height in the file.
    CHECK(path.at("a").at("ground_m").get<double>() == Approx(1076.0).margin(0.5));
    CHECK(path.at("frequency_mhz") == 146.0);
    CHECK(path.at("distance_km").get<double>() * 1000.0 ==
          Approx(distance_by_geographiclib_m()).margin(1e-3));
    // ITU-R P.525-4 equation (4): 32.4 + 20 log f + 20 log d. The slant is the longer by 0.001 dB.
    CHECK(path.at("outward").at("free_space_loss_db").get<double>() ==
          Approx(32.4 + 20.0 * std::log10(146.0) +
                 20.0 * std::log10(distance_by_geographiclib_m() / 1000.0))
              .margin(0.06));
    for (const char* direction : {"outward", "backward"}) {
        const json& budget = path.at(direction);
        const auto value = [&](const char* key) { return budget.at(key).get<double>(); };
        CHECK(value("received_dbm") ==
              Approx(value("transmitter_power_dbm") - value("transmit_feeder_loss_db") +
                     value("transmit_gain_dbi") - value("transmit_body_loss_db") -
                     value("basic_loss_db") + value("receive_gain_dbi") -
                     value("receive_body_loss_db") - value("receive_feeder_loss_db"))
                  .margin(1e-9));
        CHECK(value("margin_db") ==
              Approx(value("received_dbm") - value("needed_dbm")).margin(1e-9));
    }
    CHECK_THAT(path.at("cautions").get<std::string>(), Catch::Contains("no guarantee"));
    CHECK(folder.names().empty());
}

TEST_CASE("radios that differ give margins that differ by just that") {
    const TemporaryFolder folder;
    const json path = json::parse(output_of(
        folder, hill_to_valley({"--from-power", "5W", "--to-power", "1W", "--from-gain", "0dBi",
                                "--to-gain", "0dBd", "--from-threshold", "-116dBm",
                                "--to-threshold", "-120dBm", "--ideal", "--json"})));
    const double outward = path.at("outward").at("margin_db");
    const double backward = path.at("backward").at("margin_db");
    // The way is the same both ways, and so are both antennas together. 10 log10(5 W / 1 W), and
    // the other end's receiver is the better by 4 dB.
    CHECK(path.at("outward").at("basic_loss_db").get<double>() ==
          Approx(path.at("backward").at("basic_loss_db").get<double>()).margin(1e-6));
    CHECK(outward - backward == Approx(10.0 * std::log10(5.0) + 4.0).margin(1e-6));

    const json plain = json::parse(output_of(
        folder, hill_to_valley({"--power", "5W", "--threshold", "-116dBm", "--ideal", "--json"})));
    // A half-wave dipole has 2.15 dBi (ITU-R BS.561-2 gives its power gain as 1.64).
    CHECK(outward - plain.at("outward").at("margin_db").get<double>() ==
          Approx(10.0 * std::log10(1.64) + 4.0).margin(0.005));
}

TEST_CASE("the path in words") {
    const TemporaryFolder folder;
    const std::string text = output_of(
        folder,
        hill_to_valley({"--from-name", "Hill", "--to-name", "Valley", "--power", "5W", "--ideal"}));
    for (const char* part :
         {"Hill to Valley", "16SGF", "distance", "bearings", "true north", "146 MHz",
          "line of sight", "free-space loss", "Link budget", "outward", "back", "37.0 dBm",
          "-116.0 dBm", "Valley hears Hill: clear", "Hill hears Valley: clear",
          "Hill and Valley hear each other", "no guarantee"}) {
        CHECK_THAT(text, Catch::Contains(part));
    }
}

TEST_CASE("what nobody says of a radio is what people hold, and the answer says so") {
    const TemporaryFolder folder;
    const auto asked = [&](const Arguments& more) {
        return json::parse(output_of(folder, hill_to_valley(more + Arguments{"--json"})));
    };
    const json held = asked({});
    const json said = asked(
        {"--antenna", "stock", "--carried", "face", "--threshold", "0.2uV", "--noise", "rural"});
    CHECK(held.at("outward").at("margin_db").get<double>() ==
          Approx(said.at("outward").at("margin_db").get<double>()).margin(0.01));
    CHECK_THAT(held.at("notes").dump(), Catch::Contains("assumed") && Catch::Contains("stock") &&
                                            Catch::Contains("face") && Catch::Contains("--ideal"));
    CHECK_THAT(said.at("notes").dump(), !Catch::Contains("assumed"));
    const json ideal = asked({"--ideal"});
    CHECK_THAT(ideal.at("notes").dump(), !Catch::Contains("assumed"));
    CHECK(ideal.at("outward").at("transmit_gain_dbi") == 0.0);
    CHECK(ideal.at("outward").at("transmit_body_loss_db") == 0.0);
    // An antenna on a mast is in nobody's hand.
    CHECK(asked({"--from-antenna-height", "20ft"}).at("outward").at("transmit_body_loss_db") ==
          0.0);
    // Nothing is known of trees here: the verdict says what they would take.
    CHECK_THAT(held.at("verdict").get<std::string>(), Catch::Contains("In woods at both ends"));
    CHECK_THAT(asked({"--cover-everywhere", "woodland"}).at("verdict").get<std::string>(),
               !Catch::Contains("In woods at both ends"));
}

TEST_CASE("a second model's word stands beside the first's") {
    const TemporaryFolder folder;
    const auto asked = [&](const Arguments& more) {
        return json::parse(output_of(folder, hill_to_valley(more + Arguments{"--json"})));
    };
    const json path = asked({});
    const json other = asked({"--method", "irregular-terrain"});
    const json& second = path.at("second_opinion");
    const auto loss_db = [](const json& of) {
        return of.at("outward").at("basic_loss_db").get<double>();
    };
    CHECK(second.at("method") == "irregular-terrain");
    CHECK(second.at("apart_db").get<double>() ==
          Approx(loss_db(other) - loss_db(path)).margin(1e-6));
    CHECK(other.at("second_opinion").at("apart_db").get<double>() ==
          Approx(loss_db(path) - loss_db(other)).margin(1e-6));
    CHECK(asked({"--method", "deygout"}).at("second_opinion").is_null());
    CHECK(asked({"--antenna-height", "0.3m"}).at("second_opinion").at("apart_db").is_null());

    const std::string text = output_of(folder, hill_to_valley());
    for (const char* part :
         {"By each method", "\n  short-range ", "\n  p1812 ", "\n  irregular-terrain ",
          "In sight of each other: short-range and irregular-terrain differ by"}) {
        CHECK_THAT(text, Catch::Contains(part));
    }
    // A power for which one has contact and the other has not.
    const json& out = path.at("outward");
    const double power_dbm = out.at("transmitter_power_dbm").get<double>() -
                             out.at("margin_db").get<double>() +
                             second.at("apart_db").get<double>() / 2.0;
    const json edge = asked({"--power", std::to_string(power_dbm) + "dBm"});
    CHECK_THAT(edge.at("verdict").get<std::string>(),
               Catch::Contains("By irregular-terrain they would") &&
                   Catch::Contains("test it on foot before you count on it"));
    CHECK(edge.at("second_opinion").at("try_first") == true);
}

TEST_CASE("outside its limits the second model says so, and its warnings travel on") {
    const TemporaryFolder folder;
    const Arguments low{"--antenna-height", "0.3m"};
    CHECK_THAT(output_of(folder, hill_to_valley(low)),
               Catch::Contains("irregular-terrain has no say here: transmitter height of 0.3 m is "
                               "outside the range from 1 to 1000 m"));
    const json path = json::parse(output_of(folder, hill_to_valley(low + Arguments{"--json"})));
    CHECK_FALSE(path.at("second_opinion").at("warnings").empty());
    CHECK(path.at("second_opinion").at("try_first") == false);
}

TEST_CASE("a path tells what the pure standard makes of it, and whether that changes who hears") {
    const TemporaryFolder folder;
    // The example of README.md: one way is short, but not by the standard.
    const auto asked = [&](const Arguments& more) {
        return output_of(folder,
                         Arguments{"path", "--terrain", sample, "--from", "36.5792,-84.2108",
                                   "--to", "36.58,-84.10", "--frequency", "146MHz"} +
                             more);
    };
    const std::string hangs = asked({"--from-power", "10W", "--from-antenna", "j-pole",
                                     "--from-antenna-height", "20ft", "--to-power", "2W"});
    CHECK_THAT(hangs, Catch::Contains("In doubt: by p1812, the pure standard, which leaves out the "
                                      "ground beside low antennas, the weaker way has ") &&
                          Catch::Contains("they would hear each other: test it on foot"));
    CHECK_THAT(hangs, Catch::Contains("one edge for all at "));
    CHECK_THAT(asked({"--power", "1mW"}), Catch::Contains("who hears whom stays the same"));
    // Edges that stand somewhere are told in the units asked for.
    CHECK_THAT(asked({"--method", "deygout"}), Catch::Contains(" m above the ray past it"));
}

TEST_CASE("the verdict tells who cannot answer") {
    const TemporaryFolder folder;
    const auto verdict = [&](const Arguments& more) {
        return json::parse(output_of(folder, hill_to_valley(more + Arguments{"--json"})))
            .at("verdict")
            .get<std::string>();
    };
    CHECK_THAT(verdict({"--to-power", "-30dBm"}),
               Catch::StartsWith("B hears A, but cannot answer"));
    CHECK_THAT(verdict({"--from-power", "-30dBm"}),
               Catch::StartsWith("A hears B, but cannot answer"));
    CHECK_THAT(verdict({"--power", "-30dBm"}), Catch::StartsWith("A and B do not hear each other"));
}

TEST_CASE("the profile is written as CSV") {
    const TemporaryFolder folder;
    (void)output_of(folder, hill_to_valley({"--profile", "ground.csv", "--step", "100m"}));
    CHECK(folder.names() == std::vector<std::string>{"ground.csv"});
    std::ifstream csv(folder / "ground.csv");
    std::string columns;
    REQUIRE(std::getline(csv, columns));
    CHECK_THAT(columns, Catch::StartsWith("distance_km,latitude,longitude,ground_m,cover_m,"
                                          "earth_bulge_m,line_m,fresnel_0.6_m,clearance_m"));
    const auto rows = rows_of(csv);
    const double length_km = distance_by_geographiclib_m() / 1000.0;
    REQUIRE(rows.size() >= 160);
    CHECK(rows.size() <= 164);
    const std::vector<double>& first = rows.front();
    const std::vector<double>& last = rows.back();
    CHECK(first[0] == 0.0);
    CHECK(first[1] == Approx(hill_lat).margin(1e-7));
    CHECK(first[2] == Approx(hill_lon).margin(1e-7));
    CHECK(first[3] == Approx(1076.0).margin(0.5));
    CHECK(first[6] == Approx(first[3] + 1.5).margin(0.011));
    CHECK(last[0] == Approx(length_km).margin(1e-6));
    CHECK(last[1] == Approx(valley_lat).margin(1e-7));
    CHECK(last[2] == Approx(valley_lon).margin(1e-7));
    CHECK(last[7] == 0.0);
}

TEST_CASE("the profile shows the earth, the line and its clearance") {
    const TemporaryFolder folder;
    const double length_km = distance_by_geographiclib_m() / 1000.0;
    struct Case {
        const char* method;
        double k_factor;
    };
    // 4/3 is the standard atmosphere; method p1812 takes 157 / (157 - delta N), ITU-R P.1812-8
    // equation (6) as remembered, here with 45 N-units/km.
    for (const Case& earth :
         {Case{"bullington", 4.0 / 3.0}, Case{"p1812", 157.0 / (157.0 - 45.0)}}) {
        INFO(earth.method);
        (void)output_of(folder, hill_to_valley({"--profile", "ground.csv", "--step", "100m",
                                                "--method", earth.method}));
        std::ifstream csv(folder / "ground.csv");
        std::string columns;
        REQUIRE(std::getline(csv, columns));
        const auto rows = rows_of(csv);
        REQUIRE(rows.size() > 2);
        const std::vector<double>& middle = rows[rows.size() / 2];
        const double d1 = middle[0];
        const double d2 = length_km - d1;
        // The sphere stands 500 d1 d2 / a_e metres above its chord (geometry), with the mean radius
        // of 6371 km.
        CHECK(middle[5] == Approx(500.0 * d1 * d2 / (6371.0 * earth.k_factor)).margin(0.002));
        // Radius of the first Fresnel zone, 550 sqrt(d1 d2 / (f d)) m (ITU-R P.526-15, equation
        // (2)), which is rounded to 0.5 %.
        CHECK(middle[7] ==
              Approx(0.6 * 550.0 * std::sqrt(d1 * d2 / (146.0 * length_km))).epsilon(0.01));
        const double clearance_m = middle[6] - middle[3] - middle[4] - middle[5];
        CHECK(middle[8] == Approx(clearance_m).margin(0.03));
    }
}

} // namespace earshot::app
