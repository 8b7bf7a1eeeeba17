#pragma once

#include <string>

namespace earshot::report {

/// A style for the margin band of a coverage GeoTIFF: an OGC Styled Layer Descriptor (1.0.0, OGC
/// 02-070) with a colour for each class of report::margin_classes(), in their words. The classes
/// are marked as intervals, each up to the quantity it names, by the attribute `type` that map
/// programs agreed on after the standard.
[[nodiscard]] std::string margin_style_sheet();

/// The same as a layer style of QGIS, which reads no SLD for rasters but takes this by itself when
/// it lies beside the raster under its name: coverage.qml by coverage.tif.
[[nodiscard]] std::string margin_layer_style();

} // namespace earshot::report
