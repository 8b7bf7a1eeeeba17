#pragma once

#include "terrain/shapes.hpp"

#include <filesystem>

namespace earshot::terrain {

/// Reads all layers of a vector file in any format and reference system GDAL knows (GeoJSON, GPX,
/// KML, Shapefile, GeoPackage; CSV with columns of longitude and latitude). A file without a
/// reference system is taken for WGS 84. Throws Error(Fault::input): file missing or unreadable,
/// nothing in it, positions that are not on the earth.
[[nodiscard]] Shapes read_shapes(const std::filesystem::path& path);

} // namespace earshot::terrain
