#include "earshot/terrain/terrain_source.hpp"
#include "rasters.hpp"
#include "terrain/native/gdal_errors.hpp"

#include <GeographicLib/Geodesic.hpp>
#include <catch2/catch.hpp>
#include <fcntl.h>
#include <tiffio.h>
#include <unistd.h>

#include <cmath>
#include <cstdlib>
#include <fstream>
#include <limits>

namespace earshot::terrain {
namespace {

using testing::message_of;
using testing::RasterRecipe;
using testing::TemporaryFolder;
using testing::write_raster;

constexpr double nan = std::numeric_limits<double>::quiet_NaN();

HeightGrid load(const std::vector<std::filesystem::path>& inputs, const OpenOptions& options = {},
                HeightSummary* summary = nullptr) {
    return TerrainSource::open(inputs, options).load_all(summary);
}

std::string open_error(const std::filesystem::path& input) {
    return message_of(Fault::input, [&] { TerrainSource::open({input}); });
}

void write_text(const std::filesystem::path& path, const std::string& text) {
    std::ofstream(path) << text;
}

/// A raster of a plane, so that any right interpolation gives the plane back.
double plane(double x, double y) {
    return 300.0 + 0.01 * (x - 500000.0) - 0.02 * (y - 5200000.0);
}

RasterRecipe plane_recipe(std::array<double, 6> transform) {
    RasterRecipe recipe;
    recipe.columns = 60;
    recipe.rows = 50;
    recipe.type = GDT_Float32;
    recipe.crs = "EPSG:32633";
    recipe.transform = transform;
    recipe.height = [t = transform](int column, int row) {
        return plane(t[0] + (column + 0.5) * t[1] + (row + 0.5) * t[2],
                     t[3] + (column + 0.5) * t[4] + (row + 0.5) * t[5]);
    };
    return recipe;
}

/// Largest departure from the plane over the cells inside a rectangle of coordinates.
double worst_off_plane(const HeightGrid& grid, double west, double south, double east,
                       double north) {
    const Georeference& g = grid.georeference;
    double worst = -1.0;
    for (int row = 0; row < grid.rows; ++row) {
        for (int column = 0; column < grid.columns; ++column) {
            const double x = g.x0() + column * g.dx();
            const double y = g.y0() + row * g.dy();
            if (x > west && x < east && y > south && y < north) {
                const double off =
                    std::abs(static_cast<double>(grid.at(column, row)) - plane(x, y));
                worst = std::isnan(off) ? 1e9 : std::max(worst, off);
            }
        }
    }
    REQUIRE(worst >= 0.0);
    return worst;
}

/// What reaches the terminal's error stream during a call.
template <typename Call>
std::string spilled_by(const TemporaryFolder& folder, Call&& call) {
    const std::filesystem::path file = folder / "stderr.txt";
    std::fflush(stderr);
    const int kept = dup(STDERR_FILENO);
    const int caught = ::open(file.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
    dup2(caught, STDERR_FILENO);
    call();
    std::fflush(stderr);
    dup2(kept, STDERR_FILENO);
    close(caught);
    close(kept);
    std::ifstream in(file);
    return {std::istreambuf_iterator<char>(in), {}};
}

} // namespace

// U.S. Geological Survey data; the numbers are those of gdalinfo -stats and of the README beside
// it.
TEST_CASE("a real elevation file is read as GDAL describes it") {
    const std::string file =
        std::string(EARSHOT_SOURCE_DIR) + "/dem-samples/cumberland_3arcsec.tif";
    const TerrainSource source = TerrainSource::open({file});
    const TerrainInfo& info = source.info();
    CHECK(info.columns == 403);
    CHECK(info.rows == 344);
    CHECK(info.crs_label == "EPSG:4326");
    CHECK(source.georeference().geographic());
    CHECK(info.sample_type == "Int16");
    CHECK(info.pixel_meaning == "area");
    CHECK(info.height_unit == "metre");
    CHECK_THAT(info.height_unit_source, Catch::Contains("assumed"));
    CHECK(info.vertical_datum == "not stated");
    CHECK(info.north_west.lat_deg == Approx(36.732916666666668));
    CHECK(info.north_west.lon_deg == Approx(-84.41375));
    CHECK(info.south_east.lat_deg == Approx(36.4462500));
    CHECK(info.south_east.lon_deg == Approx(-84.0779167));
    HeightSummary summary;
    const HeightGrid grid = source.load_all(&summary);
    CHECK(summary.lowest_m == 236.0);
    CHECK(summary.highest_m == 1076.0);
    CHECK(summary.void_cells == 0);
    CHECK(summary.cells == 403ULL * 344ULL);
    CHECK(grid.sample(summary.highest) == Approx(1076.0).margin(0.01));
}

TEST_CASE("elevation of a surface is told from that of bare ground") {
    const TemporaryFolder folder;
    const auto kind_of = [&](const std::string& name, const char* key, const char* value,
                             const OpenOptions& options = {}) {
        const std::string file = write_raster(folder / name, {});
        if (key != nullptr) {
            const GDALDatasetUniquePtr dataset(
                GDALDataset::FromHandle(GDALOpen(file.c_str(), GA_Update)));
            dataset->SetMetadataItem(key, value);
        }
        const TerrainSource source = TerrainSource::open({file}, options);
        CHECK(source.load_all().kind == source.info().ground_kind);
        return source.info().ground_kind;
    };
    CHECK(kind_of("hills.tif", nullptr, nullptr) == GroundKind::not_told);
    CHECK(kind_of("Heights_DSM_N46_E015.tif", nullptr, nullptr) == GroundKind::surface);
    CHECK(kind_of("dtm-5m.tif", nullptr, nullptr) == GroundKind::bare);
    CHECK(kind_of("admsmith.tif", nullptr, nullptr) == GroundKind::not_told); // in a word
    CHECK(kind_of("a.tif", "TIFFTAG_IMAGEDESCRIPTION", "A digital surface model of the hills") ==
          GroundKind::surface);
    CHECK(kind_of("b.tif", "DESCRIPTION", "lidar, bare-earth") == GroundKind::bare);
    OpenOptions options;
    options.ground_kind = GroundKind::bare;
    CHECK(kind_of("c_dsm.tif", nullptr, nullptr, options) == GroundKind::bare);
}

// GDAL's own bilinear resampling, enlarging four times.
TEST_CASE("sampling agrees with GDAL's bilinear resampling") {
    const TemporaryFolder folder;
    RasterRecipe recipe;
    recipe.type = GDT_Float32;
    const std::string file = write_raster(folder / "a.tif", recipe);
    const HeightGrid grid = load({file});
    constexpr int times = 4;
    std::vector<float> enlarged(static_cast<std::size_t>(times * times * 20 * 15));
    const GDALDatasetUniquePtr dataset(GDALDataset::Open(file.c_str()));
    GDALRasterIOExtraArg extra;
    INIT_RASTERIO_EXTRA_ARG(extra);
    extra.eResampleAlg = GRIORA_Bilinear;
    REQUIRE(dataset->GetRasterBand(1)->RasterIO(GF_Read, 0, 0, 20, 15, enlarged.data(), 20 * times,
                                                15 * times, GDT_Float32, 0, 0, &extra) == CE_None);
    for (int row = times; row < 14 * times; ++row) {
        for (int column = times; column < 19 * times; ++column) {
            const CellPosition cell{(column + 0.5) / times - 0.5, (row + 0.5) / times - 0.5};
            const double ours = grid.sample(cell);
            const float theirs = enlarged[static_cast<std::size_t>(row * 20 * times + column)];
            CHECK(ours == Approx(static_cast<double>(theirs)).margin(2e-3));
        }
    }
}

TEST_CASE("all sample types are read") {
    const TemporaryFolder folder;
    for (const GDALDataType type :
         {GDT_Byte, GDT_Int16, GDT_UInt16, GDT_Int32, GDT_UInt32, GDT_Float32, GDT_Float64}) {
        RasterRecipe recipe;
        recipe.type = type;
        recipe.height = [](int column, int row) { return 10.0 * column + row; };
        const std::string file = write_raster(folder / "a.tif", recipe);
        const TerrainSource source = TerrainSource::open({file});
        INFO(source.info().sample_type);
        CHECK(source.info().sample_type == GDALGetDataTypeName(type));
        CHECK(source.load_all().at(7, 3) == 73.0F);
    }
}

TEST_CASE("scale, offset and unit make metres") {
    const TemporaryFolder folder;
    RasterRecipe recipe;
    recipe.type = GDT_UInt16;
    recipe.scale = 0.1;
    recipe.offset = -100.0;
    recipe.height = [](int, int) { return 5000.0; };
    CHECK(load({write_raster(folder / "m.tif", recipe)}).at(3, 3) == Approx(400.0F));
    // International foot 0.3048 m exactly; US survey foot 1200/3937 m (NIST SP 811, appendix B).
    recipe.unit = "ft";
    CHECK(load({write_raster(folder / "ft.tif", recipe)}).at(3, 3) == Approx(400.0 * 0.3048));
    recipe.unit = "US survey foot";
    const std::string survey = write_raster(folder / "us.tif", recipe);
    CHECK(load({survey}).at(3, 3) == Approx(400.0 * 1200.0 / 3937.0));
    CHECK(TerrainSource::open({survey}).info().height_unit == "US survey foot");
    OpenOptions options;
    options.height_unit_m = 1.0;
    CHECK(load({survey}, options).at(3, 3) == Approx(400.0F));
    CHECK(TerrainSource::open({survey}, options).info().height_unit == "metre");
}

TEST_CASE("an unknown unit is refused by name unless the user gives one") {
    const TemporaryFolder folder;
    RasterRecipe recipe;
    recipe.unit = "furlong";
    const std::string file = write_raster(folder / "a.tif", recipe);
    CHECK_THAT(open_error(file), Catch::Contains("furlong") && Catch::Contains("a.tif"));
    OpenOptions options;
    options.height_unit_m = 2.0;
    CHECK(load({file}, options).at(1, 0) == 206.0F);
    CHECK(TerrainSource::open({file}, options).info().height_unit_source == "as told by the user");
}

TEST_CASE("the vertical axis of a compound CRS gives unit and datum") {
    const TemporaryFolder folder;
    RasterRecipe recipe;
    recipe.height = [](int, int) { return 1000.0; };
    recipe.crs = "EPSG:4269+6360"; // NAD83 and NAVD88 height in US survey feet
    for (const char* version : {"GEOTIFF_VERSION=1.1", "GEOTIFF_VERSION=1.0"}) {
        recipe.creation = {version};
        const std::string file =
            write_raster(folder / (std::string("a") + version + ".tif"), recipe);
        const TerrainSource source = TerrainSource::open({file});
        INFO(version);
        CHECK(source.info().crs_label == "EPSG:4269");
        CHECK_THAT(source.info().vertical_datum, Catch::Contains("NAVD88"));
        CHECK(source.info().height_unit == "US survey foot");
        CHECK(source.load_all().at(2, 2) == Approx(1000.0 * 1200.0 / 3937.0));
    }
}

// GeoTIFF 1.1 (OGC 19-008r4), section 7.1.2 and annex on raster space: with PixelIsArea the tie
// point (0, 0) is the outer corner of the first cell, with PixelIsPoint it is the first sample
// itself. The tie point is read past GDAL, with libtiff (tag 33922).
TEST_CASE("a cell that is a point and one that is an area are told apart") {
    const TemporaryFolder folder;
    for (const bool point : {false, true}) {
        RasterRecipe recipe;
        recipe.point = point;
        const std::string file = write_raster(folder / "a.tif", recipe);
        TIFF* tiff = TIFFOpen(file.c_str(), "r");
        REQUIRE(tiff != nullptr);
        std::uint16_t count = 0;
        double* tie = nullptr;
        REQUIRE(TIFFGetField(tiff, 33922, &count, &tie) == 1);
        REQUIRE(count == 6);
        const geo::LatLon tied{tie[4], tie[3]};
        TIFFClose(tiff);
        const TerrainSource source = TerrainSource::open({file});
        INFO(source.info().pixel_meaning);
        CHECK(source.info().pixel_meaning == (point ? "point" : "area"));
        const CellPosition cell = source.georeference().cell_of(tied);
        CHECK(cell.column == Approx(point ? 0.0 : -0.5).margin(1e-9));
        CHECK(cell.row == Approx(point ? 0.0 : -0.5).margin(1e-9));
    }
}

TEST_CASE("small voids are filled, large ones stay unknown and none is sea level") {
    const TemporaryFolder folder;
    const auto with_void = [](double mark) {
        return [mark](int column, int row) {
            const bool small = column == 4 && row == 4;
            const bool large = column >= 9 && column < 16 && row >= 5 && row < 12;
            return small || large ? mark : 500.0 + column;
        };
    };
    struct Case {
        GDALDataType type;
        double mark;
        std::optional<double> nodata;
    };
    for (const Case& c :
         {Case{GDT_Int16, -32768.0, -32768.0}, Case{GDT_Int16, 0.0, 0.0},
          Case{GDT_Float32, -9999.0, -9999.0}, Case{GDT_Float32, nan, {}},
          Case{GDT_Float32, nan, nan},
          Case{GDT_Float32, -3.4028234663852886e38, -3.4028234663852886e38},
          Case{GDT_Float32, -3.4028234663852886e38, {}}, Case{GDT_Int16, -32768.0, {}},
          Case{GDT_Float64, 1e20, 1e20}, Case{GDT_Int32, -2147483648.0, -2147483648.0}}) {
        INFO(GDALGetDataTypeName(c.type) << " " << c.mark << " " << c.nodata.value_or(-1));
        RasterRecipe recipe;
        recipe.type = c.type;
        recipe.height = with_void(c.mark);
        recipe.nodata = c.nodata;
        HeightSummary summary;
        const HeightGrid grid = load({write_raster(folder / "a.tif", recipe)}, {}, &summary);
        CHECK(summary.void_cells == 50);
        CHECK(summary.voids == 2);
        CHECK(summary.largest_void_cells == 49);
        CHECK(summary.filled_cells == 1);
        CHECK(grid.at(4, 4) == Approx(504.0).margin(0.01));
        CHECK(std::isnan(grid.at(12, 8)));
        CHECK(summary.lowest_m == 500.0);
        CHECK(summary.highest_m == 519.0);
        std::filesystem::remove(folder / "a.tif");
    }
}

TEST_CASE("a mask band marks voids, and real zeros are heights") {
    const TemporaryFolder folder;
    RasterRecipe recipe;
    recipe.height = [](int column, int) { return column < 10 ? 0.0 : 5.0; };
    const std::string file = write_raster(folder / "a.tif", recipe);
    {
        const GDALDatasetUniquePtr dataset(GDALDataset::Open(file.c_str(), GDAL_OF_UPDATE));
        REQUIRE(dataset->CreateMaskBand(GMF_PER_DATASET) == CE_None);
        std::vector<std::uint8_t> mask(20 * 15, 255);
        mask[5 * 20 + 5] = 0;
        REQUIRE(dataset->GetRasterBand(1)->GetMaskBand()->RasterIO(GF_Write, 0, 0, 20, 15,
                                                                   mask.data(), 20, 15, GDT_Byte, 0,
                                                                   0, nullptr) == CE_None);
    }
    HeightSummary summary;
    OpenOptions options;
    options.fill_void_cells = 0;
    const HeightGrid grid = load({file}, options, &summary);
    CHECK(summary.void_cells == 1);
    CHECK(std::isnan(grid.at(5, 5)));
    CHECK(grid.at(6, 5) == 0.0F);
}

TEST_CASE("a raster of nothing but voids has no lowest height") {
    const TemporaryFolder folder;
    RasterRecipe recipe;
    recipe.height = [](int, int) { return -32768.0; };
    recipe.nodata = -32768.0;
    HeightSummary summary;
    load({write_raster(folder / "a.tif", recipe)}, {}, &summary);
    CHECK(summary.void_cells == 300);
    CHECK(std::isnan(summary.lowest_m));
    CHECK(std::isnan(summary.mean_m));
}

TEST_CASE("tiles are joined, from a list, a folder or a VRT") {
    const TemporaryFolder folder;
    std::filesystem::create_directory(folder / "tiles");
    const auto tile = [&](const std::string& name, int east, int south) {
        RasterRecipe recipe;
        recipe.transform =
            std::array{10.0 + 0.01 * east, 0.01, 0.0, 47.0 - 0.01 * south, 0.0, -0.01};
        recipe.height = [=](int column, int row) {
            return 1.0 + (column + east) + 100.0 * (row + south);
        };
        return write_raster(folder / ("tiles/" + name), recipe);
    };
    // The second overlaps the first by one column, as tiles of point samples do; the third leaves
    // a corner of the whole without data.
    const std::string a = tile("a.tif", 0, 0);
    const std::string b = tile("b.tif", 19, 0);
    const std::string c = tile("c.tif", 0, 15);
    write_text(folder / "tiles/readme.txt", "not a raster");
    write_text(folder / "tiles/a.tif.aux.xml", "<PAMDataset/>");
    std::filesystem::create_directory(folder / "tiles/deeper");
    std::filesystem::copy_file(a, folder / "tiles/deeper/d.tif");
    // A picture without a place on the earth lies beside the tiles.
    RasterRecipe picture;
    picture.crs.clear();
    picture.transform.reset();
    write_raster(folder / "tiles/preview.tif", picture);

    const auto check = [](const HeightGrid& grid) {
        REQUIRE(grid.columns == 39);
        REQUIRE(grid.rows == 30);
        for (const auto& [column, row] : {std::pair{0, 0}, {38, 14}, {19, 3}, {5, 29}, {0, 15}}) {
            CHECK(grid.at(column, row) == 1.0F + static_cast<float>(column + 100 * row));
        }
        CHECK(std::isnan(grid.at(30, 20)));
        CHECK(grid.georeference.x0() == Approx(10.005));
        CHECK(grid.georeference.y0() == Approx(46.995));
    };
    check(load({a, b, c}));
    check(load({c, b, a}));
    const TerrainSource source = TerrainSource::open({folder / "tiles"});
    CHECK(source.info().files.size() == 3);
    check(source.load_all());

    REQUIRE(std::system(("gdalbuildvrt -q -vrtnodata -32768 '" + (folder / "all.vrt").string() +
                         "' '" + a + "' '" + b + "' '" + c + "'")
                            .c_str()) == 0);
    check(load({folder / "all.vrt"}));
}

TEST_CASE("where tiles overlap, a void in one takes the height of the other") {
    const TemporaryFolder folder;
    RasterRecipe first;
    first.nodata = -1.0;
    first.height = [](int column, int) { return column == 10 ? -1.0 : 5.0; };
    RasterRecipe second;
    second.height = [](int, int) { return 8.0; };
    const HeightGrid grid =
        load({write_raster(folder / "a.tif", first), write_raster(folder / "b.tif", second)});
    CHECK(grid.at(9, 7) == 5.0F);
    CHECK(grid.at(10, 7) == 8.0F);
}

TEST_CASE("tiles of different units and types are joined in metres") {
    const TemporaryFolder folder;
    RasterRecipe metres;
    metres.height = [](int, int) { return 100.0; };
    RasterRecipe feet = metres;
    feet.type = GDT_Float32;
    feet.unit = "ft";
    feet.transform = std::array{10.2, 0.01, 0.0, 47.0, 0.0, -0.01};
    const TerrainSource source = TerrainSource::open(
        {write_raster(folder / "m.tif", metres), write_raster(folder / "ft.tif", feet)});
    const HeightGrid grid = source.load_all();
    CHECK(grid.at(5, 5) == 100.0F);
    CHECK(grid.at(25, 5) == Approx(30.48F));
    CHECK(source.info().height_unit == "metre, foot");
    CHECK(source.info().sample_type == "Int16, Float32");
}

TEST_CASE("tiles on both sides of the 180 degree meridian lie side by side") {
    const TemporaryFolder folder;
    const auto tile = [&](const std::string& name, double west, int first_column) {
        RasterRecipe recipe;
        recipe.columns = 100;
        recipe.rows = 100;
        recipe.transform = std::array{west, 0.01, 0.0, -16.0, 0.0, -0.01};
        recipe.height = [=](int column, int) { return 1.0 + first_column + column; };
        return write_raster(folder / name, recipe);
    };
    const std::string west = tile("w.tif", 179.0, 0);
    const std::string east = tile("e.tif", -180.0, 100);
    for (const auto& inputs : {std::vector<std::filesystem::path>{west, east}, {east, west}}) {
        const TerrainSource source = TerrainSource::open(inputs);
        CHECK(source.info().columns == 200);
        CHECK(source.info().north_west.lon_deg == Approx(179.0));
        CHECK(source.info().south_east.lon_deg == Approx(-179.0));
        const HeightGrid grid = source.load_around({-16.5, 179.999}, 5000.0);
        CHECK(grid.columns < 20);
        CHECK(grid.sample(geo::LatLon{-16.5, 179.985}) == Approx(99.0).margin(1e-3));
        CHECK(grid.sample(geo::LatLon{-16.5, -180.0}) == Approx(100.5).margin(1e-3));
        CHECK(grid.sample(geo::LatLon{-16.5, -179.985}) == Approx(102.0).margin(1e-3));
    }
}

TEST_CASE("a raster whose longitudes run past 180 is read on both sides") {
    const TemporaryFolder folder;
    RasterRecipe recipe;
    recipe.columns = 100;
    recipe.rows = 100;
    recipe.height = [](int column, int) { return 1.0 + column; };
    // The same ground, written with longitudes past 180 and below -180.
    for (const double west : {179.5, -180.5}) {
        recipe.transform = std::array{west, 0.01, 0.0, -16.0, 0.0, -0.01};
        const HeightGrid grid = TerrainSource::open({write_raster(folder / "a.tif", recipe)})
                                    .load_around({-16.5, -179.99}, 8000.0);
        CHECK(grid.sample(geo::LatLon{-16.5, -179.995}) == Approx(51.0).margin(1e-3));
        CHECK(grid.sample(geo::LatLon{-16.5, 179.995}) == Approx(50.0).margin(1e-3));
    }
    // 0 to 360 degrees, a site west of Greenwich.
    recipe.columns = 360;
    recipe.rows = 180;
    recipe.transform = std::array{0.0, 1.0, 0.0, 90.0, 0.0, -1.0};
    const HeightGrid grid = TerrainSource::open({write_raster(folder / "g.tif", recipe)})
                                .load_around({10.0, -84.5}, 300e3);
    CHECK(grid.sample(geo::LatLon{10.0, -84.5}) == Approx(276.0).margin(1e-3));
}

TEST_CASE("a raster of the whole globe is read across its own seam") {
    const TemporaryFolder folder;
    RasterRecipe recipe;
    recipe.columns = 360;
    recipe.rows = 180;
    recipe.transform = std::array{-180.0, 1.0, 0.0, 90.0, 0.0, -1.0};
    recipe.height = [](int column, int) { return 1.0 + column; };
    const TerrainSource source = TerrainSource::open({write_raster(folder / "a.tif", recipe)});
    const HeightGrid grid = source.load_around({0.5, 179.9}, 300e3);
    CHECK(grid.columns < 12);
    CHECK(grid.sample(geo::LatLon{0.5, 178.5}) == Approx(359.0).margin(1e-3));
    CHECK(grid.sample(geo::LatLon{0.5, -178.5}) == Approx(2.0).margin(1e-3));
    const HeightGrid polar = source.load_around({89.0, 10.0}, 300e3);
    CHECK(polar.columns == 360);
    CHECK(polar.sample(geo::LatLon{89.2, -170.0}) == Approx(10.5).margin(1e-3));
}

TEST_CASE("only the window around a site is read, and it holds the whole circle") {
    const std::string file =
        std::string(EARSHOT_SOURCE_DIR) + "/dem-samples/cumberland_3arcsec.tif";
    const TerrainSource source = TerrainSource::open({file});
    const HeightGrid all = source.load_all();
    const geo::LatLon site{36.58, -84.25};
    const HeightGrid window = source.load_around(site, 5000.0);
    // 10 km are about 134 columns of 74.5 m and 108 rows of 92.5 m.
    CHECK(window.columns >= 136);
    CHECK(window.columns <= 140);
    CHECK(window.rows >= 110);
    CHECK(window.rows <= 114);
    for (double bearing = 0.0; bearing < 360.0; bearing += 0.25) {
        double lat = 0.0;
        double lon = 0.0;
        GeographicLib::Geodesic::WGS84().Direct(site.lat_deg, site.lon_deg, bearing, 5000.0, lat,
                                                lon);
        const double height = window.sample(geo::LatLon{lat, lon});
        CHECK(height == Approx(all.sample(geo::LatLon{lat, lon})).margin(1e-3));
    }
    // Clipped at the edge, and refused beyond it.
    const HeightGrid corner = source.load_around({36.73, -84.41}, 5000.0);
    CHECK(corner.columns < 75);
    CHECK(corner.georeference.x0() == source.georeference().x0());
    CHECK_THAT(message_of(Fault::input,
                          [&] {
                              (void)source.load_around({40.0, -84.2}, 5e3);
                          }),
               Catch::Contains("no elevation within"));
}

TEST_CASE("heights on a projected grid are found by position") {
    const TemporaryFolder folder;
    const HeightGrid grid = load({write_raster(
        folder / "a.tif", plane_recipe({500000.0, 30.0, 0.0, 5200000.0, 0.0, -30.0}))});
    // UTM 33N, 500 km E is the meridian 15 E; 900 m east and 600 m south of the corner.
    const geo::LatLon position = grid.georeference.position_of({29.5, 19.5});
    CHECK(position.lon_deg > 15.0);
    CHECK(grid.sample(position) == Approx(plane(500900.0, 5199400.0)).margin(1e-3));
}

TEST_CASE("rotated and south-up rasters are brought north-up") {
    const TemporaryFolder folder;
    const double side = 30.0;
    const double c = side * std::cos(0.35);
    const double s = side * std::sin(0.35);
    const HeightGrid rotated =
        load({write_raster(folder / "r.tif", plane_recipe({500000.0, c, s, 5200000.0, s, -c}))});
    // The middle of the rotated rectangle, about 1.8 x 1.5 km.
    const double x = 500000.0 + 30 * c + 25 * s;
    const double y = 5200000.0 + 30 * s - 25 * c;
    CHECK(worst_off_plane(rotated, x - 450, y - 450, x + 450, y + 450) < 0.02);
    CHECK(std::isnan(rotated.at(0, 0)));

    const HeightGrid south_up = load({write_raster(
        folder / "s.tif", plane_recipe({500000.0, 30.0, 0.0, 5198500.0, 0.0, 30.0}))});
    CHECK(south_up.columns == 60);
    CHECK(south_up.rows == 50);
    CHECK(worst_off_plane(south_up, 500000, 5198500, 501800, 5200000) < 1e-3);
}

TEST_CASE("a tile of another cell size or reference system is brought to the first") {
    const TemporaryFolder folder;
    const std::string first =
        write_raster(folder / "a.tif", plane_recipe({500000.0, 30.0, 0.0, 5200000.0, 0.0, -30.0}));
    // To the east, with cells of 20 m that do not line up.
    const std::string finer =
        write_raster(folder / "b.tif", plane_recipe({501790.0, 20.0, 0.0, 5200007.0, 0.0, -20.0}));
    const HeightGrid joined = load({first, finer});
    CHECK(joined.georeference.dx() == 30.0);
    CHECK(worst_off_plane(joined, 500000, 5198500, 501800, 5200000) < 1e-3);
    CHECK(worst_off_plane(joined, 501840, 5199040, 502940, 5199960) < 0.05);

    // To the north, in degrees: heights are the plane's at each cell's UTM coordinates.
    const Georeference utm("EPSG:32633", 0.0, 0.0, 1.0, -1.0);
    RasterRecipe degrees;
    degrees.columns = 120;
    degrees.rows = 120;
    degrees.type = GDT_Float32;
    degrees.scale = 0.5;
    degrees.nodata = -9999.0;
    const geo::LatLon corner = utm.position_of({500000.0, -5202500.0});
    const double step = 0.0003;
    degrees.transform = std::array{corner.lon_deg, step, 0.0, corner.lat_deg, 0.0, -step};
    degrees.height = [&](int column, int row) {
        const CellPosition at = utm.cell_of(
            {corner.lat_deg - step * (row + 0.5), corner.lon_deg + step * (column + 0.5)});
        return 2.0 * plane(at.column, -at.row);
    };
    const HeightGrid mixed = load({first, write_raster(folder / "c.tif", degrees)});
    CHECK(worst_off_plane(mixed, 500000, 5198500, 501800, 5200000) < 1e-3);
    CHECK(worst_off_plane(mixed, 500100, 5200100, 502000, 5202400) < 0.05);
}

TEST_CASE("inputs that cannot be used are refused in one line that names the file") {
    const TemporaryFolder folder;
    const auto refused = [&](const std::filesystem::path& path, const std::string& reason) {
        const std::string message = open_error(path);
        INFO(message);
        CHECK_THAT(message, Catch::Contains(path.filename().string()));
        CHECK_THAT(message, Catch::Contains(reason));
        CHECK(message.find('\n') == std::string::npos);
    };
    refused(folder / "missing.tif", "no such file");
    write_text(folder / "text.tif", "hello");
    refused(folder / "text.tif", "cannot be opened");
    write_text(folder / "empty.tif", "");
    refused(folder / "empty.tif", "cannot be opened");

    RasterRecipe recipe;
    recipe.crs.clear();
    refused(write_raster(folder / "no_crs.tif", recipe), "no coordinate reference system");
    recipe = {};
    recipe.transform.reset();
    refused(write_raster(folder / "no_place.tif", recipe), "no geotransform");
    recipe = {};
    recipe.crs = "LOCAL_CS[\"shed\",UNIT[\"metre\",1]]";
    refused(write_raster(folder / "local.tif", recipe), "coordinate reference system");
    recipe = {};
    recipe.type = GDT_CFloat32;
    refused(write_raster(folder / "complex.tif", recipe), "complex");
    recipe = {};
    recipe.type = GDT_Byte;
    recipe.bands = 3;
    recipe.creation = {"PHOTOMETRIC=RGB"};
    refused(write_raster(folder / "picture.tif", recipe), "picture");

    // A container with two layers opens as a raster without bands.
    for (const char* layer : {"north", "south"}) {
        CPLStringList options;
        options.SetNameValue("RASTER_TABLE", layer);
        options.SetNameValue("APPEND_SUBDATASET", "YES");
        const GDALDatasetUniquePtr dataset(GetGDALDriverManager()->GetDriverByName("GPKG")->Create(
            (folder / "two.gpkg").c_str(), 256, 256, 1, GDT_Byte, options.List()));
        REQUIRE(dataset);
        OGRSpatialReference crs;
        crs.importFromEPSG(4326);
        dataset->SetSpatialRef(&crs);
        std::array<double, 6> transform{10.0, 0.01, 0.0, 47.0, 0.0, -0.01};
        dataset->SetGeoTransform(transform.data());
    }
    refused(folder / "two.gpkg", "several layers");

    std::filesystem::create_directory(folder / "nothing");
    write_text(folder / "nothing/readme.txt", "hello");
    refused(folder / "nothing", "no raster");
    CHECK_THAT(message_of(Fault::input, [] { TerrainSource::open({}); }),
               Catch::Contains("no elevation file"));
}

TEST_CASE("a file cut short or damaged is refused, when opened or when read") {
    const TemporaryFolder folder;
    RasterRecipe recipe;
    recipe.columns = 400;
    recipe.rows = 300;
    const std::string cut = write_raster(folder / "cut.tif", recipe);
    std::filesystem::resize_file(cut, std::filesystem::file_size(cut) / 2);
    CHECK_THAT(open_error(cut), Catch::Contains("cut.tif") && Catch::Contains("cut short"));

    // Damage in the middle shows when the middle is read.
    recipe.creation = {"COMPRESS=DEFLATE"};
    recipe.height = [](int column, int row) { return (column * 7919 + row * 104729) % 997; };
    const std::string damaged = write_raster(folder / "damaged.tif", recipe);
    {
        std::fstream file(damaged, std::ios::in | std::ios::out | std::ios::binary);
        file.seekp(static_cast<std::streamoff>(std::filesystem::file_size(damaged) / 2));
        file << std::string(3000, 'x');
    }
    const TerrainSource source = TerrainSource::open({damaged});
    CHECK_THAT(message_of(Fault::input, [&] { (void)source.load_all(); }),
               Catch::Contains("damaged.tif") && Catch::Contains("cannot be read"));

    // A VRT whose tile has gone.
    const std::string tile = write_raster(folder / "tile.tif", RasterRecipe{});
    REQUIRE(std::system(
                ("gdalbuildvrt -q '" + (folder / "v.vrt").string() + "' '" + tile + "'").c_str()) ==
            0);
    std::filesystem::remove(tile);
    CHECK_THAT(open_error(folder / "v.vrt"), Catch::Contains("v.vrt"));
}

TEST_CASE("GDAL's complaints stay off the terminal") {
    const TemporaryFolder folder;
    RasterRecipe recipe;
    recipe.columns = 400;
    recipe.rows = 300;
    const std::string cut = write_raster(folder / "cut.tif", recipe);
    std::filesystem::resize_file(cut, std::filesystem::file_size(cut) / 2);
    const std::string spilled = spilled_by(folder, [&] {
        CHECK_THROWS(TerrainSource::open({cut}));
        CHECK_THROWS(TerrainSource::open({folder / "missing.tif"}));
        CHECK_THROWS(Georeference("nonsense", 0, 0, 1, -1));
        (void)Georeference("EPSG:3857", 0, 0, 1, -1).cell_of({90.0, 0.0});
    });
    CHECK(spilled.empty());
    // The stream itself works: without our handler GDAL does print.
    CHECK_FALSE(spilled_by(folder, [] { CPLError(CE_Failure, CPLE_AppDefined, "seen"); }).empty());
}

TEST_CASE("more cells than memory holds are refused before they are asked for") {
    const TemporaryFolder folder;
    write_text(folder / "huge.vrt",
               "<VRTDataset rasterXSize=\"30000000\" rasterYSize=\"10000000\">"
               "<SRS>EPSG:32633</SRS><GeoTransform>300000,0.01,0,6000000,0,-0.01</GeoTransform>"
               "<VRTRasterBand dataType=\"Int16\" band=\"1\"/></VRTDataset>");
    const TerrainSource source = TerrainSource::open({folder / "huge.vrt"});
    const std::string message = message_of(Fault::memory, [&] { (void)source.load_all(); });
    CHECK_THAT(message, Catch::Contains("30000000 x 10000000") && Catch::Contains("1200.0 TB"));
    // A small part of it can still be read.
    const geo::LatLon middle = source.info().centre;
    CHECK(source.load_around(middle, 2.0).columns < 420);
}

TEST_CASE("loading reports its progress to the end") {
    class Counter : public Task {
    public:
        void begin(std::string_view, std::uint64_t total) override { total_ = total; }
        void advance(std::uint64_t steps) override { done_ += steps; }
        void end() override { ++ends_; }
        std::uint64_t total_ = 0;
        std::uint64_t done_ = 0;
        int ends_ = 0;
    } counter;
    const TemporaryFolder folder;
    (void)TerrainSource::open({write_raster(folder / "a.tif", RasterRecipe{})})
        .load_all(nullptr, counter);
    CHECK(counter.total_ == 300);
    CHECK(counter.done_ == 300);
    CHECK(counter.ends_ == 1);
}

} // namespace earshot::terrain
