#pragma once

#include "earshot/base/task.hpp"
#include "earshot/coverage/raster.hpp"
#include "report/say/colour.hpp"

#include <filesystem>
#include <string>

namespace earshot::report {

/// "#rrggbb".
[[nodiscard]] std::string hex_colour(const Rgb& colour);

/// Writes the first band (margin, dB) of a map as a picture that programs show in the legend's
/// colours without being told how: a cloud-optimised GeoTIFF (OGC 21-026) of one byte per cell that
/// holds the readability (5 clear, 4 easy, 3 with effort, 2 some words) with a colour table, nodata
/// 0 where less gets through or nothing is known. The map's metadata go along, and CLASS_5 to
/// CLASS_2 say what each class means. Whole or not at all. Throws as write_coverage_geotiff() does.
void write_styled_geotiff(const std::filesystem::path& path, const coverage::CoverageRaster& map,
                          Task& task = silent_task());

/// A style for the margin band of a coverage GeoTIFF: an OGC Styled Layer Descriptor (1.0.0, OGC
/// 02-070) with a colour for each class of report::margin_classes(), in their words. The classes
/// are marked as intervals, each up to the quantity it names, by the attribute `type` that map
/// programs agreed on after the standard.
[[nodiscard]] std::string margin_style_sheet();

/// The same as a layer style of QGIS, which reads no SLD for rasters but takes this by itself when
/// it lies beside the raster under its name: coverage.qml by coverage.tif.
[[nodiscard]] std::string margin_layer_style();

} // namespace earshot::report
