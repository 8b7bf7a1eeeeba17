#include "earshot/terrain/terrain_source.hpp"

#include "base/memory.hpp"
#include "base/require.hpp"
#include "earshot/geo/position.hpp"
#include "geo/units.hpp"
#include "terrain/native/gdal_errors.hpp"
#include "terrain/native/raster_file.hpp"
#include "terrain/native/spatial_reference.hpp"
#include "terrain/off_ground.hpp"
#include "terrain/voids.hpp"

#include <cpl_string.h>
#include <fmt/format.h>
#include <gdalwarper.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <utility>

namespace earshot::terrain {
namespace {

constexpr float void_height = std::numeric_limits<float>::quiet_NaN();

/// No ground or sea floor lies outside these (Challenger Deep about -10.9 km, Everest 8.85 km):
/// such a value is a mark for "no data" that the file does not declare.
constexpr double lowest_possible_m = -12000.0;
constexpr double highest_possible_m = 9000.0;
/// Marks for "no data" in common use that may go undeclared (common practice, no source).
constexpr std::array<double, 3> undeclared_marks{-32768.0, -32767.0, -9999.0};

/// A tile may lie off the common grid by this share of a cell and still count as on it.
constexpr double alignment_cells = 0.01;

/// The cells of the joined raster, before it is known where it begins: tiles are placed relative
/// to the first cell of the first file.
struct CommonGrid {
    OGRSpatialReference crs;
    std::string wkt;
    double x = 0.0; ///< outer corner of cell (0, 0)
    double y = 0.0;
    double dx = 0.0;
    double dy = 0.0;
    double turn = 0.0; ///< a full turn of longitude in CRS units, 0 if projected
};

struct Tile {
    RasterFile file;
    bool warped = false; ///< its cells are not those of the common grid: GDAL resamples it
    /// Added to the tile's own x to bring it next to the others across the 180 degree meridian.
    double shift_x = 0.0;
    int column = 0;
    int row = 0;
    int columns = 0;
    int rows = 0;
};

struct Extent {
    double west;
    double south;
    double east;
    double north;
};

bool north_up(const GeoTransform& t) {
    return t[2] == 0.0 && t[4] == 0.0 && t[1] > 0.0 && t[5] < 0.0;
}

/// Outer bounds of a raster whose rows and columns need not follow the axes.
Extent bounds_of(const GeoTransform& t, int columns, int rows) {
    const double xs[] = {t[0], t[0] + t[1] * columns, t[0] + t[2] * rows,
                         t[0] + t[1] * columns + t[2] * rows};
    const double ys[] = {t[3], t[3] + t[4] * columns, t[3] + t[5] * rows,
                         t[3] + t[4] * columns + t[5] * rows};
    const auto [west, east] = std::minmax_element(std::begin(xs), std::end(xs));
    const auto [south, north] = std::minmax_element(std::begin(ys), std::end(ys));
    return {*west, *south, *east, *north};
}

CommonGrid grid_of(const RasterFile& first) {
    CommonGrid grid;
    grid.crs = first.crs;
    grid.wkt = wkt_of(first.crs);
    const GeoTransform& t = first.transform;
    const Extent bounds = bounds_of(t, first.columns, first.rows);
    grid.x = bounds.west;
    grid.y = bounds.north;
    // A rotated raster keeps the length of its cells' sides.
    grid.dx = std::hypot(t[1], t[4]);
    grid.dy = -std::hypot(t[2], t[5]);
    grid.turn = Georeference(grid.wkt, 0.0, 0.0, 1.0, -1.0).columns_per_turn();
    return grid;
}

/// Whether the tile's own cells are cells of the grid, once it is moved by `shift_x`.
bool aligned(const RasterFile& file, const CommonGrid& grid, double shift_x) {
    const GeoTransform& t = file.transform;
    const auto off = [](double cells) { return std::abs(cells - std::round(cells)); };
    return north_up(t) && std::abs(t[1] / grid.dx - 1.0) * file.columns < alignment_cells &&
           std::abs(t[5] / grid.dy - 1.0) * file.rows < alignment_cells &&
           off((t[0] + shift_x - grid.x) / grid.dx) < alignment_cells &&
           off((t[3] - grid.y) / grid.dy) < alignment_cells;
}

struct TransformerDeleter {
    void operator()(void* transformer) const { GDALDestroyGenImgProjTransformer(transformer); }
};

/// Where a raster of another CRS falls in the CRS of the grid.
Extent bounds_in(GDALDataset& dataset, const std::string& wkt, const std::string& path) {
    const GdalErrors errors;
    CPLStringList options;
    options.SetNameValue("DST_SRS", wkt.c_str());
    const std::unique_ptr<void, TransformerDeleter> transformer(
        GDALCreateGenImgProjTransformer2(&dataset, nullptr, options.List()));
    GeoTransform transform{};
    int columns = 0;
    int rows = 0;
    const bool placed =
        transformer && GDALSuggestedWarpOutput(&dataset, GDALGenImgProjTransform, transformer.get(),
                                               transform.data(), &columns, &rows) == CE_None;
    require_input(placed,
                  "{}: cannot be brought to the reference system of the first tile ({}); warp the "
                  "tiles to one system with gdalwarp",
                  path, errors.reason());
    return bounds_of(transform, columns, rows);
}

/// How far to move an x so that it falls in the turn that starts at `west`.
double whole_turns_to(double x, double west, double turn) {
    return turn > 0.0 ? -turn * std::floor((x - west) / turn + 1e-9) : 0.0;
}

/// The west end of the widest stretch of longitude that no tile covers lies at the east end of the
/// raster: joining starts just east of that gap, so that tiles on both sides of the 180 degree
/// meridian come to lie side by side.
double western_start(const std::vector<Extent>& extents, double turn) {
    if (turn == 0.0) {
        return -std::numeric_limits<double>::infinity();
    }
    const double base = extents.front().west;
    std::vector<std::pair<double, double>> spans;
    spans.reserve(extents.size());
    for (const Extent& extent : extents) {
        const double shift = whole_turns_to(extent.west, base, turn);
        spans.emplace_back(extent.west + shift, extent.east + shift);
    }
    std::ranges::sort(spans);
    double start = spans.front().first;
    double reach = spans.front().second;
    double widest = 0.0;
    for (const auto& [west, east] : spans) {
        if (west - reach > widest) {
            widest = west - reach;
            start = west;
        }
        reach = std::max(reach, east);
    }
    // The gap that closes the circle.
    if (spans.front().first + turn - reach >= widest) {
        start = spans.front().first;
    }
    // Into [-181, 179): rasters of the globe may begin half a cell west of -180 and are left there.
    return start - turn * std::floor((start + turn * (181.0 / 360.0)) / turn);
}

std::string join_distinct(const std::vector<Tile>& tiles, std::string RasterFile::*member) {
    std::vector<std::string> seen;
    std::string text;
    for (const Tile& tile : tiles) {
        const std::string& value = tile.file.*member;
        if (std::ranges::find(seen, value) == seen.end()) {
            text += (seen.empty() ? "" : ", ") + value;
            seen.push_back(value);
        }
    }
    return text;
}

/// A piece of one tile and where its first cell goes in the window.
struct Part {
    const Tile* tile;
    int tile_column, tile_row, columns, rows;
    int window_column, window_row;
};

/// Columns and rows of the joined raster, columns possibly past either end across the meridian.
struct Window {
    int column, row, columns, rows;
};

/// A rectangle of columns and rows, not whole.
struct Bounds {
    double left, top, right, bottom;
};

/// What a circle on the ground reaches: without end where it leaves the CRS or goes around a pole.
Bounds reach_of_circle(const Georeference& georeference, geo::LatLon centre, double radius_m) {
    const CellPosition middle = georeference.cell_of(centre);
    const double turn = georeference.columns_per_turn();
    constexpr double infinity = std::numeric_limits<double>::infinity();
    Bounds reach{infinity, infinity, -infinity, -infinity};
    constexpr int bearings = 360;
    for (int k = 0; k < bearings; ++k) {
        CellPosition rim =
            georeference.cell_of(geo::geodesic_destination(centre, 360.0 * k / bearings, radius_m));
        if (!std::isfinite(rim.column) || !std::isfinite(rim.row)) {
            // The raster cannot leave the CRS, so take all of it that way.
            reach = {-infinity, -infinity, infinity, infinity};
            break;
        }
        if (turn > 0.0) {
            rim.column = middle.column + std::remainder(rim.column - middle.column, turn);
        }
        reach = {std::min(reach.left, rim.column), std::min(reach.top, rim.row),
                 std::max(reach.right, rim.column), std::max(reach.bottom, rim.row)};
    }
    const auto pole_within = [&](double pole_lat_deg) {
        return geo::geodesic_between(centre, {pole_lat_deg, centre.lon_deg}).distance_m <= radius_m;
    };
    if (turn > 0.0 && (pole_within(90.0) || pole_within(-90.0))) {
        reach.left = -infinity;
        reach.right = infinity;
        (pole_within(90.0) ? reach.top : reach.bottom) = pole_within(90.0) ? -infinity : infinity;
    }
    return reach;
}

void store(const RasterFile& file, double value, std::uint8_t mask, float& height_m) {
    // Where tiles overlap, the one named first that knows the height wins.
    if (mask == 0 || !std::isnan(height_m) || !std::isfinite(value) ||
        std::ranges::find(undeclared_marks, value) != undeclared_marks.end()) {
        return;
    }
    const double height = value * file.scale_m + file.offset_m;
    if (height > lowest_possible_m && height < highest_possible_m) {
        height_m = static_cast<float>(height);
    }
}

void summarize(const HeightGrid& grid, HeightSummary& summary) {
    constexpr double nan = std::numeric_limits<double>::quiet_NaN();
    summary.cells = grid.height_m.size();
    double sum = 0.0;
    std::uint64_t known = 0;
    std::size_t lowest = 0;
    std::size_t highest = 0;
    for (std::size_t k = 0; k < grid.height_m.size(); ++k) {
        const float height = grid.height_m[k];
        if (std::isnan(height)) {
            continue;
        }
        if (known == 0 || height < grid.height_m[lowest]) {
            lowest = k;
        }
        if (known == 0 || height > grid.height_m[highest]) {
            highest = k;
        }
        sum += static_cast<double>(height);
        ++known;
    }
    if (known == 0) {
        summary.lowest_m = summary.highest_m = summary.mean_m = nan;
        summary.lowest = summary.highest = {nan, nan};
        return;
    }
    const auto place = [&](std::size_t cell) {
        const std::size_t row = cell / static_cast<std::size_t>(grid.columns);
        const std::size_t column = cell % static_cast<std::size_t>(grid.columns);
        return grid.georeference.position_of(
            {static_cast<double>(column), static_cast<double>(row)});
    };
    summary.lowest_m = static_cast<double>(grid.height_m[lowest]);
    summary.highest_m = static_cast<double>(grid.height_m[highest]);
    summary.mean_m = sum / static_cast<double>(known);
    summary.lowest = place(lowest);
    summary.highest = place(highest);
}

} // namespace

struct TerrainSource::Impl {
    OpenOptions options;
    CommonGrid grid;
    std::vector<Tile> tiles;
    TerrainInfo info;
    Georeference georeference;

