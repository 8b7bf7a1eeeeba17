#include "earshot/base/error.hpp"
#include "earshot/terrain/ground_cover.hpp"
#include "rasters.hpp"
#include "terrain/native/gdal_errors.hpp"

#include <catch2/catch.hpp>
#include <gdal_priv.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <filesystem>
#include <fstream>
#include <string>
#include <utility>
#include <vector>

using namespace earshot;
using namespace earshot::terrain;
using namespace earshot::terrain::testing;

namespace {

// One byte per cell of one degree, rows of the given width; the corner is the outer one.
RasterRecipe degree_cells(double west, double north, int columns, std::vector<int> codes) {
    RasterRecipe recipe;
    recipe.columns = columns;
    recipe.rows = static_cast<int>(codes.size()) / columns;
    recipe.type = GDT_Byte;
    recipe.transform = std::array{west, 1.0, 0.0, north, 0.0, -1.0};
    recipe.height = [columns, codes = std::move(codes)](int column, int row) {
        return codes[static_cast<std::size_t>(row) * static_cast<std::size_t>(columns) +
                     static_cast<std::size_t>(column)];
    };
    return recipe;
}

std::filesystem::path write_text(const std::filesystem::path& file, const std::string& text) {
    std::ofstream(file) << text;
    return file;
}

GroundCover load(const std::vector<std::filesystem::path>& files, const CoverTable& table,
                 const Georeference& grid, int columns, int rows) {
    return GroundCover::load(files, table, grid, columns, rows);
}

std::string table_error(const TemporaryFolder& folder, const std::string& text) {
    const std::filesystem::path file = write_text(folder / "table.csv", text);
    return message_of(Fault::input, [&] { static_cast<void>(CoverTable::read(file)); });
}

// Cells of one degree, the centre of the first at 10.5 E, 52.5 N.
Georeference degrees() {
    return {"EPSG:4326", 10.5, 52.5, 1.0, -1.0};
}

/// The class of a table with this code; null if there is none.
const CoverClass* class_in(const CoverTable& table, int code) {
    const auto found = std::find_if(table.classes().begin(), table.classes().end(),
                                    [=](const CoverClass& known) { return known.code == code; });
    return found == table.classes().end() ? nullptr : &*found;
}

} // namespace

TEST_CASE("cover tables: heights of ITU-R P.1812-8 table 2") {
    CHECK(default_height_m(Clutter::water) == 0.0);
    CHECK(default_height_m(Clutter::open) == 0.0);
    CHECK(default_height_m(Clutter::suburban) == 10.0);
    CHECK(default_height_m(Clutter::urban_or_trees) == 15.0);
    CHECK(default_height_m(Clutter::dense_urban) == 20.0);
}

TEST_CASE("cover tables: codes of the publishers") {
    // ESA WorldCover product user manual v2.0, class codes.
    const CoverTable& esa = CoverTable::worldcover();
    CHECK(esa.classes().size() == 11);
    for (const int code : {10, 20, 30, 40, 50, 60, 70, 80, 90, 95, 100}) {
        REQUIRE(class_in(esa, code) != nullptr);
        CHECK(class_in(esa, code)->code == code);
        CHECK(class_in(esa, code)->woodland == (code == 10 || code == 95));
    }
    CHECK(class_in(esa, 0) == nullptr);
    CHECK(class_in(esa, 11) == nullptr);
    CHECK(class_in(esa, 101) == nullptr);
    // MRLC legend of the National Land Cover Database.
    const CoverTable& nlcd = CoverTable::nlcd();
    CHECK(nlcd.classes().size() == 20);
    for (const int code :
         {11, 12, 21, 22, 23, 24, 31, 41, 42, 43, 51, 52, 71, 72, 73, 74, 81, 82, 90, 95}) {
        REQUIRE(class_in(nlcd, code) != nullptr);
        CHECK(class_in(nlcd, code)->woodland == ((code >= 41 && code <= 43) || code == 90));
    }
    CHECK(class_in(nlcd, 42)->height_m == 15.0);
    CHECK(class_in(nlcd, 11)->clutter == Clutter::water);
    CHECK(CoverTable::named("nlcd").name() == nlcd.name());
    CHECK(CoverTable::named("worldcover").name() == esa.name());
}

