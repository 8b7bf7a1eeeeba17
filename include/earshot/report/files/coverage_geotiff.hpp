#pragma once

#include "earshot/base/task.hpp"
#include "earshot/coverage/raster.hpp"

#include <filesystem>

/// Maps as files. The promise: a file appears whole or not at all, and is read back as it was
/// written.
///
///     report::write_coverage_geotiff("map.tif", raster);
///     const coverage::CoverageRaster again = report::read_coverage_geotiff("map.tif");

namespace earshot::report {

/// Writes a coverage raster as a cloud-optimised GeoTIFF (OGC 21-026): Float32, 512 x 512 tiles,
/// DEFLATE with floating-point predictor, overviews, nodata, CRS, each band's description and
/// unit, and the raster's metadata in the GDAL metadata tag. An overview cell is the mean of the
/// known cells below it; if a band holds classes (unit "1"), all bands take one of those cells
/// instead. The file appears whole or not at all. Throws Error(Fault::output) if it cannot be
/// written (folder missing, disk full, a CRS that GeoTIFF cannot hold) and
/// Error(Fault::stopped) if the user stops it.
void write_coverage_geotiff(const std::filesystem::path& path,
                            const coverage::CoverageRaster& raster, Task& task = silent_task());

/// Reads back a map written by write_coverage_geotiff, nodata as NaN. Metadata come in the order of
/// their keys, which is how GDAL keeps them, without empty ones and spaces at the start. Throws
/// Error(Fault::input) if the file is missing, damaged or not a map of ours, and
/// Error(Fault::memory) if it does not fit in memory.
[[nodiscard]] coverage::CoverageRaster read_coverage_geotiff(const std::filesystem::path& path);

} // namespace earshot::report