    void place_tiles(std::vector<RasterFile> files) {
        grid = grid_of(files.front());
        std::vector<Extent> extents;
        for (const RasterFile& file : files) {
            if (same_crs(file.crs, grid.crs)) {
                extents.push_back(bounds_of(file.transform, file.columns, file.rows));
            } else {
                extents.push_back(bounds_in(*open_dataset(file.path), grid.wkt, file.path));
            }
        }
        const double start = western_start(extents, grid.turn);
        grid.x += whole_turns_to(grid.x, start, grid.turn);

        std::vector<Bounds> places;
        Bounds whole{0.0, 0.0, 0.0, 0.0};
        for (std::size_t k = 0; k < files.size(); ++k) {
            Tile tile;
            tile.shift_x = whole_turns_to(extents[k].west, start, grid.turn);
            tile.warped =
                !same_crs(files[k].crs, grid.crs) || !aligned(files[k], grid, tile.shift_x);
            tile.file = std::move(files[k]);
            Bounds place{(extents[k].west + tile.shift_x - grid.x) / grid.dx,
                         (extents[k].north - grid.y) / grid.dy,
                         (extents[k].east + tile.shift_x - grid.x) / grid.dx,
                         (extents[k].south - grid.y) / grid.dy};
            if (tile.warped) {
                place = {std::floor(place.left + alignment_cells),
                         std::floor(place.top + alignment_cells),
                         std::ceil(place.right - alignment_cells),
                         std::ceil(place.bottom - alignment_cells)};
            } else {
                place.left = std::round(place.left);
                place.top = std::round(place.top);
                place.right = place.left + tile.file.columns;
                place.bottom = place.top + tile.file.rows;
            }
            whole = {std::min(whole.left, place.left), std::min(whole.top, place.top),
                     std::max(whole.right, place.right), std::max(whole.bottom, place.bottom)};
            places.push_back(place);
            tiles.push_back(std::move(tile));
        }
        constexpr double most = std::numeric_limits<int>::max() / 2.0;
        require_input(whole.right - whole.left <= most && whole.bottom - whole.top <= most,
                      "{}: this tile and the others lie too far apart for their small cells to be "
                      "joined; give only tiles that belong together",
                      tiles.front().file.path);
        for (std::size_t k = 0; k < tiles.size(); ++k) {
            tiles[k].column = static_cast<int>(places[k].left - whole.left);
            tiles[k].row = static_cast<int>(places[k].top - whole.top);
            tiles[k].columns = static_cast<int>(places[k].right - places[k].left);
            tiles[k].rows = static_cast<int>(places[k].bottom - places[k].top);
        }
        grid.x += whole.left * grid.dx;
        grid.y += whole.top * grid.dy;
        info.columns = static_cast<int>(whole.right - whole.left);
        info.rows = static_cast<int>(whole.bottom - whole.top);
    }

