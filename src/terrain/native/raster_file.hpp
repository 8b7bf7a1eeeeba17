#pragma once

#include "earshot/terrain/terrain_source.hpp"

#include <gdal_priv.h>
#include <ogr_spatialref.h>

#include <array>
#include <filesystem>
#include <string>
#include <vector>

namespace earshot::terrain {

/// GDAL's affine transform from (column, row), counted from the outer corner of the first cell, to
/// CRS coordinates.
using GeoTransform = std::array<double, 6>;

/// One raster of heights as its file describes it.
struct RasterFile {
    std::string path;
    OGRSpatialReference crs; ///< horizontal, x before y
    GeoTransform transform{};
    int columns = 0;
    int rows = 0;
    double scale_m = 1.0; ///< height in metres = stored value * scale_m + offset_m
    double offset_m = 0.0;
    std::string sample_type;
    std::string height_unit;
    std::string height_unit_source;
    std::string pixel_meaning;
    std::string vertical_datum;
    GroundKind ground_kind = GroundKind::not_told;
};

/// Opens a raster for reading. Throws Error(Fault::input).
[[nodiscard]] GDALDatasetUniquePtr open_dataset(const std::string& path);

/// Reads what a file says about itself and checks that it holds heights with a place on the earth,
/// down to its last cell. Throws Error(Fault::input).
[[nodiscard]] RasterFile describe(const std::string& path, const OpenOptions& options);

/// The rasters named by the inputs: files as they are, folders as the rasters directly in them, in
/// order of name. Throws Error(Fault::input) if there is none.
[[nodiscard]] std::vector<std::string>
list_rasters(const std::vector<std::filesystem::path>& inputs);

/// The cells of a north-up raster, in the units of its system.
struct CellFrame {
    const std::string& wkt;
    double west; ///< outer corner of the first cell
    double north;
    double dx; ///< > 0
    double dy; ///< < 0
    int columns;
    int rows;
};

/// A raster as seen on other cells, resampled by GDAL's warper as it is read. `how` are options of
/// gdalwarp that say the way. Null if GDAL knows none.
[[nodiscard]] GDALDatasetUniquePtr warped(GDALDatasetUniquePtr dataset, const CellFrame& frame,
                                          const std::vector<std::string>& how);

} // namespace earshot::terrain
