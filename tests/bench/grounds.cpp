#include "grounds.hpp"

#include "earshot/base/error.hpp"
#include "earshot/terrain/terrain_source.hpp"

#include <fmt/format.h>
#include <gdal_priv.h>
#include <gdal_utils.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <filesystem>
#include <vector>

namespace earshot::bench {
namespace {

constexpr const char* sample_file = EARSHOT_SOURCE_DIR "/dem-samples/cumberland_3arcsec.tif";

Ground load(const std::string& what, const std::string& file) {
    return {what, file, terrain::TerrainSource::open({file}).load_all()};
}

[[noreturn]] void gdal_failed(const std::string& what) {
    throw_input(fmt::format("{}: {}", what, CPLGetLastErrorMsg()));
}

/// The sample in memory with `mirrored` columns of its mirror image joined at the east.
GDALDatasetUniquePtr widened_sample(int mirrored) {
    GDALDatasetUniquePtr source(GDALDataset::Open(sample_file));
    if (!source) {
        gdal_failed("cannot read the sample of real ground");
    }
    const int columns = source->GetRasterXSize();
    const int rows = source->GetRasterYSize();
    GDALDatasetUniquePtr wide(GetGDALDriverManager()->GetDriverByName("MEM")->Create(
        "", columns + mirrored, rows, 1, GDT_Int16, nullptr));
    std::array<double, 6> transform{};
    source->GetGeoTransform(transform.data());
    wide->SetGeoTransform(transform.data());
    wide->SetSpatialRef(source->GetSpatialRef());
    std::vector<std::int16_t> line(static_cast<std::size_t>(columns) +
                                   static_cast<std::size_t>(mirrored));
    for (int row = 0; row < rows; ++row) {
        if (source->GetRasterBand(1)->RasterIO(GF_Read, 0, row, columns, 1, line.data(), columns, 1,
                                               GDT_Int16, 0, 0, nullptr) != CE_None) {
            gdal_failed("cannot read the sample of real ground");
        }
        for (int k = 0; k < mirrored; ++k) {
            line[static_cast<std::size_t>(columns) + static_cast<std::size_t>(k)] =
                line[static_cast<std::size_t>(columns) - 1 - static_cast<std::size_t>(k)];
        }
        if (wide->GetRasterBand(1)->RasterIO(GF_Write, 0, row, columns + mirrored, 1, line.data(),
                                             columns + mirrored, 1, GDT_Int16, 0, 0,
                                             nullptr) != CE_None) {
            gdal_failed("cannot widen the sample of real ground");
        }
    }
    return wide;
}

/// In UTM, from its north edge down.
void write_splined(const std::string& file, int columns, int rows, double cell_m, double north_m) {
    // West edge clear of the sample's slanting one; the mirror image begins 30 km east of it.
    constexpr double west_m = 732006.0;
    const GDALDatasetUniquePtr source = widened_sample(120);
    std::vector<std::string> words{
        "-t_srs", "EPSG:32616", "-ts", std::to_string(columns), std::to_string(rows), "-te"};
    for (const double edge :
         {west_m, north_m - rows * cell_m, west_m + columns * cell_m, north_m}) {
        words.push_back(fmt::format("{:.0f}", edge));
    }
    for (const char* word : {"-r", "cubicspline", "-ot", "Float32", "-dstnodata", "-9999"}) {
        words.emplace_back(word);
    }
    std::vector<char*> arguments;
    arguments.reserve(words.size() + 1);
    for (std::string& word : words) {
        arguments.push_back(word.data());
    }
    arguments.push_back(nullptr);
    GDALWarpAppOptions* options = GDALWarpAppOptionsNew(arguments.data(), nullptr);
    GDALDatasetH input = GDALDataset::ToHandle(source.get());
    GDALDatasetH output = GDALWarp(file.c_str(), nullptr, 1, &input, options, nullptr);
    GDALWarpAppOptionsFree(options);
    if (output == nullptr) {
        gdal_failed("cannot resample the sample of real ground");
    }
    GDALClose(output);
}

} // namespace

const Ground& Grounds::real() {
    if (!real_) {
        real_ = load("real, 3 arcsec", sample_file);
    }
    return *real_;
}

Ground Grounds::splined(int columns, int rows, int cell_m, int north_m) const {
    const std::string file = scratch_.file(fmt::format("splined-{}m.tif", cell_m));
    write_splined(file, columns, rows, cell_m, north_m);
    Ground ground = load(fmt::format("real, splined to {} m", cell_m), file);
    if (std::ranges::any_of(ground.heights.height_m, [](float h) { return std::isnan(h); })) {
        throw_input(fmt::format("the {} m ground has voids: it reaches beyond the sample", cell_m));
    }
    return ground;
}

const Ground& Grounds::nine_metre() {
    if (!nine_metre_) {
        nine_metre_ = splined(4000, 2100, 9, 4060008);
    }
    return *nine_metre_;
}

const Ground& Grounds::thirty_metre() {
    if (!thirty_metre_) {
        thirty_metre_ = splined(1200, 1000, 30, 4067700);
    }
    return *thirty_metre_;
}

Ground Grounds::generated(const std::string& kind, int columns, int rows, int cell_m,
                          const std::string& what) const {
    const std::string file = scratch_.file(fmt::format("{}-{}m-{}.tif", kind, cell_m, columns));
    static_cast<void>(
        launch({EARSHOT_GENERATE_TERRAIN, kind, file, "--columns", std::to_string(columns),
                "--rows", std::to_string(rows), "--cell-m", std::to_string(cell_m)},
               scratch_.file("generate.log")));
    return load(what, file);
}

const Ground& Grounds::rough() {
    if (!rough_) {
        rough_ = generated("rough", 1200, 1000, 30, "invented, rough, 30 m");
    }
    return *rough_;
}

const Ground& Grounds::flat() {
    if (!flat_) {
        flat_ = generated("flat", 1200, 1000, 30, "invented, flat, 30 m");
    }
    return *flat_;
}

Ground Grounds::large_rough() const {
    return generated("rough", 8100, 8100, 9, "invented, rough, 9 m");
}

terrain::GroundCover patches(const terrain::HeightGrid& ground, const std::string& file) {
    constexpr double side_m = 250.0;
    constexpr std::array<std::uint8_t, 4> classes{10, 30, 30, 50};
    const terrain::Georeference& g = ground.georeference;
    const auto size = g.cell_size_at(g.position_of({0.0, 0.0}));
    const auto side = static_cast<std::uint32_t>(std::max(1.0, std::round(side_m / size.down_m)));
    std::vector<std::uint8_t> codes;
    codes.reserve(ground.height_m.size());
    for (std::uint32_t row = 0; row < static_cast<std::uint32_t>(ground.rows); ++row) {
        for (std::uint32_t column = 0; column < static_cast<std::uint32_t>(ground.columns);
             ++column) {
            std::uint32_t h = (column / side) * 2654435761U ^ (row / side) * 2246822519U;
            h = (h ^ (h >> 15U)) * 3266489917U;
            codes.push_back(classes[(h >> 16U) % classes.size()]);
        }
    }
    GDALDatasetUniquePtr dataset(GetGDALDriverManager()->GetDriverByName("GTiff")->Create(
        file.c_str(), ground.columns, ground.rows, 1, GDT_Byte, nullptr));
    std::array<double, 6> transform{g.x0() - g.dx() / 2.0, g.dx(), 0.0,
                                    g.y0() - g.dy() / 2.0, 0.0,    g.dy()};
    if (!dataset || dataset->SetGeoTransform(transform.data()) != CE_None ||
        dataset->SetProjection(g.crs_wkt().c_str()) != CE_None ||
        dataset->GetRasterBand(1)->RasterIO(GF_Write, 0, 0, ground.columns, ground.rows,
                                            codes.data(), ground.columns, ground.rows, GDT_Byte, 0,
                                            0, nullptr) != CE_None) {
        gdal_failed("cannot write the invented cover");
    }
    dataset.reset();
    return terrain::GroundCover::load(std::vector<std::filesystem::path>{file},
                                      terrain::CoverTable::worldcover(), g, ground.columns,
                                      ground.rows);
}

terrain::HeightGrid crop(const terrain::HeightGrid& grid, int left, int top, int columns,
                         int rows) {
    terrain::HeightGrid part;
    part.columns = columns;
    part.rows = rows;
    part.georeference = grid.georeference.shifted(left, top);
    part.height_m.reserve(static_cast<std::size_t>(columns) * static_cast<std::size_t>(rows));
    for (int row = top; row < top + rows; ++row) {
        const auto first = grid.height_m.begin() + static_cast<std::ptrdiff_t>(row) * grid.columns;
        part.height_m.insert(part.height_m.end(), first + left, first + left + columns);
    }
    return part;
}

} // namespace earshot::bench
