#include "program.hpp"

#include <gdal_priv.h>
#include <gdal_utils.h>
#include <nlohmann/json.hpp>
#include <ogrsf_frmts.h>

#include <array>
#include <cmath>
#include <cstdio>
#include <memory>

namespace earshot::app {
namespace {

using namespace testing;
using nlohmann::json;

const std::vector<std::string> all_files{
    "briefing.pdf", "coverage-styled.tif", "coverage.qml", "coverage.sld", "coverage.tif",
    "map.png",      "places.geojson",      "places.gpx",   "places.kml",   "places.kmz"};

/// Invented stations on the invented valley.
constexpr const char* scenario = R"toml(
[net]
name = "Test net (invented)"
frequency_mhz = 146.52
[ground]
elevation = "valley.tif"
[[radios]]
name = "handheld"
power_w = 5
threshold_dbm = -116
[[stations]]
name = "Ombrel Mill"
position = "35.489252, 16.919453"
antenna_height_m = 9
radio = "handheld"
antenna = "j-pole"
person = "Jory Thandle"
role = "net control"
[[stations]]
name = "Drumacre Farm"
position = "35.469008, 16.882605"
antenna_height_m = 1.5
radio = "handheld"
antenna = "stock"
fallback = "Ulverim Saddle"
[[places]]
name = "Ulverim Saddle"
position = "35.488720, 17.002109"
people = 12
[[channels]]
name = "1 Talk"
frequency_mhz = 146.52
[briefing]
title = "A day in the valley"
date = "Saturday 6 June"
range_km = 8
paths = [["Drumacre Farm", "Ombrel Mill"]]
ladder = ["Drumacre Farm", "Ombrel Mill"]
)toml";

/// A folder with the scenario and its ground.
class BriefedFolder : public TemporaryFolder {
public:
    BriefedFolder() {
        make_invented_ground(*this, {"valley", "valley.tif"});
        write_file(*this / "net.toml", scenario);
    }
};

GDALDatasetUniquePtr opened(const std::string& path, unsigned kind) {
    GDALAllRegister();
    INFO(path);
    GDALDatasetUniquePtr dataset(GDALDataset::Open(path.c_str(), kind));
    REQUIRE(dataset);
    return dataset;
}

/// The value of a band at a position in degrees, by GDAL's own transformation.
float value_at(GDALDataset& map, int band, double lat_deg, double lon_deg) {
    OGRSpatialReference wgs84;
    wgs84.SetWellKnownGeogCS("WGS84");
    wgs84.SetAxisMappingStrategy(OAMS_TRADITIONAL_GIS_ORDER);
    const std::unique_ptr<OGRCoordinateTransformation> to_map(
        OGRCreateCoordinateTransformation(&wgs84, map.GetSpatialRef()));
    REQUIRE(to_map);
    double x = lon_deg;
    double y = lat_deg;
    REQUIRE(to_map->Transform(1, &x, &y) == TRUE);
    std::array<double, 6> transform{};
    REQUIRE(map.GetGeoTransform(transform.data()) == CE_None);
    float value = NAN;
    REQUIRE(map.GetRasterBand(band)->RasterIO(
                GF_Read, static_cast<int>((x - transform[0]) / transform[1]),
                static_cast<int>((y - transform[3]) / transform[5]), 1, 1, &value, 1, 1,
                GDT_Float32, 0, 0, nullptr) == CE_None);
    return value;
}

/// A copy of a raster made by GDAL with the options of gdal_translate.
void translate(const std::string& from, const std::string& to, const Arguments& options) {
    CPLStringList words;
    for (const std::string& option : options) {
        words.AddString(option.c_str());
    }
    const GDALDatasetUniquePtr source = opened(from, GDAL_OF_RASTER);
    GDALTranslateOptions* made = GDALTranslateOptionsNew(words.List(), nullptr);
    GDALClose(GDALTranslate(to.c_str(), source.get(), made, nullptr));
    GDALTranslateOptionsFree(made);
}

/// Sets every cell of the first band to nodata.
void forget_all(const std::string& path) {
    const GDALDatasetUniquePtr map = opened(path, GDAL_OF_RASTER | GDAL_OF_UPDATE);
    REQUIRE(map->GetRasterBand(1)->Fill(-9999.0) == CE_None);
}

Outcome refused(const TemporaryFolder& folder, const Arguments& arguments, int code) {
    const Outcome outcome = run(folder, arguments);
    INFO(outcome.err);
    CHECK(outcome.exit_code == code);
    CHECK(outcome.out.empty());
    CHECK(std::count(outcome.err.begin(), outcome.err.end(), '\n') == 1);
    return outcome;
}

} // namespace

