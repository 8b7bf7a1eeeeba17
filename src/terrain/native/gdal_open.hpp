#pragma once

#include <gdal_priv.h>

#include <string>

namespace earshot::terrain {

/// Opens a data set of the user's as GDAL does with these flags (GDAL_OF_...), drivers and options,
/// and notes as inputs all files that it is made of: those too that a virtual raster points at.
/// Empty if GDAL cannot; its reason is with GdalErrors.
[[nodiscard]] GDALDatasetUniquePtr open_input(const std::string& path, unsigned flags,
                                              const char* const* drivers = nullptr,
                                              const char* const* options = nullptr);

/// Shuts every way by which data that is opened could make GDAL or PROJ reach for the network:
/// file systems of addresses, drivers of services and databases, fetches for a CRS, grids of PROJ.
/// For the whole process and for good; called before the first data set is opened.
void close_network();

} // namespace earshot::terrain