TEST_CASE("cover tables: a file of one's own") {
    const TemporaryFolder folder;
    const CoverTable table = CoverTable::read(
        write_text(folder / "table.csv", "\xEF\xBB\xBF# my forest\r\n"
                                         "name, code ,height_m,clutter,woodland,remark\r\n"
                                         "\"Spruce, \"\"old\"\"\",7,32.5,urban-or-trees,yes,\r\n"
                                         "\r\n"
                                         "Village,-3,,suburban,no,\"a, b\"\r\n"));
    REQUIRE(table.classes().size() == 2);
    CHECK(*class_in(table, 7) ==
          CoverClass{7, "Spruce, \"old\"", Clutter::urban_or_trees, 32.5, true});
    CHECK(*class_in(table, -3) == CoverClass{-3, "Village", Clutter::suburban, 10.0, false});
}

TEST_CASE("cover tables: faults name the file, the line and the column") {
    const TemporaryFolder folder;
    const std::string header = "code,name,clutter,height_m,woodland\n";
    using Catch::Contains;
    CHECK_THAT(table_error(folder, "code,name,clutter,woodland\n"),
               Contains("table.csv, line 1") && Contains("'height_m'"));
    CHECK_THAT(table_error(folder, header + "1,a,open,0\n"), Contains("line 2: 4 values"));
    CHECK_THAT(table_error(folder, header + "1.5,a,open,0,no\n"), Contains("code '1.5'"));
    CHECK_THAT(table_error(folder, header + "1,a,meadow,0,no\n"), Contains("clutter 'meadow'"));
    CHECK_THAT(table_error(folder, header + "1,a,open,tall,no\n"), Contains("height_m 'tall'"));
    CHECK_THAT(table_error(folder, header + "1,a,open,0,maybe\n"), Contains("woodland is 'maybe'"));
    CHECK_THAT(table_error(folder, header + "1,\"a,open,0,no\n"), Contains("double quote"));
    CHECK_THAT(table_error(folder, header + "1,\"a\"b,open,0,no\n"), Contains("double quote"));
    CHECK_THAT(table_error(folder, header + "1,a,open,0,no\n1,b,open,0,no\n"),
               Contains("code 1 stands twice"));
    CHECK_THAT(table_error(folder, header + "1,a,open,151,no\n"), Contains("151 m high"));
    CHECK_THAT(table_error(folder, header + "1,a,open,nan,no\n"), Contains("nan m high"));
    for (const std::string height : {"0", "101"}) {
        CHECK_THAT(table_error(folder, header + "1,a,urban-or-trees," + height + ",yes\n"),
                   Contains("a wood " + height + " m high") && Contains("no height for 15 m"));
    }
    CHECK_THAT(table_error(folder, header), Contains("0 cover classes"));
    CHECK_THAT(
        message_of(Fault::input, [&] { static_cast<void>(CoverTable::named("absent.csv")); }),
        Contains("absent.csv") && Contains("worldcover"));
}

TEST_CASE("ground cover: one class for all ground") {
    const GroundCover cover =
        GroundCover::uniform({0, "pine", Clutter::urban_or_trees, 22.0, true});
    CHECK(cover.height_m({-5.0, 1e6}) == 22.0);
    CHECK(cover.woodland({NAN, 0.0}));
    CHECK(cover.unclassified_cells() == 0);
    CHECK_THAT(
        message_of(Fault::input,
                   [] {
                       static_cast<void>(
                           GroundCover::uniform({0, "pine", Clutter::urban_or_trees, 0.0, true}));
                   }),
        Catch::Matchers::Contains("cover_height_m") && Catch::Matchers::Contains("0 m high"));
}

TEST_CASE("ground cover: the nearest cell, and open ground outside") {
    const TemporaryFolder folder;
    const auto file =
        write_raster(folder / "cover.tif", degree_cells(10.0, 53.0, 3, {10, 30, 50, 80, 10, 95}));
    const GroundCover cover = load({file}, CoverTable::worldcover(), degrees(), 3, 2);
    CHECK(cover.columns() == 3);
    CHECK(cover.rows() == 2);
    CHECK(cover.unclassified_cells() == 0);
    CHECK(cover.at({0.0, 0.0}).code == 10);
    CHECK(cover.at({0.49, 0.49}).code == 10);
    CHECK(cover.at({0.51, 0.49}).code == 30);
    CHECK(cover.at({0.49, 0.51}).code == 80);
    CHECK(cover.at({2.49, 1.49}).code == 95);
    CHECK(cover.at({-0.49, -0.49}).code == 10);
    CHECK(cover.height_m({1.0, 1.0}) == 15.0);
    CHECK(cover.woodland({1.0, 1.0}));
    CHECK(cover.height_m({2.0, 0.0}) == 10.0);
    CHECK_FALSE(cover.woodland({2.0, 0.0}));
    for (const CellPosition outside :
         {CellPosition{-0.51, 0.0}, CellPosition{2.5, 0.0}, CellPosition{0.0, -0.51},
          CellPosition{0.0, 1.5}, CellPosition{NAN, 0.0}, CellPosition{0.0, NAN}}) {
        CHECK(cover.height_m(outside) == 0.0);
        CHECK_FALSE(cover.woodland(outside));
    }
}

