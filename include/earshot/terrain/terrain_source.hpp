#pragma once

#include "earshot/base/task.hpp"
#include "earshot/geo/geodesic.hpp"
#include "earshot/terrain/height_grid.hpp"

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace earshot::terrain {

struct OpenOptions {
    /// Metres per unit of height, overriding what the file says. Unset: the band's unit type, else
    /// the vertical axis of a compound CRS, else metres.
    std::optional<double> height_unit_m;
    /// Voids of at most this many cells are filled by interpolation from their rim and counted;
    /// larger ones stay void.
    int fill_void_cells = 25;
};

/// What an elevation input is, without its pixels.
struct TerrainInfo {
    std::vector<std::string> files;
    int columns = 0;
    int rows = 0;
    std::string crs_label;
    bool geographic = true;
    double cell_x = 0.0, cell_y = 0.0;             ///< in CRS units, both positive
    double cell_across_m = 0.0, cell_down_m = 0.0; ///< ground size at the centre
    geo::LatLon north_west, south_east;            ///< outer corners of the extent
    geo::LatLon centre;
    std::string sample_type;        ///< "Int16", "Float32", ...
    std::string height_unit;        ///< "metre", "foot", "US survey foot"
    std::string height_unit_source; ///< where that came from, in words
    std::string pixel_meaning;      ///< "area" or "point"
    std::string vertical_datum;     ///< from the CRS, or "not stated"
};

/// Counts over loaded heights. Heights and their places are taken after filling, and are NaN if
/// all is void.
struct HeightSummary {
    double lowest_m = 0.0, highest_m = 0.0, mean_m = 0.0;
    geo::LatLon lowest, highest;
    std::uint64_t cells = 0;
    std::uint64_t void_cells = 0;   ///< as in the file, before filling
    std::uint64_t filled_cells = 0; ///< of those, filled by interpolation
    std::uint64_t voids = 0;        ///< connected void areas before filling
    std::uint64_t largest_void_cells = 0;
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

/// Fills voids (NaN) of at most `limit_cells` connected cells (8-neighbourhood) that do not touch
/// the edge of the grid, by inverse-distance interpolation from the rim of each. Counts go to
/// `summary`.
void fill_small_voids(HeightGrid& grid, int limit_cells, HeightSummary& summary);

/// Bytes of memory that a new allocation may use without swapping: the least of MemAvailable in
/// /proc/meminfo and what the limits of the process's control groups (version 1 or 2) leave.
/// `root` stands for "/"; tests name a folder of their own.
[[nodiscard]] std::uint64_t available_memory_bytes(const std::filesystem::path& root = "/");

/// Throws Error(Fault::memory) naming `what`, the need and what there is, if `bytes` exceeds
/// what is available.
void require_memory(std::uint64_t bytes, const std::string& what);

} // namespace earshot::terrain
