#pragma once

#include "support.hpp"

#include <catch2/catch.hpp>
#include <gdal_priv.h>
#include <ogr_spatialref.h>

#include <array>
#include <cstddef>
#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace earshot::terrain::testing {

using earshot::testing::message_of;
using earshot::testing::TemporaryFolder;

/// A raster to be written by GDAL; heights come from a function of column and row.
struct RasterRecipe {
    int columns = 20;
    int rows = 15;
    int bands = 1;
    GDALDataType type = GDT_Int16;
    std::string crs = "EPSG:4326";
    std::optional<std::array<double, 6>> transform = std::array{10.0, 0.01, 0.0, 47.0, 0.0, -0.01};
    std::function<double(int, int)> height = [](int column, int row) {
        return 100.0 + 3.0 * column + 7.0 * row + (column * row) % 5;
    };
    std::optional<double> nodata;
    std::optional<double> scale;
    std::optional<double> offset;
    std::string unit;
    bool point = false;
    std::vector<std::string> creation; ///< options of the GeoTIFF writer
};

inline std::string write_raster(const std::filesystem::path& path, const RasterRecipe& recipe) {
    GDALAllRegister();
    CPLStringList options;
    for (const std::string& option : recipe.creation) {
        options.AddString(option.c_str());
    }
    GDALDriver* driver = GetGDALDriverManager()->GetDriverByName("GTiff");
    GDALDatasetUniquePtr dataset(driver->Create(path.c_str(), recipe.columns, recipe.rows,
                                                recipe.bands, recipe.type, options.List()));
    REQUIRE(dataset);
    if (recipe.point) {
        dataset->SetMetadataItem(GDALMD_AREA_OR_POINT, GDALMD_AOP_POINT);
    }
    if (!recipe.crs.empty()) {
        OGRSpatialReference crs;
        REQUIRE(crs.SetFromUserInput(recipe.crs.c_str()) == OGRERR_NONE);
        crs.SetAxisMappingStrategy(OAMS_TRADITIONAL_GIS_ORDER);
        dataset->SetSpatialRef(&crs);
    }
    if (recipe.transform) {
        std::array<double, 6> transform = *recipe.transform;
        dataset->SetGeoTransform(transform.data());
    }
    GDALRasterBand* band = dataset->GetRasterBand(1);
    if (recipe.nodata) {
        band->SetNoDataValue(*recipe.nodata);
    }
    if (recipe.scale) {
        band->SetScale(*recipe.scale);
    }
    if (recipe.offset) {
        band->SetOffset(*recipe.offset);
    }
    if (!recipe.unit.empty()) {
        band->SetUnitType(recipe.unit.c_str());
    }
    std::vector<double> line(static_cast<std::size_t>(recipe.columns));
    for (int row = 0; row < recipe.rows; ++row) {
        for (int column = 0; column < recipe.columns; ++column) {
            line[static_cast<std::size_t>(column)] = recipe.height(column, row);
        }
        REQUIRE(band->RasterIO(GF_Write, 0, row, recipe.columns, 1, line.data(), recipe.columns, 1,
                               GDT_Float64, 0, 0, nullptr) == CE_None);
    }
    return path.string();
}

} // namespace earshot::terrain::testing