TEST_CASE("ground cover: finer cells in another CRS, by the class at the cell's centre") {
    // 10 m cells in UTM zone 32 N, class by the parity of 100 m squares, onto 100 m cells shifted
    // by 20 m: each centre lies 30 m inside a square.
    const TemporaryFolder folder;
    RasterRecipe recipe;
    recipe.columns = recipe.rows = 60;
    recipe.type = GDT_Byte;
    recipe.crs = "EPSG:32632";
    recipe.transform = std::array{500000.0, 10.0, 0.0, 5500000.0, 0.0, -10.0};
    recipe.height = [](int column, int row) { return (row / 10 + column / 10) % 2 == 0 ? 10 : 30; };
    const auto file = write_raster(folder / "fine.tif", recipe);
    const Georeference grid("EPSG:32632", 500030.0, 5499970.0, 100.0, -100.0);
    const GroundCover cover = load({file}, CoverTable::worldcover(), grid, 5, 5);
    for (int row = 0; row < 5; ++row) {
        for (int column = 0; column < 5; ++column) {
            const CellPosition cell{static_cast<double>(column), static_cast<double>(row)};
            CHECK(cover.woodland(cell) == ((row + column) % 2 == 0));
        }
    }
    // The same ground on a grid in degrees: each centre's class is that of its UTM square.
    const geo::LatLon corner = grid.position_of({0.5, 0.5});
    const Georeference geographic("EPSG:4326", corner.lon_deg, corner.lat_deg, 0.0005, -0.0004);
    const GroundCover warped = load({file}, CoverTable::worldcover(), geographic, 8, 8);
    int woods = 0;
    for (int row = 0; row < 8; ++row) {
        for (int column = 0; column < 8; ++column) {
            const CellPosition cell{static_cast<double>(column), static_cast<double>(row)};
            const CellPosition square = grid.cell_of(geographic.position_of(cell));
            // From cell centres of the 100 m grid to squares from the raster's corner.
            const int x = static_cast<int>(std::floor((square.column * 100.0 + 30.0) / 100.0));
            const int y = static_cast<int>(std::floor((square.row * 100.0 + 30.0) / 100.0));
            CHECK(warped.woodland(cell) == ((x + y) % 2 == 0));
            woods += warped.woodland(cell) ? 1 : 0;
        }
    }
    CHECK(woods > 16);
    CHECK(woods < 48);
}

TEST_CASE("ground cover: overviews, which mix classes, are not read") {
    // Every fourth column of 10 m cells is woods; cells of 40 m have their centres in these. The
    // average of four columns is 25, which is no class.
    const TemporaryFolder folder;
    RasterRecipe recipe;
    recipe.columns = recipe.rows = 64;
    recipe.type = GDT_Byte;
    recipe.crs = "EPSG:32632";
    recipe.transform = std::array{500000.0, 10.0, 0.0, 5500000.0, 0.0, -10.0};
    recipe.height = [](int column, int) { return column % 4 == 1 ? 10 : 30; };
    const std::string file = write_raster(folder / "striped.tif", recipe);
    {
        const GdalErrors errors;
        const GDALDatasetUniquePtr dataset(
            GDALDataset::Open(file.c_str(), GDAL_OF_RASTER | GDAL_OF_UPDATE));
        std::array<int, 2> levels{2, 4};
        REQUIRE(dataset->BuildOverviews("AVERAGE", 2, levels.data(), 0, nullptr, nullptr,
                                        nullptr) == CE_None);
    }
    const Georeference grid("EPSG:32632", 500015.0, 5499985.0, 40.0, -40.0);
    const GroundCover cover = load({file}, CoverTable::worldcover(), grid, 15, 15);
    for (int column = 0; column < 15; ++column) {
        CHECK(cover.woodland({static_cast<double>(column), 7.0}));
    }
}