TEST_CASE("in the invented valley the net marks what either method would answer otherwise") {
    const TemporaryFolder folder;
    make_invented_ground(folder, {"valley", "valley.tif"});
    std::string text = content_of(EARSHOT_SOURCE_DIR "/dem-samples/valley-scenario.toml");
    std::filesystem::copy(EARSHOT_SOURCE_DIR "/dem-samples/valley-places.csv",
                          folder / "valley-places.csv");
    const auto pairs_by = [&](const char* method) {
        write_file(folder / "net.toml",
                   text + "\n[method]\nname = \"" + std::string(method) + "\"\n");
        return json::parse(output_of(folder, {"net", "--scenario", "net.toml", "--json"}))
            .at("pairs");
    };
    const json first = pairs_by("short-range");
    const json second = pairs_by("irregular-terrain");
    REQUIRE(first.size() == 15);
    int marked = 0;
    for (std::size_t k = 0; k < first.size(); ++k) {
        INFO(first[k].dump());
        bool otherwise = false;
        for (const char* way : {"b_hears_a", "a_hears_b"}) {
            const auto heard = [way](const json& pair) { return pair.at(way).at("heard") == true; };
            otherwise =
                otherwise || heard(first[k]) != heard(second[k]) ||
                (heard(first[k]) && std::abs(first[k].at("apart_db").get<double>()) >= 20.0);
        }
        CHECK(first[k].at("try_first") == otherwise);
        CHECK(second[k].at("try_first").get<bool>() == otherwise);
        marked += otherwise ? 1 : 0;
    }
    CHECK((marked > 0 && marked < 15));
}

TEST_CASE("a briefing of a scenario is a folder of files that agree with each other") {
    const BriefedFolder folder;
    const json told = json::parse(
        output_of(folder, {"brief", "--scenario", "net.toml", "--out", "out", "--json", "--only",
                           "pdf,png,geojson,kml,kmz,gpx,tif,styled,sld,qml", "--cell", "60m"}));
    std::vector<std::string> files;
    for (const auto& entry : std::filesystem::directory_iterator(folder / "out")) {
        files.push_back(entry.path().filename());
    }
    std::sort(files.begin(), files.end());
    CHECK(files == all_files);
    REQUIRE(told.at("files").size() == all_files.size());
    for (const json& file : told.at("files")) {
        CHECK(std::filesystem::file_size(folder / file.at("file").get<std::string>()) ==
              file.at("bytes"));
    }
    CHECK(told.at("title") == "A day in the valley");
    for (const char* stage : {"ground", "map", "net", "paths", "ladder", "files"}) {
        CHECK(told.at("seconds").at(stage).get<double>() >= 0.0);
    }
    CHECK_THAT(told.at("cautions").get<std::string>(), Catch::Contains("no guarantee"));

    const std::string words = words_of_pdf(folder / "out/briefing.pdf");
    for (const char* part :
         {"A day in the valley", "Saturday 6 June", "Jory Thandle", "net control", "Ombrel Mill",
          "Drumacre Farm", "Ulverim Saddle", "1 Talk", "What each step buys", "page 1 of"}) {
        CHECK_THAT(words, Catch::Contains(part));
    }

    // A place has the margin of the map's cell, and its class in the styled map.
    const GDALDatasetUniquePtr map = opened(folder / "out/coverage.tif", GDAL_OF_RASTER);
    const GDALDatasetUniquePtr styled = opened(folder / "out/coverage-styled.tif", GDAL_OF_RASTER);
    const GDALDatasetUniquePtr places = opened(folder / "out/places.geojson", GDAL_OF_VECTOR);
    bool found = false;
    for (auto& feature : *places->GetLayer(0)) {
        if (std::string(feature->GetFieldAsString("name")) == "Ulverim Saddle") {
            found = true;
            const float margin_db = value_at(*map, 1, 35.488720, 17.002109);
            REQUIRE(margin_db > -200.0F);
            CHECK(feature->GetFieldAsDouble("margin_db") == Approx(margin_db).margin(0.006));
            const int readability = feature->GetFieldAsInteger("readability");
            CHECK(static_cast<int>(value_at(*styled, 1, 35.488720, 17.002109)) ==
                  (readability >= 2 ? readability : 0));
        }
    }
    CHECK(found);
    CHECK(map->GetRasterCount() == 7);
    CHECK(std::string(map->GetRasterBand(5)->GetDescription()) == "margin both ways");
    CHECK(std::string(map->GetRasterBand(7)->GetDescription()) == "margin with Drumacre Farm");
    CHECK(std::string(map->GetRasterBand(2)->GetDescription()) == "chance of contact");
    CHECK(opened(folder / "out/places.kmz", GDAL_OF_VECTOR)->GetLayerCount() >= 3);
    CHECK(opened(folder / "out/places.gpx", GDAL_OF_VECTOR)->GetLayer(0)->GetFeatureCount() == 3);
    CHECK(opened(folder / "out/map.png", GDAL_OF_RASTER)->GetRasterXSize() >= 800);
}