    void fill_info() {
        georeference = Georeference(grid.wkt, grid.x + grid.dx / 2.0, grid.y + grid.dy / 2.0,
                                    grid.dx, grid.dy);
        georeference.set_columns(info.columns);
        for (const Tile& tile : tiles) {
            info.files.push_back(tile.file.path);
        }
        info.crs_label = georeference.crs_label();
        info.north_west = georeference.position_of({-0.5, -0.5});
        info.south_east = georeference.position_of({info.columns - 0.5, info.rows - 0.5});
        info.centre = georeference.position_of({(info.columns - 1) / 2.0, (info.rows - 1) / 2.0});
        const Georeference::CellSize size = georeference.cell_size_at(info.centre);
        info.cell_across_m = size.across_m;
        info.cell_down_m = size.down_m;
        info.sample_type = join_distinct(tiles, &RasterFile::sample_type);
        info.height_unit = join_distinct(tiles, &RasterFile::height_unit);
        info.height_unit_source = join_distinct(tiles, &RasterFile::height_unit_source);
        info.pixel_meaning = join_distinct(tiles, &RasterFile::pixel_meaning);
        info.vertical_datum = join_distinct(tiles, &RasterFile::vertical_datum);
        info.ground_kind = std::max_element(tiles.begin(), tiles.end(), [](auto& a, auto& b) {
                               return a.file.ground_kind < b.file.ground_kind;
                           })->file.ground_kind;
    }

