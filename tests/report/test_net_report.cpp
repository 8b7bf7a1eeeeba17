#include "earshot/link/path.hpp"
#include "report/say/net_report.hpp"
#include "report/say/path_report.hpp"
#include "report/say/second_words.hpp"
#include "scenario/scenario_text.hpp"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <limits>
#include <string>
#include <vector>

namespace earshot::report {
namespace {

using nlohmann::json;

/// An invented net: A and B talk, B and C talk, A and C do not, D lies beyond a void.
struct InventedNet {
    scenario::Scenario scenario;
    std::vector<plan::Pair> pairs;
    plan::NetStructure structure;

    InventedNet() {
        scenario.net_name = "Invented";
        const std::vector<std::string> names{"A", "B \"two\", base", "C", "D"};
        for (std::size_t i = 0; i < names.size(); ++i) {
            link::Station station;
            station.name = names[i];
            // The second and later ones are across the 180 degree meridian.
            station.position = {10.0, i == 0 ? 179.0 : -179.0 - static_cast<double>(i - 1)};
            scenario.stations.push_back(station);
        }
        add(0, 1, 12.0, 7.0);
        add(0, 2, -8.0, -9.0);
        add(1, 2, 3.0, 4.0);
        const double unknown = std::numeric_limits<double>::quiet_NaN();
        for (std::size_t i = 0; i < 3; ++i) {
            add(i, 3, unknown, unknown);
        }
        structure = plan::net_structure(4, pairs);
    }

