#pragma once

#include "earshot/base/task.hpp"
#include "earshot/geo/geodesic.hpp"
#include "earshot/terrain/height_grid.hpp"

#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <vector>

/// Elevation from files. The promise: no height is made up but those that are counted as filled.
///
///     const auto source = terrain::TerrainSource::open({"hills.tif"});
///     const terrain::HeightGrid ground = source.load_around(ridge, 1000.0);

namespace earshot::terrain {

struct OpenOptions {
    /// Metres per unit of height, overriding what the file says. Unset: the band's unit type, else
    /// the vertical axis of a compound CRS, else metres.
    std::optional<double> height_unit_m;
    /// Voids of at most this many cells are filled by interpolation from their rim and counted;
    /// larger ones stay void.
    int fill_void_cells = 25;
    /// What the heights are of, overriding what the files say of themselves.
    std::optional<GroundKind> ground_kind;
};

/// What an elevation input is, without its pixels.
struct TerrainInfo {
    std::vector<std::string> files;
    int columns = 0;
    int rows = 0;
    std::string crs_label;
    double cell_across_m = 0.0, cell_down_m = 0.0; ///< ground size at the centre
    geo::LatLon north_west, south_east;            ///< outer corners of the extent
    geo::LatLon centre;
    std::string sample_type;        ///< "Int16", "Float32", ...
    std::string height_unit;        ///< "metre", "foot", "US survey foot"
    std::string height_unit_source; ///< where that came from, in words
    std::string pixel_meaning;      ///< "area" or "point"
    std::string vertical_datum;     ///< from the CRS, or "not stated"
    /// A surface if one of the files is: by the option, else by what its publisher wrote into it or
    /// into its name (DSM or surface model, DTM or bare earth).
    GroundKind ground_kind = GroundKind::not_told;
};

/// An elevation input: one file, several tiles, a VRT or a folder of tiles (those directly in it;
/// files that are no rasters, or pictures without a place on the earth, are passed over), in any
/// format and CRS that GDAL reads. Nothing is loaded until asked for.
///
/// Tiles are joined on the cells of the first. A tile whose cells do not line up with them, a tile
/// in another CRS, and a rotated or south-up raster are resampled bilinearly by GDAL's warper.
/// Where tiles overlap, the first that knows the height wins. Besides what the file declares as
/// "no data", these are voids: NaN, the stored values -32768, -32767 and -9999, and heights that no
/// ground has (beyond -12 km and 9 km).
class TerrainSource {
public:
    /// Throws Error(Fault::input): file missing, unreadable or truncated, no CRS, no height
    /// band, unknown height unit, a folder without terrain, tiles that cannot be joined.
    static TerrainSource open(const std::vector<std::filesystem::path>& inputs,
                              const OpenOptions& options = {});
    TerrainSource(TerrainSource&&) noexcept;
    TerrainSource& operator=(TerrainSource&&) noexcept;
    ~TerrainSource();

    [[nodiscard]] const TerrainInfo& info() const;
    /// The georeference of the whole joined raster.
    [[nodiscard]] const Georeference& georeference() const;

    /// The cells within `radius_m` of `centre` (a rectangle in the raster's own CRS, clipped to
    /// it, with one cell to spare on each side for interpolation), voids filled as the options
    /// say. Crosses the 180 degree meridian where the data do. Throws Error(Fault::input) if
    /// the rectangle misses the raster or a block cannot be read, Error(Fault::memory) if the
    /// heights would not fit in the memory that is free, naming the amount.
    [[nodiscard]] HeightGrid load_around(geo::LatLon centre, double radius_m,
                                         HeightSummary* summary = nullptr,
                                         Task& task = silent_task()) const;
    /// The whole raster; throws as above.
    [[nodiscard]] HeightGrid load_all(HeightSummary* summary = nullptr,
                                      Task& task = silent_task()) const;

private:
    struct Impl;
    explicit TerrainSource(std::unique_ptr<Impl> impl);
    std::unique_ptr<Impl> impl_;
};

} // namespace earshot::terrain
