#include "earshot/terrain/ground_cover.hpp"

#include "base/require.hpp"
#include "earshot/geo/position.hpp"
#include "terrain/native/gdal_errors.hpp"
#include "terrain/native/gdal_open.hpp"
#include "terrain/native/raster_file.hpp"

#include <utility>

namespace earshot::terrain {
namespace {

GDALDatasetUniquePtr open_classes(const std::string& file) {
    const GdalErrors errors;
    GDALDatasetUniquePtr dataset = open_input(file, GDAL_OF_RASTER | GDAL_OF_VERBOSE_ERROR);
    require_input(dataset != nullptr,
                  "{}: cannot be opened as a raster of ground cover ({}); check the name, or get a "
                  "fresh copy",
                  file, errors.reason());
    require_input(dataset->GetRasterCount() == 1,
                  "{}: {} bands where ground cover needs one with class codes; if it is a picture, "
                  "give the data it was drawn from, else take a band out with gdal_translate -b",
                  file, dataset->GetRasterCount());
    const GDALDataType type = dataset->GetRasterBand(1)->GetRasterDataType();
    require_input(
        GDALDataTypeIsInteger(type) && !GDALDataTypeIsComplex(type),
        "{}: the values are {}, but class codes are whole numbers; give a raster of classes, or "
        "convert this one with gdal_translate -ot Int32 if its values are codes",
        file, GDALGetDataTypeName(type));
    require_input(dataset->GetSpatialRef() != nullptr,
                  "{}: no coordinate reference system, so its place on the earth is not known; "
                  "assign it with gdal_translate -a_srs",
                  file);
    return dataset;
}

/// A raster on the cells of the grid, by the nearest cell. GDAL finds ground across the 180 degree
/// meridian by itself.
GDALDatasetUniquePtr on_grid(const std::string& file, const Georeference& grid, int columns,
                             int rows) {
    GDALDatasetUniquePtr dataset = open_classes(file);
    const GdalErrors errors;
    const double west = grid.x0() - grid.dx() / 2.0;
    const double north = grid.y0() - grid.dy() / 2.0;
    // Overviews of classes may be averages, which mean nothing: read the cells themselves.
    GDALDatasetUniquePtr on_cells = warped(
        std::move(dataset), {grid.crs_wkt(), west, north, grid.dx(), grid.dy(), columns, rows},
        {"-ot", "Int32", "-r", "near", "-ovr", "NONE", "-dstnodata",
         std::to_string(GroundCover::no_class)});
    require_input(on_cells != nullptr,
                  "{}: cannot be brought to the cells of the elevation ({}); check that it covers "
                  "the same ground",
                  file, errors.reason());
    return on_cells;
}

} // namespace

GroundCover GroundCover::load(std::span<const std::filesystem::path> files, const CoverTable& table,
                              const Georeference& georeference, int columns, int rows, Task& task) {
    GroundCover cover(table, columns, rows);
    task.begin("reading ground cover", files.size() * static_cast<std::uint64_t>(rows));
    std::vector<std::int32_t> line(static_cast<std::size_t>(columns));
    for (const std::filesystem::path& path : files) {
        const std::string file = path.string();
        const GDALDatasetUniquePtr raster = on_grid(file, georeference, columns, rows);
        const GdalErrors errors;
        for (int row = 0; row < rows; ++row) {
            task.throw_if_stopped();
            const bool whole =
                raster->GetRasterBand(1)->RasterIO(GF_Read, 0, row, columns, 1, line.data(),
                                                   columns, 1, GDT_Int32, 0, 0, nullptr) == CE_None;
            require_input(whole, "{}: the file is damaged or cut short ({}); get a fresh copy",
                          file, errors.reason());
            if (const auto unknown = cover.classify(row, line)) {
                throw_input("{}: class {} near {} is not in the table '{}'; add a row for it to a "
                            "table of your own, or choose the table of this raster's publisher",
                            file, line[*unknown],
                            geo::format_decimal(georeference.position_of(
                                {static_cast<double>(*unknown), static_cast<double>(row)})),
                            table.name());
            }
            task.advance(1);
        }
    }
    task.end();
    require_input(cover.unclassified_cells() != cover.cells_.size(),
                  "{}: no ground cover anywhere on the elevation; give cover of the same ground",
                  files.empty() ? "no file" : files.front().string());
    return cover;
}

} // namespace earshot::terrain
