#include "program.hpp"

#include <GeographicLib/Geodesic.hpp>
#include <GeographicLib/UTMUPS.hpp>
#include <catch2/catch.hpp>
#include <fmt/format.h>
#include <gdal_priv.h>
#include <nlohmann/json.hpp>

#include <cmath>
#include <memory>
#include <string>

namespace earshot::app::testing {
namespace {

using Catch::Contains;
using nlohmann::json;

const std::string correction_file = R"([correction]
offset_db = -4.5
offset_error_db = 1.5
woodland_factor = 1.5
woodland_factor_error = 0.2
prediction_deviation_db = 6.5

[[antennas]]
name = "half-wave"
gain_db = 1.25
gain_error_db = 0.5

[source]
log = "walk.csv"
date = "2026-05-14"
invented = "yes"
frequency_mhz = 146.52
method = "short-range"
cover = "none"
centre_latitude_deg = 36.58
centre_longitude_deg = -84.20
radius_km = 3
calls = 72
stops = 12
model = "normal errors"

[check]
log_loss_before = 1.8
log_loss_after = 1.5
hits_before_percent = 30
hits_after_percent = 45
class_error_before = 1.2
class_error_after = 0.8
deviation_before_db = 9.5
deviation_after_db = 6.5
)";

const std::string words = "with the field correction walk-correction.toml of 2026-05-14 (an "
                          "invented log): -4.5 dB, losses in woods x 1.50, antenna half-wave "
                          "+1.2 dB";

const std::string scenario_file = net_of_two();

/// A folder with the correction and a scenario.
struct Desk {
    TemporaryFolder folder;
    Desk() {
        write_file(folder / "walk-correction.toml", correction_file);
        write_file(folder / "net.toml", scenario_file);
    }
};

const Arguments ground{"--terrain", sample, "--frequency", "146.52MHz"};
const Arguments corrected{"--correction", "walk-correction.toml"};

} // namespace

TEST_CASE("every command that predicts says which correction it was given") {
    const Desk desk;
    const Arguments command = GENERATE(
        Arguments{"path", "--from", "36.5792,-84.2108", "--to", "36.60,-84.19"},
        Arguments{"mast", "--from", "36.5792,-84.2108", "--to", "36.60,-84.19", "--limit", "5m"},
        Arguments{"ladder", "--at", "36.5792,-84.2108", "--to", "Quorrel=36.60,-84.19"},
        Arguments{"range", "--at", "36.5792,-84.2108", "--range", "2km"},
        Arguments{"relay", "--place", "Quorrel=36.60,-84.19", "--around", "1km"},
        Arguments{"map", "--at", "36.5792,-84.2108", "--range", "1km", "--out", "map.tif"});
    INFO(command.front());
    const std::string said = output_of(desk.folder, command + ground + corrected);
    CHECK_THAT(said, Contains(words));
    const json document =
        json::parse(output_of(desk.folder, command + ground + corrected + Arguments{"--json"}));
    CHECK_THAT(document.at("notes").dump(), Contains(words));
    CHECK_THAT(output_of(desk.folder, command + ground), !Contains("correction"));
}

TEST_CASE("a net says it in text, JSON, table and shapes") {
    const Desk desk;
    const Arguments net{"net",     "--scenario", "net.toml",   "--csv",
                        "net.csv", "--geojson",  "net.geojson"};
    CHECK_THAT(output_of(desk.folder, net + corrected), Contains(words));
    CHECK_THAT(content_of(desk.folder / "net.csv"),
               Contains(",field_correction\n") && Contains(words));
    CHECK_THAT(content_of(desk.folder / "net.geojson"), Contains(words));
    CHECK_THAT(output_of(desk.folder, net + corrected + Arguments{"--json"}), Contains(words));
    (void)output_of(desk.folder, net);
    CHECK_THAT(content_of(desk.folder / "net.csv"), !Contains("correction"));
}

TEST_CASE("a map carries the correction in its metadata and its margins") {
    const Desk desk;
    const Arguments map{"map",    "--at",  "36.5792,-84.2108", "--range", "1km", "--bands",
                        "margin", "--out", "map.tif"};
    const auto value = [&](std::string& metadata) {
        GDALAllRegister();
        const std::unique_ptr<GDALDataset> data(
            GDALDataset::Open((desk.folder / "map.tif").c_str()));
        REQUIRE(data);
        const char* item = data->GetMetadataItem("FIELD_CORRECTION");
        metadata = item == nullptr ? "" : item;
        float margin = 0.0F;
        REQUIRE(data->GetRasterBand(1)->RasterIO(GF_Read, data->GetRasterXSize() / 2,
                                                 data->GetRasterYSize() / 4, 1, 1, &margin, 1, 1,
                                                 GDT_Float32, 0, 0) == CE_None);
        return static_cast<double>(margin);
    };
    std::string metadata;
    (void)output_of(desk.folder, map + ground);
    const double before_db = value(metadata);
    CHECK(metadata == "none");
    (void)output_of(desk.folder, map + ground + corrected);
    CHECK(value(metadata) == Approx(before_db - 4.5).margin(1e-3));
    CHECK(metadata == words);
    (void)output_of(desk.folder, map + ground + corrected + Arguments{"--antenna", "half-wave"});
    const double with_term_db = value(metadata);
    (void)output_of(desk.folder, map + ground + Arguments{"--antenna", "half-wave"});
    CHECK(with_term_db == Approx(value(metadata) - 4.5 + 1.25).margin(1e-3));
}

