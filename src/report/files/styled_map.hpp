#pragma once

#include "earshot/base/task.hpp"
#include "earshot/coverage/raster.hpp"

#include <filesystem>

namespace earshot::report {

/// Writes the first band (margin, dB) of a map as a picture that programs show in the legend's
/// colours without being told how: a cloud-optimised GeoTIFF (OGC 21-026) of one byte per cell that
/// holds the readability (5 clear, 4 easy, 3 with effort, 2 some words) with a colour table, nodata
/// 0 where less gets through or nothing is known. The map's metadata go along, and CLASS_5 to
/// CLASS_2 say what each class means. Whole or not at all. Throws as write_coverage_geotiff() does.
void write_styled_geotiff(const std::filesystem::path& path, const coverage::CoverageRaster& map,
                          Task& task = silent_task());

} // namespace earshot::report