    [[nodiscard]] NetResult result() const { return {scenario, pairs, structure}; }

private:
    void add(std::size_t a, std::size_t b, double b_hears_a_db, double a_hears_b_db) {
        plan::Pair pair;
        pair.a = a;
        pair.b = b;
        pair.bearing_deg = 90.0;
        pair.back_bearing_deg = 270.0;
        for (const auto& [hearing, margin_db] :
             {std::pair(&pair.b_hears_a, b_hears_a_db), std::pair(&pair.a_hears_b, a_hears_b_db)}) {
            hearing->basic_loss_db = 150.0 - margin_db;
            hearing->margin_db = margin_db;
            hearing->chance_percent = margin_db;
            hearing->heard = margin_db >= 0.0;
            hearing->readability = link::readability(margin_db).readability;
        }
        pairs.push_back(pair);
    }
};

} // namespace

TEST_CASE("the net in words") {
    const InventedNet net;
    const std::string text = net_text(net.result());
    CHECK_THAT(text, Catch::Contains("easy to read"));
    CHECK_THAT(text, Catch::Contains("7 %  easy to read"));
    CHECK_THAT(text, Catch::Contains("<1 %  no: 9 dB short"));
    CHECK_THAT(text, Catch::Contains("unknown: the path crosses ground of unknown height"));
    CHECK_THAT(text, Catch::Contains("cut off, talks with nobody: D"));
    CHECK_THAT(text, Catch::Contains("the net splits without: B \"two\", base"));
    CHECK_THAT(text, Catch::Contains("A to C: over B \"two\", base (2 hops, weakest +3.0 dB)"));
    CHECK_THAT(text, Catch::Contains("passes messages on for 1 pair\n"));
    CHECK_THAT(text, Catch::Contains("do not stake a life on it"));
}

TEST_CASE("what two models part on is marked, and a line says what to do") {
    InventedNet net;
    CHECK_THAT(net_text(net.result()), !Catch::Contains("*"));
    net.pairs[0].apart_db = -25.0;
    net.pairs[0].try_first = true;
    const std::string text = net_text(net.result());
    CHECK_THAT(text, Catch::Contains("7 %  easy to read *\n"));
    CHECK_THAT(text, Catch::Contains("\n  * test this one on foot first: "));
    CHECK(std::ranges::count(text, '*') == 2);
    CHECK_THAT(net_csv(net.result()), Catch::Contains("12.00,12.0,4,yes,-25.00,yes,,,,,,\n"));
    const json pair = json::parse(net_json(net.result())).at("pairs").at(0);
    CHECK(pair.at("apart_db") == -25.0);
    CHECK(pair.at("try_first") == true);
}

TEST_CASE("whether a verdict hangs on the model is asked of the margin that is wanted") {
    link::TwoWayPath path;
    path.a.name = "A";
    path.b.name = "B";
    path.outward.budget.margin_db = path.backward.budget.margin_db = 5.0;
    path.outward.apart_db = path.backward.apart_db = 3.0;
    CHECK(hangs_words(path, 0.0).empty());
    CHECK(hangs_words(path, 6.0).empty()); // by neither
    CHECK_THAT(hangs_words(path, 4.0),
               Catch::Contains("By irregular-terrain they would not hear each other"));
}

TEST_CASE("a pair is as short as its weaker way, whoever says it") {
    link::TwoWayPath path;
    path.a.name = "A";
    path.b.name = "B";
    path.profile.distance_km = {0.0, 5.0};
    path.profile.ground_m = path.profile.cover_m = {0.0, 0.0};
    plan::Pair pair;
    pair.b = 1;
    path.outward.budget.margin_db = pair.b_hears_a.margin_db = -1.4;
    path.backward.budget.margin_db = pair.a_hears_b.margin_db = -10.8;
    const std::vector<link::Station> stations{path.a, path.b};
    CHECK(pair_verdict(pair, stations, 0.0) == "no: 11 dB short");
    CHECK_THAT(path_verdict(path), Catch::Contains("do not hear each other: 11 dB short"));
    CHECK(pair_verdict(pair, stations, 6.0) == "no: 17 dB short");
    CHECK_THAT(path_verdict(path, 6.0), Catch::Contains("17 dB short"));
    pair.b_hears_a.heard = true;
    path.outward.budget.margin_db = pair.b_hears_a.margin_db = 2.0;
    CHECK(pair_verdict(pair, stations, 0.0) == "one way: B hears A; 11 dB short back");
    CHECK_THAT(path_verdict(path), Catch::Contains("B is 11 dB short"));
}

TEST_CASE("the net as CSV keeps names with commas and quotes whole (RFC 4180)") {
    const InventedNet net;
    const std::string csv = net_csv(net.result());
    CHECK(std::ranges::count(csv, '\n') == 1 + 2 * 6);
    CHECK_THAT(csv,
               Catch::Contains(
                   "\nA,\"B \"\"two\"\", base\",0.0,90.00,no,138.00,12.00,12.0,4,yes,,no,,,,,,\n"));
    CHECK_THAT(csv,
               Catch::Contains(
                   "\n\"B \"\"two\"\", base\",A,0.0,270.00,no,143.00,7.00,7.0,4,yes,,no,,,,,,\n"));
    CHECK_THAT(csv, Catch::Contains("\nC,D,0.0,90.00,,,,,,,,,,,,,,\n"));
}

TEST_CASE("the net as JSON") {
    const InventedNet net;
    const json document = json::parse(net_json(net.result()));
    CHECK(document.at("stations").size() == 4);
    CHECK(document.at("pairs").size() == 6);
    CHECK(document.at("pairs").at(0).at("b_hears_a").at("margin_db") == 12.0);
    CHECK(document.at("pairs").at(0).at("a_hears_b").at("margin_db") == 7.0);
    CHECK(document.at("pairs").at(5).at("b_hears_a").at("margin_db").is_null());
    CHECK(document.at("cut_off") == json{"D"});
    CHECK(document.at("relayed").at(0).at("stations") == json{"A", "B \"two\", base", "C"});
    CHECK(document.at("groups").size() == 3);
    CHECK(document.at("most_hops") == 2);
    CHECK(document.at("unreachable_pairs") == 3);
}

TEST_CASE("the net as GeoJSON cuts lines at the 180 degree meridian (RFC 7946 section 3.1.9)") {
    const InventedNet net;
    const json document = json::parse(net_geojson(net.result()));
    CHECK(document.at("type") == "FeatureCollection");
    CHECK(document.at("features").size() == 4 + 6);
    const json& point = document.at("features").at(0).at("geometry");
    CHECK(point.at("coordinates") == json{179.0, 10.0});
    const json& cut = document.at("features").at(4).at("geometry");
    CHECK(cut.at("type") == "MultiLineString");
    CHECK(cut.at("coordinates") == json::parse("[[[179.0,10.0],[180.0,10.0]],"
                                               "[[-180.0,10.0],[-179.0,10.0]]]"));
    const json& whole = document.at("features").at(6).at("geometry");
    CHECK(whole.at("type") == "LineString");
}

} // namespace earshot::report
