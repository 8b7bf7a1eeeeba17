#pragma once

#include <gdal_priv.h>

#include <string>
#include <vector>

namespace earshot::terrain {

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