TEST_CASE("the scenario's correction counts until the command line has another or none") {
    const Desk desk;
    write_file(desk.folder / "corrected.toml",
               scenario_file + "[service]\ncorrection_file = \"walk-correction.toml\"\n");
    const auto margin = [&](const Arguments& more) {
        return json::parse(output_of(desk.folder, Arguments{"path", "--from", "Ombrel Mill", "--to",
                                                            "Quorrel", "--json"} +
                                                      more))
            .at("outward")
            .at("margin_db")
            .get<double>();
    };
    const double plain_db = margin({"--scenario", "net.toml"});
    // The mill's antenna has a term, the other end's has none.
    CHECK(margin({"--scenario", "corrected.toml"}) == Approx(plain_db - 4.5 + 1.25));
    CHECK(margin({"--scenario", "corrected.toml", "--correction", "none"}) == Approx(plain_db));
    CHECK(margin({"--scenario", "net.toml", "--correction", "walk-correction.toml"}) ==
          Approx(plain_db - 4.5 + 1.25));
    CHECK(margin({"--scenario", "corrected.toml", "--to-gain", "-4.5dBi", "--from-gain", "0dBi"}) ==
          Approx(margin({"--scenario", "net.toml", "--to-gain", "-4.5dBi", "--from-gain", "0dBi"}) -
                 4.5));
    CHECK_THAT(output_of(desk.folder, {"path", "--scenario", "corrected.toml", "--from",
                                       "Ombrel Mill", "--to", "Quorrel"}),
               Contains(words) && Contains("field correction                    -3.2 dB"));
}

// exp(-(d / 10 km)^2) of the offset is left, and all of the antenna's term; d by GeographicLib.
TEST_CASE("a correction fades with distance, alike in path, net and map") {
    const Desk desk;
    const auto write = [&](double lat_deg, double lon_deg) {
        write_file(desk.folder / "walk-correction.toml",
                   correction_file + fmt::format("\n[[places]]\nlatitude_deg = {}\n"
                                                 "longitude_deg = {}\n",
                                                 lat_deg, lon_deg));
    };
    const auto path = [&](const Arguments& more) {
        return json::parse(
            output_of(desk.folder, Arguments{"path", "--from", "36.5792,-84.2108", "--from-antenna",
                                             "half-wave", "--to", "36.6792,-84.1208", "--json"} +
                                       ground + more));
    };
    const json plain = path({});
    write(36.5792, -84.2108);
    const json fading = path(corrected);
    double away_m = 0.0;
    GeographicLib::Geodesic::WGS84().Inverse(36.5792, -84.2108, 36.6792, -84.1208, away_m);
    const double left = std::exp(-away_m * away_m / 1e8);
    REQUIRE(left > 0.1);
    REQUIRE(left < 0.3);
    const double change_db = -4.5 * left + 1.25;
    CHECK(fading.at("outward").at("margin_db").get<double>() ==
          Approx(plain.at("outward").at("margin_db").get<double>() + change_db).margin(0.03));
    CHECK(fading.at("backward").at("field_correction_db").get<double>() ==
          Approx(change_db).margin(0.03));
    CHECK_THAT(fading.at("notes").dump(), Contains("fades away") && Contains("make calls there"));

    // A cell of a map has what a path to its centre has.
    (void)output_of(desk.folder, Arguments{"map", "--at", "36.5792,-84.2108", "--range", "16km",
                                           "--bands", "margin", "--engine", "exact", "--grid",
                                           "utm", "--cell", "500m", "--out", "map.tif"} +
                                     ground + corrected);
    GDALAllRegister();
    const std::unique_ptr<GDALDataset> map(GDALDataset::Open((desk.folder / "map.tif").c_str()));
    REQUIRE(map);
    double to_ground[6];
    REQUIRE(map->GetGeoTransform(to_ground) == CE_None);
    double lat_deg = 0.0;
    double lon_deg = 0.0;
    const int column = map->GetRasterXSize() * 3 / 4;
    const int row = map->GetRasterYSize() / 4;
    GeographicLib::UTMUPS::Reverse(16, true, to_ground[0] + (column + 0.5) * to_ground[1],
                                   to_ground[3] + (row + 0.5) * to_ground[5], lat_deg, lon_deg);
    float margin_db = 0.0F;
    REQUIRE(map->GetRasterBand(1)->RasterIO(GF_Read, column, row, 1, 1, &margin_db, 1, 1,
                                            GDT_Float32, 0, 0) == CE_None);
    const json to_cell = json::parse(
        output_of(desk.folder, Arguments{"path", "--from", "36.5792,-84.2108", "--to",
                                         fmt::format("{:.8f},{:.8f}", lat_deg, lon_deg), "--json"} +
                                   ground + corrected));
    CHECK(static_cast<double>(margin_db) ==
          Approx(to_cell.at("outward").at("margin_db").get<double>()).margin(0.02));

    // From another part of the country nothing of it is left but the antenna's term.
    write(39.0, -84.2);
    const json far = path(corrected);
    CHECK(far.at("outward").at("margin_db").get<double>() ==
          Approx(plain.at("outward").at("margin_db").get<double>() + 1.25).margin(1e-3));
    CHECK(far.at("outward").at("deviation_db").get<double>() ==
          Approx(plain.at("outward").at("deviation_db").get<double>()).margin(1e-3));
    const Arguments net{"net", "--scenario", "net.toml"};
    CHECK_THAT(output_of(desk.folder, net + corrected), Contains("changes next to nothing here"));
    CHECK_THAT(
        output_of(desk.folder, Arguments{"range", "--at", "36.5792,-84.2108", "--range", "2km"} +
                                   ground + corrected),
        Contains("changes next to nothing here"));
}

