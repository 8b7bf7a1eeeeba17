#include "earshot/base/task.hpp"
#include "earshot/report/files/coverage_geotiff.hpp"
#include "output_checks.hpp"

#include <catch2/catch.hpp>
#include <fmt/format.h>
#include <tiffio.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <csignal>
#include <cstdio>
#include <limits>
#include <map>
#include <memory>
#include <random>

namespace earshot {
namespace {

using test::error_of;
using test::TemporaryFolder;

using test::nan;

float margin_at(int column, int row) {
    return (column + 2 * row) % 7 == 0
               ? nan
               : 0.125F * static_cast<float>(column) - 0.0625F * static_cast<float>(row);
}

float sight_at(int column, int row) {
    return static_cast<float>((column / 3 + row / 5) % 3);
}

template <typename Value>
coverage::Band band_of(const std::string& name, const std::string& unit, int columns, int rows,
                       const Value& value) {
    coverage::Band band{name, unit, {}};
    for (int row = 0; row < rows; ++row) {
        for (int column = 0; column < columns; ++column) {
            band.values.push_back(value(column, row));
        }
    }
    return band;
}

coverage::CoverageRaster utm_map(int columns, int rows) {
    coverage::CoverageRaster map;
    map.columns = columns;
    map.rows = rows;
    map.georeference = terrain::Georeference("EPSG:32616", 740015.0, 4060985.0, 30.0, -30.0);
    map.bands = {band_of("margin", "dB", columns, rows, margin_at)};
    map.metadata = {{"PROGRAM", "earshot 0.1.0"},
                    {"STATION_NAME", "Crête d'Élan <north> & \"south\""},
                    {"FREQUENCY_MHZ", "146.52"},
                    {"A_LAST_ONE", "= signs = stay"}};
    return map;
}

coverage::CoverageRaster noisy_map(int side) {
    coverage::CoverageRaster map = utm_map(side, side);
    std::mt19937 generator(20);
    std::uniform_real_distribution<float> values(-40.0F, 60.0F);
    std::ranges::generate(map.bands.front().values, [&] { return values(generator); });
    return map;
}

// ---- Reading with libtiff alone -----------------------------------------------------------------

using Tiff = std::unique_ptr<TIFF, decltype(&TIFFClose)>;

Tiff open_tiff(const std::filesystem::path& path) {
    // Private tags are no news here.
    TIFFSetWarningHandler(nullptr);
    Tiff tiff(TIFFOpen(path.c_str(), "r"), TIFFClose);
    REQUIRE(tiff != nullptr);
    return tiff;
}

template <typename Value>
Value number(TIFF* tiff, uint32_t tag) {
    Value value{};
    REQUIRE(TIFFGetFieldDefaulted(tiff, tag, &value) == 1);
    return value;
}

/// A tag with any number of values; how libtiff hands it over depends on who has declared it.
template <typename Value>
std::vector<Value> list(TIFF* tiff, uint32_t tag) {
    const TIFFField* field = TIFFFindField(tiff, tag, TIFF_ANY);
    if (field == nullptr) {
        return {};
    }
    void* data = nullptr;
    if (TIFFFieldPassCount(field) == 0) {
        if (TIFFGetField(tiff, tag, &data) != 1) {
            return {};
        }
        const auto* text = static_cast<const char*>(data);
        return {text, text + std::char_traits<char>::length(text)};
    }
    uint32_t count = 0;
    if (TIFFFieldReadCount(field) == TIFF_VARIABLE2) {
        if (TIFFGetField(tiff, tag, &count, &data) != 1) {
            return {};
        }
    } else {
        uint16_t short_count = 0;
        if (TIFFGetField(tiff, tag, &short_count, &data) != 1) {
            return {};
        }
        count = short_count;
    }
    const auto* first = static_cast<const Value*>(data);
    return {first, first + count};
}

std::string text_tag(TIFF* tiff, uint32_t tag) {
    const std::vector<char> characters = list<char>(tiff, tag);
    return std::string(characters.begin(), std::ranges::find(characters, '\0'));
}

/// Keys of the GeoKeyDirectory tag that hold their value in place (OGC 19-008r4, 7.1.2).
std::map<int, int> geo_keys(TIFF* tiff) {
    const std::vector<uint16_t> directory = list<uint16_t>(tiff, 34735);
    std::map<int, int> keys;
    for (std::size_t k = 4; k + 3 < directory.size(); k += 4) {
        if (directory[k + 1] == 0) {
            keys[directory[k]] = directory[k + 3];
        }
    }
    return keys;
}

/// Samples of the tile that holds the pixel (column, row), pixel after pixel, band after band.
std::vector<float> tile_at(TIFF* tiff, uint32_t column, uint32_t row) {
    std::vector<float> samples(static_cast<std::size_t>(TIFFTileSize(tiff)) / sizeof(float));
    REQUIRE(TIFFReadEncodedTile(tiff, TIFFComputeTile(tiff, column, row, 0, 0), samples.data(),
                                TIFFTileSize(tiff)) == TIFFTileSize(tiff));
    return samples;
}

bool same(float a, float b) {
    return a == b || (std::isnan(a) && std::isnan(b));
}

TEST_CASE("a written map is a tiled, compressed TIFF to libtiff") {
    // Tag numbers and values: TIFF 6.0; predictor 3: Adobe Photoshop TIFF Technical Note 3;
    // Deflate 8: Adobe Photoshop TIFF Technical Notes, 2002.
    const TemporaryFolder folder;
    const coverage::CoverageRaster map = utm_map(1200, 900);
    report::write_coverage_geotiff(folder / "map.tif", map);
    CHECK(folder.file_count() == 1);
    const Tiff tiff = open_tiff(folder / "map.tif");
    const std::array<std::array<uint32_t, 2>, 3> sizes{{{1200, 900}, {600, 450}, {300, 225}}};
    REQUIRE(TIFFNumberOfDirectories(tiff.get()) == sizes.size());
    for (uint16_t level = 0; level < sizes.size(); ++level) {
        REQUIRE(TIFFSetDirectory(tiff.get(), level) == 1);
        CHECK(number<uint32_t>(tiff.get(), TIFFTAG_IMAGEWIDTH) == sizes[level][0]);
        CHECK(number<uint32_t>(tiff.get(), TIFFTAG_IMAGELENGTH) == sizes[level][1]);
        CHECK(number<uint32_t>(tiff.get(), TIFFTAG_SUBFILETYPE) ==
              (level == 0 ? 0 : FILETYPE_REDUCEDIMAGE));
        CHECK(number<uint32_t>(tiff.get(), TIFFTAG_TILEWIDTH) == 512);
        CHECK(number<uint32_t>(tiff.get(), TIFFTAG_TILELENGTH) == 512);
        CHECK(number<uint16_t>(tiff.get(), TIFFTAG_COMPRESSION) == 8);
        CHECK(number<uint16_t>(tiff.get(), TIFFTAG_PREDICTOR) == 3);
        CHECK(number<uint16_t>(tiff.get(), TIFFTAG_SAMPLEFORMAT) == SAMPLEFORMAT_IEEEFP);
        CHECK(number<uint16_t>(tiff.get(), TIFFTAG_BITSPERSAMPLE) == 32);
        CHECK(number<uint16_t>(tiff.get(), TIFFTAG_SAMPLESPERPIXEL) == 1);
        CHECK(text_tag(tiff.get(), 42113) == "-9999");
    }
}

TEST_CASE("tiles hold the values, and nodata for NaN") {
    const TemporaryFolder folder;
    const coverage::CoverageRaster map = utm_map(1200, 900);
    report::write_coverage_geotiff(folder / "map.tif", map);
    const Tiff tiff = open_tiff(folder / "map.tif");
    const std::vector<float> tile = tile_at(tiff.get(), 1024, 512);
    int wrong = 0;
    for (int row = 512; row < 900; ++row) {
        for (int column = 1024; column < 1200; ++column) {
            const float expected = margin_at(column, row);
            const float got = tile[static_cast<std::size_t>((row - 512) * 512 + column - 1024)];
            wrong += got == (std::isnan(expected) ? -9999.0F : expected) ? 0 : 1;
        }
    }
    CHECK(wrong == 0);
}

TEST_CASE("overviews are means of the known cells") {
    const TemporaryFolder folder;
    report::write_coverage_geotiff(folder / "map.tif", utm_map(1200, 900));
    const Tiff tiff = open_tiff(folder / "map.tif");
    REQUIRE(TIFFSetDirectory(tiff.get(), 1) == 1);
    const std::vector<float> tile = tile_at(tiff.get(), 0, 0);
    int wrong = 0;
    for (int row = 0; row < 400; ++row) {
        for (int column = 0; column < 400; ++column) {
            double sum = 0.0;
            int known = 0;
            for (int k = 0; k < 4; ++k) {
                const float value = margin_at(2 * column + k % 2, 2 * row + k / 2);
                if (!std::isnan(value)) {
                    sum += static_cast<double>(value);
                    ++known;
                }
            }
            const auto got =
                static_cast<double>(tile[static_cast<std::size_t>(row * 512 + column)]);
            wrong += std::abs(got - sum / known) < 1e-4 ? 0 : 1;
        }
    }
    CHECK(wrong == 0);
}

TEST_CASE("overviews of classes are classes") {
    const TemporaryFolder folder;
    coverage::CoverageRaster map = utm_map(1100, 700);
    map.bands.push_back(band_of("line of sight", "1", 1100, 700, sight_at));
    report::write_coverage_geotiff(folder / "map.tif", map);
    const Tiff tiff = open_tiff(folder / "map.tif");
    CHECK(number<uint16_t>(tiff.get(), TIFFTAG_SAMPLESPERPIXEL) == 2);
    REQUIRE(TIFFSetDirectory(tiff.get(), 1) == 1);
    const std::vector<float> tile = tile_at(tiff.get(), 0, 0);
    std::array<int, 3> counts{};
    int strange = 0;
    for (std::size_t row = 0; row < 350; ++row) {
        for (std::size_t column = 0; column < 512; ++column) {
            const float value = tile[2 * (row * 512 + column) + 1];
            if (value == 0.0F || value == 1.0F || value == 2.0F) {
                ++counts[static_cast<std::size_t>(value)];
            } else {
                ++strange;
            }
        }
    }
    CHECK(strange == 0);
    CHECK(*std::ranges::min_element(counts) > 10000);
}

TEST_CASE("a map in UTM says where it lies") {
    // OGC GeoTIFF 1.1 (19-008r4): GTModelTypeGeoKey 1024 (1 projected), GTRasterTypeGeoKey 1025
    // (1 pixel is area), ProjectedCRSGeoKey 3072; tie point: raster (0, 0) is the outer corner of
    // the first cell, 15 m west and north of its centre here.
    const TemporaryFolder folder;
    report::write_coverage_geotiff(folder / "map.tif", utm_map(40, 30));
    const Tiff tiff = open_tiff(folder / "map.tif");
    const std::map<int, int> keys = geo_keys(tiff.get());
    CHECK(keys.at(1024) == 1);
    CHECK(keys.at(1025) == 1);
    CHECK(keys.at(3072) == 32616);
    CHECK(list<double>(tiff.get(), 33550) == std::vector<double>{30.0, 30.0, 0.0});
    CHECK(list<double>(tiff.get(), 33922) ==
          std::vector<double>{0.0, 0.0, 0.0, 740000.0, 4061000.0, 0.0});
}

TEST_CASE("a map in longitude and latitude says where it lies") {
    // As above; GTModelTypeGeoKey 2 geographic, GeodeticCRSGeoKey 2048.
    const TemporaryFolder folder;
    coverage::CoverageRaster map = utm_map(40, 30);
    map.georeference = terrain::Georeference("EPSG:4326", -84.25, 36.5, 0.5, -0.25);
    report::write_coverage_geotiff(folder / "map.tif", map);
    const Tiff tiff = open_tiff(folder / "map.tif");
    const std::map<int, int> keys = geo_keys(tiff.get());
    CHECK(keys.at(1024) == 2);
    CHECK(keys.at(1025) == 1);
    CHECK(keys.at(2048) == 4326);
    CHECK(keys.count(3072) == 0);
    CHECK(list<double>(tiff.get(), 33550) == std::vector<double>{0.5, 0.25, 0.0});
    CHECK(list<double>(tiff.get(), 33922) ==
          std::vector<double>{0.0, 0.0, 0.0, -84.5, 36.625, 0.0});
}

TEST_CASE("names, units and inputs are in the metadata tag") {
    // Form of the tag: GDAL, GTiff driver documentation, "Metadata".
    const TemporaryFolder folder;
    report::write_coverage_geotiff(folder / "map.tif", utm_map(40, 30));
    const Tiff tiff = open_tiff(folder / "map.tif");
    const std::string xml = text_tag(tiff.get(), 42112);
    CHECK_THAT(xml, Catch::Contains("<Item name=\"FREQUENCY_MHZ\">146.52</Item>"));
    CHECK_THAT(xml, Catch::Contains("Crête d'Élan"));
    CHECK_THAT(xml, Catch::Contains("sample=\"0\" role=\"description\">margin</Item>"));
    CHECK_THAT(xml, Catch::Contains("sample=\"0\" role=\"unittype\">dB</Item>"));
}

TEST_CASE("directories stand at the head of the file") {
    // GDAL, COG driver documentation, "Header ghost area".
    const TemporaryFolder folder;
    report::write_coverage_geotiff(folder / "map.tif", utm_map(1200, 900));
    const std::string head = test::content_of(folder / "map.tif").substr(8, 200);
    CHECK(head.starts_with("GDAL_STRUCTURAL_METADATA_SIZE="));
    CHECK_THAT(head, Catch::Contains("LAYOUT=IFDS_BEFORE_DATA"));
    const Tiff tiff = open_tiff(folder / "map.tif");
    uint64_t last_directory = 0;
    uint64_t first_tile = std::numeric_limits<uint64_t>::max();
    for (uint16_t level = 0; level < 3; ++level) {
        REQUIRE(TIFFSetDirectory(tiff.get(), level) == 1);
        last_directory = std::max(last_directory, TIFFCurrentDirOffset(tiff.get()));
        for (uint32_t tile = 0; tile < TIFFNumberOfTiles(tiff.get()); ++tile) {
            first_tile = std::min(first_tile, TIFFGetStrileOffset(tiff.get(), tile));
        }
    }
    CHECK(last_directory < first_tile);
}

TEST_CASE("GDAL's own validator finds a cloud-optimised GeoTIFF") {
    const TemporaryFolder folder;
    coverage::CoverageRaster map = utm_map(1300, 1100);
    map.bands.push_back(band_of("received power", "dBm", 1300, 1100, margin_at));
    report::write_coverage_geotiff(folder / "map.tif", map);
    const std::string command =
        fmt::format("/usr/bin/python3 -m osgeo_utils.samples.validate_cloud_optimized_geotiff "
                    "--full-check=yes '{}' 2>&1",
                    (folder / "map.tif").string());
    std::FILE* pipe = popen(command.c_str(), "r");
    REQUIRE(pipe != nullptr);
    std::string said;
    for (int c = std::fgetc(pipe); c != EOF; c = std::fgetc(pipe)) {
        said += static_cast<char>(c);
    }
    const int status = pclose(pipe);
    INFO("the validator comes with the Debian package python3-gdal; it said: " << said);
    CHECK(status == 0);
    CHECK_THAT(said, Catch::Contains("is a valid cloud optimized GeoTIFF"));
    CHECK_THAT(said, !Catch::Contains("warning"));
}

TEST_CASE("a map read back is the map written") {
    const TemporaryFolder folder;
    coverage::CoverageRaster map = utm_map(700, 530);
    map.bands.push_back(band_of("line of sight", "1", 700, 530, sight_at));
    report::write_coverage_geotiff(folder / "map.tif", map);
    const coverage::CoverageRaster again = report::read_coverage_geotiff(folder / "map.tif");
    CHECK(again.columns == 700);
    CHECK(again.rows == 530);
    CHECK(again.georeference.crs_label() == "EPSG:32616");
    CHECK(again.georeference.x0() == 740015.0);
    CHECK(again.georeference.y0() == 4060985.0);
    CHECK(again.georeference.dx() == 30.0);
    CHECK(again.georeference.dy() == -30.0);
    std::ranges::sort(map.metadata);
    CHECK(again.metadata == map.metadata);
    REQUIRE(again.bands.size() == 2);
    for (std::size_t k = 0; k < 2; ++k) {
        CHECK(again.bands[k].name == map.bands[k].name);
        CHECK(again.bands[k].unit == map.bands[k].unit);
        CHECK(std::ranges::equal(again.bands[k].values, map.bands[k].values, same));
    }
}

TEST_CASE("writing replaces an older map") {
    const TemporaryFolder folder;
    report::write_coverage_geotiff(folder / "map.tif", utm_map(40, 30));
    report::write_coverage_geotiff(folder / "map.tif", utm_map(50, 20));
    CHECK(report::read_coverage_geotiff(folder / "map.tif").columns == 50);
    CHECK(folder.file_count() == 1);
}

TEST_CASE("a full disk leaves nothing and says so in one line") {
    const TemporaryFolder folder;
    const coverage::CoverageRaster map = noisy_map(700);
    report::write_coverage_geotiff(folder / "whole.tif", map);
    const auto whole = std::filesystem::file_size(folder / "whole.tif");
    std::filesystem::remove(folder / "whole.tif");
    // Full at once, among the overviews, in the midst and at the very last byte.
    for (const auto limit : {std::uintmax_t{0}, whole / 20, whole / 2, whole - 1}) {
        CAPTURE(limit, whole);
        std::optional<Error> error;
        const std::string said = test::standard_error_of(folder, [&] {
            const test::FileSizeLimit full(limit);
            error = error_of([&] { report::write_coverage_geotiff(folder / "map.tif", map); });
        });
        REQUIRE(error);
        CHECK(error->fault() == Fault::output);
        CHECK_THAT(error->what(), Catch::Contains("map.tif") && Catch::Contains("disk"));
        CHECK(std::string(error->what()).find('\n') == std::string::npos);
        CHECK(said.empty());
        CHECK(folder.file_count() == 0);
    }
}

TEST_CASE("a full disk leaves an older map alone") {
    const TemporaryFolder folder;
    report::write_coverage_geotiff(folder / "map.tif", utm_map(40, 30));
    const std::string before = test::content_of(folder / "map.tif");
    const auto error = error_of([&] {
        const test::FileSizeLimit full(100000);
        report::write_coverage_geotiff(folder / "map.tif", noisy_map(700));
    });
    REQUIRE(error);
    CHECK(test::content_of(folder / "map.tif") == before);
    CHECK(folder.file_count() == 1);
}

TEST_CASE("a missing folder is named") {
    const TemporaryFolder folder;
    const auto error =
        error_of([&] { report::write_coverage_geotiff(folder / "absent/map.tif", utm_map(4, 3)); });
    REQUIRE(error);
    CHECK(error->fault() == Fault::output);
    CHECK_THAT(error->what(), Catch::Contains("absent"));
}

TEST_CASE("long, spaced and many-lined texts survive") {
    const TemporaryFolder folder;
    coverage::CoverageRaster map = utm_map(4, 3);
    map.metadata = {
        {"LINES", "one\ntwo"}, {"LONG", std::string(200000, 'x')}, {"SPACED", "one after "}};
    const auto kept = map.metadata;
    map.metadata.emplace_back("EMPTY", "");
    report::write_coverage_geotiff(folder / "map.tif", map);
    CHECK(report::read_coverage_geotiff(folder / "map.tif").metadata == kept);
    CHECK(folder.file_count() == 1);
}

TEST_CASE("metadata that would get lost is refused") {
    const TemporaryFolder folder;
    coverage::CoverageRaster map = utm_map(4, 3);
    map.metadata.emplace_back("PROGRAM", "another");
    const auto error = error_of([&] { report::write_coverage_geotiff(folder / "map.tif", map); });
    REQUIRE(error);
    CHECK(error->fault() == Fault::output);
    CHECK(folder.file_count() == 0);
}

TEST_CASE("a coordinate system without a code is kept") {
    const TemporaryFolder folder;
    coverage::CoverageRaster map = utm_map(40, 30);
    map.georeference = terrain::Georeference(
        "+proj=aeqd +lat_0=36 +lon_0=-84 +datum=WGS84 +type=crs", 15.0, 985.0, 30.0, -30.0);
    report::write_coverage_geotiff(folder / "map.tif", map);
    const geo::LatLon before = map.georeference.position_of({25.0, 17.0});
    const geo::LatLon after =
        report::read_coverage_geotiff(folder / "map.tif").georeference.position_of({25.0, 17.0});
    CHECK(after.lat_deg == Approx(before.lat_deg).epsilon(1e-12));
    CHECK(after.lon_deg == Approx(before.lon_deg).epsilon(1e-12));
}

TEST_CASE("a coordinate system that no GeoTIFF can hold is refused, not dropped") {
    const TemporaryFolder folder;
    coverage::CoverageRaster map = utm_map(40, 30);
    map.georeference = terrain::Georeference("+proj=ob_tran +o_proj=longlat +o_lon_p=0 +o_lat_p=40 "
                                             "+lon_0=10 +datum=WGS84 +type=crs",
                                             1.5, 9.5, 0.1, -0.1);
    const auto error = error_of([&] { report::write_coverage_geotiff(folder / "map.tif", map); });
    REQUIRE(error);
    CHECK(error->fault() == Fault::output);
    CHECK_THAT(error->what(), Catch::Contains("coordinate reference system"));
    CHECK(folder.file_count() == 0);
}

TEST_CASE("bands of the wrong size are a fault of the program") {
    const TemporaryFolder folder;
    coverage::CoverageRaster map = utm_map(40, 30);
    map.bands.front().values.pop_back();
    const auto error = error_of([&] { report::write_coverage_geotiff(folder / "map.tif", map); });
    REQUIRE(error);
    CHECK(error->fault() == Fault::internal);
    CHECK(folder.file_count() == 0);
}

/// Counts progress, and asks for a stop from the start if told so.
class Watcher : public Task {
public:
    explicit Watcher(bool stop) : stop_(stop) {}
    void begin(std::string_view, std::uint64_t steps) override { total = steps; }
    void advance(std::uint64_t steps) override { done += steps; }
    [[nodiscard]] bool stop_requested() const noexcept override { return stop_; }

