#include "program.hpp"

#include <GeographicLib/Geodesic.hpp>
#include <gdal_priv.h>
#include <nlohmann/json.hpp>

#include <array>
#include <cmath>

namespace earshot::app {

using namespace testing;
using nlohmann::json;

namespace {

constexpr double site_lat = 36.6;
constexpr double site_lon = -84.2;
constexpr float nodata = -9999.0F;

Arguments map_of(const std::string& output, const Arguments& more = {}) {
    return Arguments{"map", "--terrain",   sample,   "--at",  "36.6,-84.2", "--range",
                     "4km", "--frequency", "146MHz", "--out", output} +
           more;
}

struct ReadBand {
    std::string description;
    std::string unit;
    int columns = 0;
    std::vector<float> values;

    [[nodiscard]] float at(int column, int row) const {
        return values.at(static_cast<std::size_t>(row) * static_cast<std::size_t>(columns) +
                         static_cast<std::size_t>(column));
    }
};

/// A map as GDAL reads it.
struct ReadMap {
    int columns = 0;
    int rows = 0;
    std::array<double, 6> transform{};
    int epsg = 0;
    std::vector<ReadBand> bands;

    explicit ReadMap(const std::string& path) {
        GDALAllRegister();
        const GDALDatasetUniquePtr dataset(GDALDataset::Open(path.c_str(), GDAL_OF_RASTER));
        REQUIRE(dataset);
        CHECK(std::string(dataset->GetDriverName()) == "GTiff");
        columns = dataset->GetRasterXSize();
        rows = dataset->GetRasterYSize();
        REQUIRE(dataset->GetGeoTransform(transform.data()) == CE_None);
        REQUIRE(dataset->GetSpatialRef() != nullptr);
        epsg = std::stoi(dataset->GetSpatialRef()->GetAuthorityCode(nullptr));
        for (int number = 1; number <= dataset->GetRasterCount(); ++number) {
            GDALRasterBand& band = *dataset->GetRasterBand(number);
            CHECK(band.GetRasterDataType() == GDT_Float32);
            CHECK(band.GetNoDataValue() == static_cast<double>(nodata));
            ReadBand read{band.GetDescription(), band.GetUnitType(), columns, {}};
            read.values.resize(static_cast<std::size_t>(columns) * static_cast<std::size_t>(rows));
            REQUIRE(band.RasterIO(GF_Read, 0, 0, columns, rows, read.values.data(), columns, rows,
                                  GDT_Float32, 0, 0, nullptr) == CE_None);
            bands.push_back(std::move(read));
        }
        metadata_ = CPLStringList(CSLDuplicate(dataset->GetMetadata()));
    }
    [[nodiscard]] std::string said(const char* key) const {
        const char* value = metadata_.FetchNameValue(key);
        return value == nullptr ? "" : value;
    }
    [[nodiscard]] double said_number(const char* key) const {
        INFO(key);
        REQUIRE_FALSE(said(key).empty());
        return std::stod(said(key));
    }

private:
    CPLStringList metadata_;
};

std::size_t known_cells(const ReadBand& band) {
    return band.values.size() - static_cast<std::size_t>(std::ranges::count(band.values, nodata));
}

} // namespace

TEST_CASE("a map of both ways has the weaker of what path says, and a band for each station") {
    const TemporaryFolder folder;
    const Arguments radios{"--power",         "25W",   "--receiver-power", "1W",
                           "--receiver-gain", "-3dBi", "--ideal"};
    const std::string text = output_of(
        folder, map_of("both.tif", {"--at", "36.62,-84.22", "--name", "One", "--name", "Two",
                                    "--bands", "both-ways,margin,each", "--engine", "exact"}) +
                    radios);
    const ReadMap map(folder / "both.tif");
    CHECK_THAT(text, Catch::StartsWith("One or more of 2 stations hear and are heard in "));
    REQUIRE(map.bands.size() == 4);
    CHECK(map.bands[0].description == "margin both ways");
    CHECK(map.bands[2].description == "margin with One");
    CHECK(map.bands[3].description == "margin with Two");
    // The receiver's 1 W against 25 W: what it says arrives 10 log10(25) dB weaker, and both need
    // the same level.
    const auto weaker_db = static_cast<float>(10.0 * std::log10(25.0));
    std::size_t compared = 0;
    std::size_t reached = 0;
    for (std::size_t cell = 0; cell < map.bands[0].values.size(); ++cell) {
        const float both = map.bands[0].values[cell];
        const float out = map.bands[1].values[cell];
        if (both != nodata) {
            ++compared;
            reached += both >= 0.0F ? 1U : 0U;
            if (std::abs(out - weaker_db - both) > 1e-3F ||
                out != std::max(map.bands[2].values[cell], map.bands[3].values[cell])) {
                FAIL("cell " << cell << ": " << both << " dB both ways, " << out << " dB out");
            }
        }
    }
    CHECK(compared > 1000);
    // The share that is summed up is of cells in which the weaker way is heard; cells in degrees
    // differ in size by less than 1 % over the map.
    const std::size_t bracket = text.find('(');
    CHECK(std::stod(text.substr(bracket + 1)) ==
          Approx(100.0 * static_cast<double>(reached) / static_cast<double>(compared)).margin(1.0));
}

TEST_CASE("a map is a GeoTIFF that explains itself") {
    const TemporaryFolder folder;
    const std::string text =
        output_of(folder, map_of("ridge.tif", {"--name", "Ridge", "--bands",
                                               "margin,received,loss,sight", "--power", "2W",
                                               "--antenna-height", "20ft", "--receiver-threshold",
                                               "-110dBm", "--ideal", "--picture", "ridge.png"}));
    CHECK(folder.names() == std::vector<std::string>{"ridge.png", "ridge.tif"});
    for (const char* part :
         {"Ridge is heard in", "km2", "ridge.tif", "ridge.png", "EPSG:4326", "no guarantee"}) {
        CHECK_THAT(text, Catch::Contains(part));
    }

    const ReadMap map(folder / "ridge.tif");
    CHECK(map.epsg == 4326);
    // The cells of the elevation: 3 seconds of arc.
    CHECK(map.transform[1] == Approx(3.0 / 3600.0).epsilon(1e-9));
    CHECK(map.transform[5] == Approx(-3.0 / 3600.0).epsilon(1e-9));
    REQUIRE(map.bands.size() == 4);
    CHECK(map.bands[0].description == "margin");
    CHECK(map.bands[0].unit == "dB");
    CHECK(map.bands[1].description == "received power");
    CHECK(map.bands[1].unit == "dBm");
    CHECK_THAT(map.bands[2].description, Catch::Contains("loss"));
    CHECK(map.bands[2].unit == "dB");
    CHECK_THAT(map.bands[3].description, Catch::StartsWith("line of sight"));
    CHECK(map.bands[3].unit == "1");

    CHECK(map.said("PROGRAM") == "earshot " EARSHOT_VERSION);
    CHECK(map.said("STATION_NAME") == "Ridge");
    CHECK(map.said_number("STATION_LATITUDE") == Approx(site_lat));
    CHECK(map.said_number("STATION_LONGITUDE") == Approx(site_lon));
    CHECK(map.said_number("STATION_ANTENNA_HEIGHT_M") == Approx(20 * 0.3048));
    CHECK(map.said_number("STATION_POWER_DBM") == Approx(10.0 * std::log10(2000.0)));
    CHECK(map.said_number("RECEIVER_THRESHOLD_DBM") == Approx(-110.0));
    CHECK(map.said_number("FREQUENCY_MHZ") == Approx(146.0));
    CHECK(map.said_number("RANGE_M") == Approx(4000.0));
    CHECK_THAT(map.said("TERRAIN"), Catch::Contains("cumberland_3arcsec.tif"));
    CHECK_THAT(map.said("CAUTION"), Catch::Contains("no guarantee"));
    for (const char* key : {"CREATED", "METHOD", "METHOD_SOURCE", "PROFILE_STEP_M",
                            "RECEIVER_ANTENNA_HEIGHT_M", "RECEIVER_ANTENNA_GAIN_DBI"}) {
        INFO(key);
        CHECK_FALSE(map.said(key).empty());
    }

    // Around the station all within the range is known, and nothing beyond it; half a cell's
    // diagonal is 60 m.
    const auto& geodesic = GeographicLib::Geodesic::WGS84();
    for (int row = 0; row < map.rows; ++row) {
        for (int column = 0; column < map.columns; ++column) {
            double distance_m = 0.0;
            geodesic.Inverse(site_lat, site_lon, map.transform[3] + (row + 0.5) * map.transform[5],
                             map.transform[0] + (column + 0.5) * map.transform[1], distance_m);
            const float margin = map.bands[0].at(column, row);
            const float received = map.bands[1].at(column, row);
            if (std::abs(distance_m - 4000.0) > 60.0 &&
                (margin != nodata) != (distance_m < 4000.0)) {
                FAIL("cell " << column << ", " << row << " at " << distance_m << " m");
            }
            if (margin != nodata && std::abs(margin - (received + 110.0F)) > 1e-3F) {
                FAIL("margin " << margin << " dB with " << received << " dBm received");
            }
        }
    }
    for (const float sight : map.bands[3].values) {
        REQUIRE((sight == nodata || sight == 0.0F || sight == 1.0F || sight == 2.0F));
    }

    const GDALDatasetUniquePtr picture(
        GDALDataset::Open((folder / "ridge.png").c_str(), GDAL_OF_RASTER));
    REQUIRE(picture);
    CHECK(std::string(picture->GetDriverName()) == "PNG");
    CHECK(picture->GetRasterXSize() > 200);
    CHECK(picture->GetRasterYSize() > 200);
}

TEST_CASE("a map in UTM has square cells on whole multiples of their side") {
    const TemporaryFolder folder;
    const json summary = json::parse(
        output_of(folder, map_of("utm.tif", {"--grid", "utm", "--cell", "100m", "--json"})));
    const ReadMap map(folder / "utm.tif");
    CHECK(map.epsg == 32616); // 84.2 degrees west lies in zone 16, 90 to 84 degrees west
    CHECK(map.transform[1] == 100.0);
    CHECK(map.transform[5] == -100.0);
    CHECK(std::remainder(map.transform[0], 100.0) == 0.0);
    CHECK(std::remainder(map.transform[3], 100.0) == 0.0);
    CHECK(summary.at("output") == "utm.tif");
    CHECK(summary.at("crs") == "EPSG:32616");
    CHECK(summary.at("columns") == map.columns);
    CHECK(summary.at("rows") == map.rows);
    CHECK(summary.at("cells_predicted") == known_cells(map.bands.at(0)));
    // A circle of 4 km; UTM stretches lengths by less than 0.1 % there.
    CHECK(summary.at("predicted_km2").get<double>() == Approx(3.14159265 * 16.0).epsilon(0.01));
    const auto heard =
        std::ranges::count_if(map.bands.at(0).values, [](float margin) { return margin >= 0.0F; });
    CHECK(summary.at("heard_km2").get<double>() ==
          Approx(static_cast<double>(heard) * 0.01).epsilon(0.005));
    CHECK(summary.at("notes").is_array());
    CHECK_THAT(summary.at("cautions").get<std::string>(), Catch::Contains("no guarantee"));
}

TEST_CASE("5 W are 4 dB more than 2 W in every cell") {
    // Trade rule: about 4 dB (common practice, no source); 10 log10(5/2) is 3.98 dB.
    const TemporaryFolder folder;
    (void)output_of(folder, map_of("two.tif", {"--power", "2W"}));
    (void)output_of(folder, map_of("five.tif", {"--power", "5W"}));
    const ReadMap two(folder / "two.tif");
    const ReadMap five(folder / "five.tif");
    REQUIRE(two.bands.at(0).values.size() == five.bands.at(0).values.size());
    CHECK(known_cells(two.bands[0]) > 5000);
    float least = 1000.0F;
    float most = -1000.0F;
    for (std::size_t cell = 0; cell < two.bands[0].values.size(); ++cell) {
        const float weak = two.bands[0].values[cell];
        const float strong = five.bands[0].values[cell];
        REQUIRE((weak == nodata) == (strong == nodata));
        if (weak != nodata) {
            least = std::min(least, strong - weak);
            most = std::max(most, strong - weak);
        }
    }
    CHECK(least == Approx(10.0 * std::log10(2.5)).margin(1e-4));
    CHECK(most == Approx(10.0 * std::log10(2.5)).margin(1e-4));
}

TEST_CASE("without ground in the way a map's losses are those of free space") {
    const TemporaryFolder folder;
    (void)output_of(folder, map_of("free.tif", {"--bands", "loss", "--method", "free-space"}));
    const ReadMap map(folder / "free.tif");
    const auto& geodesic = GeographicLib::Geodesic::WGS84();
    int checked = 0;
    for (int row = 0; row < map.rows; row += 5) {
        for (int column = 0; column < map.columns; column += 5) {
            const float loss = map.bands.at(0).at(column, row);
            double distance_m = 0.0;
            geodesic.Inverse(site_lat, site_lon, map.transform[3] + (row + 0.5) * map.transform[5],
                             map.transform[0] + (column + 0.5) * map.transform[1], distance_m);
            if (loss == nodata || distance_m < 2000.0) {
                continue; // nearby the slope of the way counts
            }
            ++checked;
            // ITU-R P.525-4, equation (4), whose 32.4 is rounded from 32.45.
            CHECK(static_cast<double>(loss) ==
                  Approx(32.4 + 20.0 * std::log10(146.0) + 20.0 * std::log10(distance_m / 1000.0))
                      .margin(0.15));
        }
    }
    CHECK(checked > 100);
}

TEST_CASE("a map of what is in sight") {
    const TemporaryFolder folder;
    CHECK_THAT(output_of(folder, map_of("sight.tif", {"--bands", "in-sight"})),
               Catch::StartsWith("station is in sight in "));
    const ReadMap map(folder / "sight.tif");
    REQUIRE(map.bands.size() == 1);
    CHECK_THAT(map.bands[0].description, Catch::StartsWith("in sight"));
    CHECK(map.bands[0].unit == "1");
    const json alone =
        json::parse(output_of(folder, map_of("sight.tif", {"--bands", "in-sight", "--json"})));
    const json beside = json::parse(
        output_of(folder, map_of("both.tif", {"--bands", "margin,sight,in-sight", "--json"})));
    CHECK_FALSE(alone.contains("heard_km2"));
    CHECK(beside.at("heard_km2").get<double>() > beside.at("in_sight_km2").get<double>());
    CHECK(alone.at("predicted_km2").get<double>() ==
          Approx(beside.at("predicted_km2").get<double>()));
    CHECK(alone.at("in_sight_km2").get<double>() ==
          Approx(beside.at("in_sight_km2").get<double>()).epsilon(0.01));
    const ReadMap both(folder / "both.tif");
    std::size_t differ = 0;
    for (std::size_t cell = 0; cell < map.bands[0].values.size(); ++cell) {
        const float seen = both.bands.at(2).values.at(cell);
        REQUIRE((seen == nodata || seen == std::min(both.bands[1].values[cell], 1.0F)));
        REQUIRE((map.bands[0].values[cell] == nodata) == (seen == nodata));
        differ += map.bands[0].values[cell] == seen ? 0U : 1U;
    }
    CHECK(static_cast<double>(differ) < 0.005 * static_cast<double>(known_cells(map.bands[0])));
}

TEST_CASE("a map of doubt says by which model, and where that one has no say") {
    const TemporaryFolder folder;
    const Arguments bands{"--bands", "margin,doubt"};
    const std::string text = output_of(folder, map_of("doubt.tif", bands));
    CHECK_THAT(text, !Catch::Contains("second model"));
    const ReadMap map(folder / "doubt.tif");
    CHECK_THAT(map.bands.at(1).description, Catch::StartsWith("doubt"));
    CHECK(map.bands.at(1).unit == "dB");
    CHECK(map.said("SECOND_METHOD") == "irregular-terrain");
    // Not within 1 km: a sixteenth of the circle of 4 km.
    const auto known = [](const ReadBand& band) { return static_cast<double>(known_cells(band)); };
    CHECK(known(map.bands[1]) / known(map.bands[0]) == Approx(15.0 / 16.0).margin(0.005));
    // NTIA Report 82-100 begins at 0.5 m.
    CHECK_THAT(output_of(folder,
                         map_of("low.tif", bands + Arguments{"--receiver-antenna-height", "0.3m"})),
               Catch::Contains("Note: the second model of the band doubt: "));
    const ReadMap low(folder / "low.tif");
    CHECK(known_cells(low.bands.at(0)) > 0);
    CHECK(known_cells(low.bands.at(1)) == 0);
}

TEST_CASE("a map that reaches beyond the elevation says so") {
    const TemporaryFolder folder;
    const json summary = json::parse(
        output_of(folder, {"map", "--terrain", sample, "--at", "36.71,-84.2", "--range", "4km",
                           "--frequency", "146MHz", "--out", "edge.tif", "--json"}));
    CHECK_THAT(summary.at("notes").dump(), Catch::Contains("the elevation ends before the range"));
    // The north edge of the sample lies at 36.7329 degrees, some 2.5 km off.
    CHECK(summary.at("predicted_km2").get<double>() < 0.95 * 3.14159265 * 16.0);
}

} // namespace earshot::app