TEST_CASE("a correction from before places were kept says what is taken") {
    const Desk desk;
    CHECK_THAT(output_of(desk.folder, Arguments{"net", "--scenario", "net.toml"} + corrected),
               Contains("older file") && Contains("within 3.0 km of 36.58"));
}

TEST_CASE("a correction on another frequency is refused") {
    const Desk desk;
    const Outcome outcome =
        run(desk.folder, Arguments{"path", "--from", "36.5792,-84.2108", "--to", "36.60,-84.19",
                                   "--terrain", sample, "--frequency", "446MHz"} +
                             corrected);
    CHECK(outcome.exit_code == 3);
    CHECK_THAT(outcome.err, Contains("measured on 146.52 MHz"));
}

TEST_CASE("a log becomes a correction, and a comparison with it has less of a bias") {
    const Desk desk;
    // Invented: everywhere two classes worse than is predicted here, and one of eight as predicted.
    const Arguments field{"--scenario", "net.toml", "--base", "Ombrel Mill"};
    (void)output_of(desk.folder, Arguments{"walk", "--bearing", "70", "--length", "9km", "--stops",
                                           "12", "--set-up", "5W stock", "--set-up", "5W half-wave",
                                           "--out", "plan.csv"} +
                                     field);
    write_file(desk.folder / "log.csv", [&] {
        std::string log;
        std::string row;
        int number = 0;
        for (const char c : content_of(desk.folder / "plan.csv")) {
            if (c != '\n') {
                row += c;
                continue;
            }
            if (number > 0) { // the score is the fourth field from the end
                const std::size_t at = row.rfind(",,,,");
                REQUIRE(at != std::string::npos);
                row = row.substr(0, at + 1) +
                      (number % 8 == 0   ? '3'
                       : number % 3 == 0 ? '2'
                                         : '1') +
                      row.substr(at + 1);
            }
            log += row + "\n";
            row.clear();
            ++number;
        }
        log.insert(0, "# INVENTED: nobody made these calls.\n");
        return log;
    }());
    const std::string said = output_of(
        desk.folder,
        Arguments{"correct", "log.csv", "--date", "2026-05-14", "--out", "found.toml"} + field);
    CHECK_THAT(said, Contains("INVENTED") && Contains("offset") && Contains("Wrote found.toml") &&
                         Contains("losses in woods: no stop is in woods"));
    CHECK_THAT(content_of(desk.folder / "found.toml"),
               Contains("invented = \"yes\"") && Contains("relief_m = ") &&
                   Contains("[[places]]\nlatitude_deg = 36.57920\nlongitude_deg = -84.21080"));
    const Arguments compare =
        Arguments{"compare", "--log", "log.csv", "--csv", "c.csv", "--geojson", "c.geojson"} +
        field;
    CHECK_THAT(output_of(desk.folder, compare + Arguments{"--correction", "found.toml"}),
               Contains("with the field correction found.toml of 2026-05-14 (an invented log)"));
    CHECK_THAT(content_of(desk.folder / "c.csv"), Contains("found.toml"));
    CHECK_THAT(content_of(desk.folder / "c.geojson"), Contains("found.toml"));

    const Outcome undated = run(desk.folder, Arguments{"correct", "log.csv"} + field);
    CHECK(undated.exit_code == 2);
    CHECK_THAT(undated.err, Contains("--date"));
}

} // namespace earshot::app::testing