TEST_CASE("ground cover: what has no class is open ground and is counted") {
    const TemporaryFolder folder;
    // One cell without data, one that holds an undeclared 0, one column past the raster.
    RasterRecipe recipe = degree_cells(10.0, 53.0, 2, {10, 255, 0, 10});
    recipe.nodata = 255.0;
    const auto file = write_raster(folder / "part.tif", recipe);
    const GroundCover cover = load({file}, CoverTable::worldcover(), degrees(), 3, 2);
    CHECK(cover.unclassified_cells() == 4);
    CHECK(cover.height_m({0.0, 0.0}) == 15.0);
    CHECK(cover.height_m({1.0, 0.0}) == 0.0);
    CHECK(cover.height_m({0.0, 1.0}) == 0.0);
    CHECK(cover.height_m({2.0, 0.0}) == 0.0);

    // A second file fills what the first left open, and only that.
    const auto second =
        write_raster(folder / "second.tif", degree_cells(11.0, 53.0, 2, {50, 50, 50, 50}));
    const GroundCover both = load({file, second}, CoverTable::worldcover(), degrees(), 3, 2);
    CHECK(both.unclassified_cells() == 1);
    CHECK(both.at({1.0, 0.0}).code == 50);
    CHECK(both.at({1.0, 1.0}).code == 10);
    CHECK(both.at({2.0, 1.0}).code == 50);
}

TEST_CASE("ground cover: across the 180 degree meridian") {
    const TemporaryFolder folder;
    const auto west = write_raster(folder / "west.tif", degree_cells(178.0, 53.0, 2, {10, 30}));
    const auto east = write_raster(folder / "east.tif", degree_cells(-180.0, 53.0, 2, {50, 80}));
    const Georeference to_the_east("EPSG:4326", 178.5, 52.5, 1.0, -1.0);
    const Georeference to_the_west("EPSG:4326", -181.5, 52.5, 1.0, -1.0);
    for (const Georeference& grid : {to_the_east, to_the_west}) {
        const GroundCover cover = load({west, east}, CoverTable::worldcover(), grid, 4, 1);
        CHECK(cover.unclassified_cells() == 0);
        CHECK(cover.at({0.0, 0.0}).code == 10);
        CHECK(cover.at({1.0, 0.0}).code == 30);
        CHECK(cover.at({2.0, 0.0}).code == 50);
        CHECK(cover.at({3.0, 0.0}).code == 80);
    }
}

TEST_CASE("ground cover: faults of the raster") {
    const TemporaryFolder folder;
    using Catch::Contains;
    const CoverTable& table = CoverTable::worldcover();
    const auto error_of = [&](const std::filesystem::path& file) {
        return message_of(Fault::input,
                          [&] { static_cast<void>(load({file}, table, degrees(), 1, 1)); });
    };
    const RasterRecipe good = degree_cells(10.0, 53.0, 1, {10});
    CHECK(load({write_raster(folder / "good.tif", good)}, table, degrees(), 1, 1).woodland({}));

    CHECK_THAT(error_of(write_raster(folder / "unknown.tif", degree_cells(10.0, 53.0, 1, {37}))),
               Contains("unknown.tif: class 37 near 52.5") && Contains("'ESA WorldCover'"));
    RasterRecipe recipe = good;
    recipe.type = GDT_Float32;
    CHECK_THAT(error_of(write_raster(folder / "float.tif", recipe)),
               Contains("float.tif") && Contains("Float32"));
    recipe = good;
    recipe.bands = 3;
    CHECK_THAT(error_of(write_raster(folder / "picture.tif", recipe)),
               Contains("picture.tif: 3 bands"));
    recipe = good;
    recipe.crs = "";
    CHECK_THAT(error_of(write_raster(folder / "nowhere.tif", recipe)),
               Contains("nowhere.tif: no coordinate reference system"));
    CHECK_THAT(error_of(write_raster(folder / "far.tif", degree_cells(60.0, 53.0, 1, {10}))),
               Contains("far.tif: no ground cover anywhere"));
    CHECK_THAT(error_of(folder / "absent.tif"), Contains("absent.tif: cannot be opened"));
    CHECK_THAT(error_of(write_text(folder / "text.tif", "not a raster")),
               Contains("text.tif: cannot be opened"));
}
