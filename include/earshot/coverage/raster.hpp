#pragma once

#include "earshot/terrain/georeference.hpp"

#include <limits>
#include <string>
#include <utility>
#include <vector>

/// A finished map, however it was made.
///
///     const coverage::CoverageRaster raster{map.columns,
///                                           map.rows,
///                                           map.georeference,
///                                           {{"loss", "dB", result.loss_db}},
///                                           {{"SITE", "ridge"}}};

namespace earshot::coverage {

/// The value that stands for "not known" in every band we write.
inline constexpr float nodata = -9999.0F;

/// One band of a coverage raster: row-major values, NaN where not known (written as `nodata`).
struct Band {
    std::string name; ///< for people and programs: "margin", "received power"
    std::string unit; ///< "dB", "dBm", "1"
    std::vector<float> values;
};

/// A finished map: bands on one grid, and the inputs it was made with.
struct CoverageRaster {
    int columns = 0;
    int rows = 0;
    terrain::Georeference georeference;
    std::vector<Band> bands;
    /// Key and value in order, so that a map can always be explained. Keys are upper-case words
    /// joined by underscores.
    std::vector<std::pair<std::string, std::string>> metadata;
};

} // namespace earshot::coverage