    /// The tile on the common grid. A tile of other cells or another CRS is resampled as it is
    /// read, bilinearly, through GDAL's warper.
    GDALDatasetUniquePtr open_tile(const Tile& tile) const {
        GDALDatasetUniquePtr dataset = open_dataset(tile.file.path);
        if (!tile.warped) {
            return dataset;
        }
        const GdalErrors errors;
        const double west = grid.x + tile.column * grid.dx - tile.shift_x;
        const double north = grid.y + tile.row * grid.dy;
        GDALDatasetUniquePtr on_cells = warped(
            std::move(dataset), {grid.wkt, west, north, grid.dx, grid.dy, tile.columns, tile.rows},
            {"-ot", "Float64", "-r", "bilinear", "-dstnodata", "nan"});
        require_input(on_cells != nullptr,
                      "{}: cannot be brought to the cells of the first tile ({}); warp the tiles "
                      "to one grid with gdalwarp",
                      tile.file.path, errors.reason());
        return on_cells;
    }

    Window window_around(geo::LatLon centre, double radius_m) const {
        const auto off = [&] {
            throw_input("no elevation within {} of {}: that is off the elevation{}",
                        geo::format_distance(radius_m), geo::format_decimal(centre),
                        off_ground_words(georeference, info.columns, info.rows, centre));
        };
        const CellPosition middle = georeference.cell_of(centre);
        if (!std::isfinite(middle.column) || !std::isfinite(middle.row)) {
            off();
        }
        const double turn = georeference.columns_per_turn();
        auto [left, top, right, bottom] = reach_of_circle(georeference, centre, radius_m);
        // Between two bearings the circle bulges past their chord by 1 - cos(0.5 degrees) of its
        // radius; one more cell is for interpolation.
        constexpr double bulge = 1.0 - 0.99996192306;
        const double more_columns = 1.0 + bulge * (right - left);
        const double more_rows = 1.0 + bulge * (bottom - top);
        left = std::floor(left - more_columns);
        right = std::ceil(right + more_columns);
        top = std::max(0.0, std::floor(top - more_rows));
        bottom = std::min(info.rows - 1.0, std::ceil(bottom + more_rows));

        // Columns repeat every turn. A raster that closes the circle is read past its end; of any
        // other, the turn whose columns the window shares most of is taken.
        const bool closed = turn > 0.0 && info.columns > turn - alignment_cells &&
                            std::abs(turn - std::round(turn)) < alignment_cells;
        if (closed) {
            if (!(right - left < turn)) {
                left = 0.0;
                right = info.columns - 1.0;
            }
        } else {
            double best = -1.0;
            double best_left = 0.0;
            double best_right = -1.0;
            for (const double turns : {0.0, -1.0, 1.0}) {
                const double from = std::max(0.0, left + turns * turn);
                const double to = std::min(info.columns - 1.0, right + turns * turn);
                if (to - from > best) {
                    best = to - from;
                    best_left = from;
                    best_right = to;
                }
            }
            left = best_left;
            right = best_right;
        }
        if (!(left <= right && top <= bottom)) {
            off();
        }
        return {static_cast<int>(left), static_cast<int>(top), static_cast<int>(right - left) + 1,
                static_cast<int>(bottom - top) + 1};
    }

