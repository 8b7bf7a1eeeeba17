#pragma once

#include "base/output_file.hpp"
#include "earshot/base/task.hpp"
#include "earshot/coverage/raster.hpp"
#include "earshot/terrain/georeference.hpp"

#include <cpl_string.h>
#include <gdal_priv.h>
#include <ogr_spatialref.h>

#include <array>
#include <string>

/// A raster's place on the earth, and files in memory, as GDAL has them.

namespace earshot::report {

/// The CRS with its axes in the order of raster files: x east, y north.
[[nodiscard]] OGRSpatialReference spatial_reference(const terrain::Georeference& georeference);

/// GDAL's six numbers: the outer corner of cell (0, 0), and the steps.
[[nodiscard]] std::array<double, 6> geo_transform(const terrain::Georeference& georeference);

/// A map's readability classes, one byte for each cell, with the legend's colours: 0 (nodata) where
/// no words get through or nothing is known. In memory.
[[nodiscard]] GDALDatasetUniquePtr class_dataset(const coverage::CoverageRaster& map);

/// The GDAL driver of that name. Throws Error(Fault::output) if this GDAL is without it.
[[nodiscard]] GDALDriver& gdal_driver(const char* name);

/// Writes a cloud-optimised GeoTIFF to the temporary name of `output`, which stays uncommitted.
/// Throws Error(Fault::output) and Error(Fault::stopped).
void write_cog(const OutputFile& output, GDALDataset& source, const CPLStringList& options,
               Task& task);

/// A name for a file in GDAL's memory that no other has, removed at the end.
class MemoryFile {
public:
    explicit MemoryFile(const std::string& extension);
    ~MemoryFile();
    MemoryFile(const MemoryFile&) = delete;
    MemoryFile& operator=(const MemoryFile&) = delete;

    [[nodiscard]] const std::string& path() const { return path_; }
    [[nodiscard]] std::string content() const;

private:
    std::string path_;
};

} // namespace earshot::report