    std::uint64_t total = 0;
    std::uint64_t done = 0;

private:
    bool stop_;
};

TEST_CASE("progress comes to its end") {
    const TemporaryFolder folder;
    Watcher watcher(false);
    report::write_coverage_geotiff(folder / "map.tif", utm_map(1200, 900), watcher);
    CHECK(watcher.total > 0);
    CHECK(watcher.done == watcher.total);
}

TEST_CASE("the user can stop the writing") {
    const TemporaryFolder folder;
    Watcher watcher(true);
    const auto error = error_of(
        [&] { report::write_coverage_geotiff(folder / "map.tif", utm_map(1200, 900), watcher); });
    REQUIRE(error);
    CHECK(error->fault() == Fault::stopped);
    CHECK(watcher.done < watcher.total);
    CHECK(folder.file_count() == 0);
}

TEST_CASE("files that are no maps are refused with a reason") {
    const TemporaryFolder folder;
    const auto reading = [](const std::filesystem::path& path) {
        const auto error = error_of([&] { (void)report::read_coverage_geotiff(path); });
        REQUIRE(error);
        CHECK(error->fault() == Fault::input);
        CHECK_THAT(error->what(), Catch::Contains(path.filename().string()));
        return std::string(error->what());
    };
    SECTION("missing") {
        CHECK_THAT(reading(folder / "none.tif"), Catch::Contains("no such file"));
    }
    SECTION("not a TIFF") {
        std::ofstream(folder / "words.tif") << "words";
        CHECK_THAT(reading(folder / "words.tif"), Catch::Contains("GeoTIFF"));
    }
    SECTION("somebody else's GeoTIFF") {
        CHECK_THAT(reading(EARSHOT_SOURCE_DIR "/dem-samples/cumberland_3arcsec.tif"),
                   Catch::Contains("not a map"));
    }
    SECTION("cut short") {
        report::write_coverage_geotiff(folder / "map.tif", noisy_map(700));
        std::filesystem::resize_file(folder / "map.tif",
                                     std::filesystem::file_size(folder / "map.tif") * 6 / 10);
        std::string message;
        const std::string said =
            test::standard_error_of(folder, [&] { message = reading(folder / "map.tif"); });
        CHECK_THAT(message, Catch::Contains("damaged"));
        CHECK(said.empty());
    }
}

} // namespace
} // namespace earshot