    std::vector<Part> parts_of(const Window& window) const {
        std::vector<Part> parts;
        const auto turn = static_cast<int>(std::lround(georeference.columns_per_turn()));
        for (const Tile& tile : tiles) {
            for (const int turns : {0, -1, 1}) {
                if (turns != 0 && turn == 0) {
                    continue;
                }
                const std::int64_t shift = std::int64_t{turns} * turn;
                const std::int64_t tile_left = tile.column + shift;
                const std::int64_t left = std::max<std::int64_t>(tile_left, window.column);
                const std::int64_t right = std::min<std::int64_t>(
                    tile_left + tile.columns, std::int64_t{window.column} + window.columns);
                const int top = std::max(tile.row, window.row);
                const int bottom = std::min(tile.row + tile.rows, window.row + window.rows);
                if (left < right && top < bottom) {
                    parts.push_back({&tile, static_cast<int>(left - tile_left), top - tile.row,
                                     static_cast<int>(right - left), bottom - top,
                                     static_cast<int>(left - window.column), top - window.row});
                }
            }
        }
        return parts;
    }

    void read_part(const Part& part, HeightGrid& into, Task& task) const {
        constexpr int cells_at_once = 1 << 20;
        const RasterFile& file = part.tile->file;
        const GDALDatasetUniquePtr dataset = open_tile(*part.tile);
        const GdalErrors errors;
        GDALRasterBand* band = dataset->GetRasterBand(1);
        // The mask knows all of GDAL's ways to mark a void: a value, a mask band, an alpha band.
        GDALRasterBand* mask_band =
            band->GetMaskFlags() == GMF_ALL_VALID ? nullptr : band->GetMaskBand();
        const int rows_at_once = std::clamp(cells_at_once / part.columns, 1, part.rows);
        const auto columns = static_cast<std::size_t>(part.columns);
        std::vector<double> values(columns * static_cast<std::size_t>(rows_at_once));
        std::vector<std::uint8_t> mask(values.size(), 255);
        for (int row = 0; row < part.rows; row += rows_at_once) {
            task.throw_if_stopped();
            const int rows = std::min(rows_at_once, part.rows - row);
            const auto read = [&](GDALRasterBand* from, void* to, GDALDataType type) {
                return from->RasterIO(GF_Read, part.tile_column, part.tile_row + row, part.columns,
                                      rows, to, part.columns, rows, type, 0, 0, nullptr) == CE_None;
            };
            const bool whole = read(band, values.data(), GDT_Float64) &&
                               (mask_band == nullptr || read(mask_band, mask.data(), GDT_Byte));
            require_input(whole,
                          "{}: the heights cannot be read ({}); the file is damaged or cut short, "
                          "get a fresh copy",
                          file.path, errors.reason());
            for (int k = 0; k < rows; ++k) {
                const std::size_t from = columns * static_cast<std::size_t>(k);
                float* to = into.height_m.data() +
                            static_cast<std::size_t>(part.window_row + row + k) *
                                static_cast<std::size_t>(into.columns) +
                            static_cast<std::size_t>(part.window_column);
                for (std::size_t c = 0; c < columns; ++c) {
                    store(file, values[from + c], mask[from + c], to[c]);
                }
            }
            task.advance(static_cast<std::uint64_t>(rows) * columns);
        }
    }