TEST_CASE("a briefing of a finished map shows its stations") {
    const BriefedFolder folder;
    (void)output_of(folder, {"map", "--scenario", "net.toml", "--at", "Ombrel Mill", "--range",
                             "3km", "--cell", "60m", "--out", "mill.tif"});
    const Arguments brief{"brief", "--map", "mill.tif", "--terrain", "valley.tif", "--out", "out"};
    (void)output_of(folder, brief + Arguments{"--only", "pdf,geojson", "--paper", "letter"});
    const std::string words = words_of_pdf(folder / "out/briefing.pdf");
    CHECK_THAT(words, Catch::Contains("Where Ombrel Mill is heard"));
    const json places = json::parse(content_of(folder / "out/places.geojson"));
    REQUIRE(places.at("features").size() == 1);
    const json& station = places.at("features").at(0);
    CHECK(station.at("properties").at("name") == "Ombrel Mill");
    CHECK(station.at("geometry").at("coordinates").at(0).get<double>() ==
          Approx(16.919453).margin(1e-7));

    // Maps that cannot be briefed: one line, and no folder is left.
    translate(folder / "mill.tif", folder / "foreign.tif", {"-mo", "PROGRAM=another"});
    translate(folder / "mill.tif", folder / "bare.tif", {});
    forget_all(folder / "bare.tif");
    (void)output_of(folder, {"map", "--scenario", "net.toml", "--at", "Ombrel Mill", "--range",
                             "1km", "--bands", "loss", "--out", "loss.tif"});
    const auto without = [&](const std::string& map) {
        return refused(folder, {"brief", "--map", map, "--terrain", "valley.tif", "--out", "none"},
                       3)
            .err;
    };
    CHECK_THAT(without("foreign.tif"), Catch::Contains("foreign.tif"));
    CHECK_THAT(without("bare.tif"), Catch::Contains("nothing is known"));
    CHECK_THAT(without("loss.tif"), Catch::Contains("margin first"));
    CHECK_THAT(without("valley.tif"), Catch::Contains("valley.tif"));
    CHECK_THAT(without("no.tif"), Catch::Contains("no such file"));
    CHECK_FALSE(std::filesystem::exists(folder / "none"));
}

TEST_CASE("a briefing that cannot be is refused before any work") {
    const BriefedFolder folder;
    const Arguments brief{"brief", "--scenario", "net.toml"};
    const auto said = [&](const Arguments& arguments, int code) {
        return refused(folder, arguments, code).err;
    };
    CHECK_THAT(said({"brief", "--out", "out"}, 2), Catch::Contains("--scenario"));
    CHECK_THAT(said(brief + Arguments{"--out", "out", "--map", "m.tif"}, 2),
               Catch::Contains("either --scenario"));
    CHECK_THAT(said({"brief", "--map", "m.tif", "--out", "out"}, 2), Catch::Contains("--terrain"));
    CHECK_THAT(said(brief + Arguments{"--out", "out", "--only", "pdf,poster"}, 2),
               Catch::Contains("poster"));
    CHECK_THAT(said(brief + Arguments{"--out", "out", "--only", "pdf,pdf"}, 2),
               Catch::Contains("twice"));
    CHECK_THAT(said(brief + Arguments{"--out", "out", "--paper", "a3"}, 2), Catch::Contains("a3"));
    CHECK_THAT(said(brief + Arguments{"--out", "no/such/folder"}, 4),
               Catch::Contains("no/such/folder"));
    CHECK_THAT(said(brief + Arguments{"--out", "net.toml"}, 4), Catch::Contains("net.toml"));
    // The scenario's own places must not be written over.
    write_file(folder / "places.geojson",
               R"({"type": "FeatureCollection", "features": [{"type": "Feature", "properties":
               {"name": "Well"}, "geometry": {"type": "Point", "coordinates": [16.92, 35.48]}}]})");
    write_file(folder / "places.toml",
               "places_file = \"places.geojson\"\n" + std::string(scenario));
    CHECK_THAT(said({"brief", "--scenario", "places.toml", "--out", "."}, 2),
               Catch::Contains("is an input"));
    CHECK(folder.names() ==
          std::vector<std::string>{"net.toml", "places.geojson", "places.toml", "valley.tif"});
}

TEST_CASE("a full disk leaves all files or none") {
    const BriefedFolder folder;
    Surroundings tight;
    tight.largest_file_bytes = 20000; // room for the small files alone
    const Outcome outcome = run(folder,
                                {"brief", "--scenario", "net.toml", "--out", "out", "--only",
                                 "gpx,kml,pdf,tif", "--cell", "100m", "--threads", "1"},
                                tight);
    CHECK(outcome.exit_code == 4);
    CHECK(std::count(outcome.err.begin(), outcome.err.end(), '\n') == 1);
    CHECK_THAT(outcome.err, Catch::Contains("briefing.pdf"));
    // Those that were whole before the one that failed belong to no briefing.
    CHECK(folder.names() == std::vector<std::string>{"net.toml", "valley.tif"});
}

} // namespace earshot::app
