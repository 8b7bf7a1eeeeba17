#include "program.hpp"

#include <fmt/format.h>
#include <gdal_priv.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <string>

namespace earshot::app {

using namespace testing;
using nlohmann::json;

namespace {

const Arguments place = {"--terrain", sample,         "--frequency",  "146MHz",
                         "--base",    "36.60,-84.20", "--base-power", "5W"};

/// A planned log with a score in every row, from 0 to 5 in turn.
std::string filled(std::string csv) {
    int score = 0;
    for (std::size_t at = csv.find(",,,,\n"); at != std::string::npos;
         at = csv.find(",,,,\n", at)) {
        csv.insert(at + 1, fmt::format("{}", score++ % 6));
    }
    return csv;
}

Arguments plan_to(const std::string& log) {
    return Arguments{
               "walk",     "--bearing", "60",       "--length",        "6km",   "--stops", "6",
               "--set-up", "2W stock",  "--set-up", "5W half-wave 3m", "--out", log} +
           place;
}

} // namespace

TEST_CASE("a walk test is planned, filled in and compared", "[field]") {
    const TemporaryFolder folder;
    const std::string log = folder / "log.csv";
    const Outcome planned =
        run(folder, plan_to(log) + Arguments{"--json", "--sheet", folder / "sheet.pdf"});
    INFO(planned.err);
    REQUIRE(planned.exit_code == 0);
    const json plan = json::parse(planned.out);
    CHECK(plan.at("stops").size() == 6);
    CHECK(plan.at("set_ups").at(1).at("antenna_height_m") == 3.0);
    CHECK(content_of(folder / "sheet.pdf").starts_with("%PDF-"));
    const std::string csv = content_of(log);
    CHECK(std::ranges::count(csv, '\n') == 1 + 6 * 2 * 2);

    // Not filled in, it cannot be compared.
    const Outcome empty = run(folder, Arguments{"compare", "--log", log} + place);
    CHECK(empty.exit_code == 3);
    CHECK(empty.err.find("fill them in") != std::string::npos);

    write_file(log, filled(csv));
    const Outcome compared =
        run(folder, Arguments{"compare", "--log", log, "--json", "--csv", folder / "calls.csv",
                              "--geojson", folder / "stops.geojson", "--scatter",
                              folder / "scatter.png", "--map", folder / "map.png"} +
                        place);
    INFO(compared.err);
    REQUIRE(compared.exit_code == 0);
    const json result = json::parse(compared.out);
    CHECK(result.at("calls").size() == 24);
    const json& all = result.at("all");
    CHECK(all.at("hits").get<int>() + all.at("misses").get<int>() ==
          12); // scores 3, 4 and 5 of six
    CHECK(all.at("calls") == 24);
    CHECK(result.at("levers").at(0).at("what") == "several things");
    for (const char* picture : {"scatter.png", "map.png"}) {
        GDALAllRegister();
        const GDALDatasetUniquePtr image(GDALDataset::Open((folder / picture).c_str()));
        REQUIRE(image);
        CHECK(image->GetRasterXSize() >= 1600);
    }
    CHECK(json::parse(content_of(folder / "stops.geojson")).at("features").size() == 6);

    // The same margin as the path command has for the first call.
    const json& call = result.at("calls").at(0);
    const Outcome path =
        run(folder,
            {"path", "--terrain", sample, "--frequency", "146MHz", "--from", "36.60,-84.20", "--to",
             fmt::format("{:.6f},{:.6f}", call.at("latitude").get<double>(),
                         call.at("longitude").get<double>()),
             "--to-antenna", "stock", "--to-power", "2W", "--json"});
    REQUIRE(path.exit_code == 0);
    CHECK(call.at("set_up") == "2W stock");
    CHECK(call.at("direction") == "from mover");
    CHECK(json::parse(path.out).at("backward").at("margin_db").get<double>() ==
          Approx(call.at("margin_db").get<double>()).margin(1e-6));
}

TEST_CASE("bad rows are listed with their line", "[field]") {
    const TemporaryFolder folder;
    write_file(folder / "log.csv",
               "stop;latitude;longitude;score\nA;36,62;-84,15;4\nB;36,63;-84,15;8\n"
               "C;36,61;-84,15;0\nD;0;0;3\n");
    const Outcome compared =
        run(folder, Arguments{"compare", "--log", folder / "log.csv", "--calls"} + place);
    REQUIRE(compared.exit_code == 0);
    CHECK(compared.out.find("line 3: the score is '8'") != std::string::npos);
    CHECK(compared.out.find("line 5: ") != std::string::npos);
    CHECK(compared.out.find("cannot tell") != std::string::npos);
    CHECK(compared.out.find("2 calls at 2 stops") != std::string::npos);
}

TEST_CASE("field commands refuse what they cannot do", "[field]") {
    const TemporaryFolder folder;
    const auto refused = [&](const Arguments& arguments, int code, const char* words) {
        const Outcome result = run(folder, arguments);
        INFO(result.err);
        CHECK(result.exit_code == code);
        CHECK(result.err.find(words) != std::string::npos);
    };
    refused(Arguments{"walk", "--out", folder / "l.csv"} + place, 2, "--track");
    refused(plan_to(folder / "l.csv") + Arguments{"--choose", "luck"}, 2, "useful");
    refused(plan_to(folder / "l.csv") + Arguments{"--set-up", "5W clothesline"}, 2, "clothesline");
    refused(plan_to(folder / "l.csv") + Arguments{"--direction", "up"}, 2, "both");
    refused({"walk", "--bearing", "60", "--terrain", sample, "--frequency", "146MHz", "--out",
             folder / "l.csv"},
            2, "--base");
    refused(Arguments{"compare", "--log", folder / "none.csv"} + place, 3,
            "the log cannot be opened");
    write_file(folder / "log.csv", "stop,latitude,longitude,score\nA,36.62,-84.15,4\n");
    refused(Arguments{"compare", "--log", folder / "log.csv", "--scatter", folder / "s.gif"} +
                place,
            2, ".png or .pdf");
    refused(Arguments{"compare", "--log", folder / "log.csv", "--csv", folder / "log.csv"} + place,
            2, "log.csv");
    CHECK(content_of(folder / "log.csv").starts_with("stop,"));
}

} // namespace earshot::app