    HeightGrid load(const Window& window, HeightSummary* summary, Task& task) const {
        const auto cells =
            static_cast<std::size_t>(window.columns) * static_cast<std::size_t>(window.rows);
        require_memory(cells * sizeof(float),
                       fmt::format("the elevation, {} x {} cells,", window.columns, window.rows));
        const std::vector<Part> parts = parts_of(window);
        HeightGrid result;
        result.columns = window.columns;
        result.rows = window.rows;
        result.georeference = georeference.shifted(window.column, window.row);
        result.georeference.set_columns(window.columns);
        result.kind = info.ground_kind;
        result.height_m.assign(cells, void_height);
        std::uint64_t total = 0;
        for (const Part& part : parts) {
            total +=
                static_cast<std::uint64_t>(part.columns) * static_cast<std::uint64_t>(part.rows);
        }
        task.begin("reading elevation", total);
        for (const Part& part : parts) {
            read_part(part, result, task);
        }
        HeightSummary counted;
        fill_small_voids(result, options.fill_void_cells, counted);
        if (summary != nullptr) {
            summarize(result, counted);
            *summary = counted;
        }
        task.end();
        return result;
    }
};

TerrainSource::TerrainSource(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
TerrainSource::TerrainSource(TerrainSource&&) noexcept = default;
TerrainSource& TerrainSource::operator=(TerrainSource&&) noexcept = default;
TerrainSource::~TerrainSource() = default;

TerrainSource TerrainSource::open(const std::vector<std::filesystem::path>& inputs,
                                  const OpenOptions& options) {
    const GdalErrors errors;
    std::vector<RasterFile> files;
    for (const std::string& path : list_rasters(inputs)) {
        files.push_back(describe(path, options));
    }
    auto impl = std::make_unique<Impl>();
    impl->options = options;
    impl->place_tiles(std::move(files));
    impl->fill_info();
    return TerrainSource(std::move(impl));
}

const TerrainInfo& TerrainSource::info() const {
    return impl_->info;
}
const Georeference& TerrainSource::georeference() const {
    return impl_->georeference;
}

HeightGrid TerrainSource::load_around(geo::LatLon centre, double radius_m, HeightSummary* summary,
                                      Task& task) const {
    return impl_->load(impl_->window_around(centre, radius_m), summary, task);
}

HeightGrid TerrainSource::load_all(HeightSummary* summary, Task& task) const {
    return impl_->load({0, 0, impl_->info.columns, impl_->info.rows}, summary, task);
}

} // namespace earshot::terrain
