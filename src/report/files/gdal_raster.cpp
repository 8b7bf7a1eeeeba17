#include "report/files/gdal_raster.hpp"

#include "base/memory.hpp"
#include "earshot/base/error.hpp"
#include "earshot/base/task.hpp"
#include "link/quality.hpp"
#include "report/say/margin_classes.hpp"
#include "terrain/native/gdal_errors.hpp"

#include <cpl_conv.h>
#include <cpl_vsi.h>
#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <vector>

namespace earshot::report {
namespace {

/// The number of the class in link::Readability.
std::uint8_t class_number(double margin_db) {
    return margin_class_of(margin_db) == nullptr
               ? std::uint8_t{0}
               : static_cast<std::uint8_t>(link::readability(margin_db).readability);
}

GDALColorTable class_colours() {
    GDALColorTable table;
    const GDALColorEntry bare{255, 255, 255, 0};
    for (int value = 0; value < 256; ++value) {
        table.SetColorEntry(value, &bare);
    }
    for (const MarginClass& shown : margin_classes()) {
        const auto [red, green, blue] = colour_bytes(shown.colour);
        const GDALColorEntry entry{red, green, blue, 255};
        table.SetColorEntry(class_number(shown.lower_bound_db), &entry);
    }
    return table;
}

/// Passes GDAL's news on, and stops GDAL when the user asks.
struct TaskLink {
    static constexpr std::uint64_t steps = 1000;
    Task& task;
    std::uint64_t told = 0;

    static int CPL_STDCALL on_news(double share, const char* /*message*/, void* self) {
        auto& link = *static_cast<TaskLink*>(self);
        const auto now = static_cast<std::uint64_t>(std::clamp(share, 0.0, 1.0) * steps);
        if (now > link.told) {
            link.task.advance(now - link.told);
            link.told = now;
        }
        return link.task.stop_requested() ? FALSE : TRUE;
    }
};

} // namespace

OGRSpatialReference spatial_reference(const terrain::Georeference& georeference) {
    OGRSpatialReference crs;
    crs.SetFromUserInput(georeference.crs_wkt().c_str());
    crs.SetAxisMappingStrategy(OAMS_TRADITIONAL_GIS_ORDER);
    return crs;
}

std::array<double, 6> geo_transform(const terrain::Georeference& georeference) {
    return {georeference.x0() - georeference.dx() / 2.0,
            georeference.dx(),
            0.0,
            georeference.y0() - georeference.dy() / 2.0,
            0.0,
            georeference.dy()};
}

GDALDatasetUniquePtr class_dataset(const coverage::CoverageRaster& map) {
    std::vector<std::uint8_t> classes(map.bands.front().values.size());
    std::ranges::transform(map.bands.front().values, classes.begin(), [](float margin_db) {
        return class_number(static_cast<double>(margin_db));
    });
    GDALDatasetUniquePtr dataset(
        gdal_driver("MEM").Create("", map.columns, map.rows, 1, GDT_Byte, nullptr));
    const OGRSpatialReference crs = spatial_reference(map.georeference);
    std::array<double, 6> transform = geo_transform(map.georeference);
    GDALRasterBand* band = dataset ? dataset->GetRasterBand(1) : nullptr;
    GDALColorTable colours = class_colours();
    if (band == nullptr || dataset->SetSpatialRef(&crs) != CE_None ||
        dataset->SetGeoTransform(transform.data()) != CE_None ||
        band->SetColorTable(&colours) != CE_None || band->SetNoDataValue(0.0) != CE_None ||
        band->RasterIO(GF_Write, 0, 0, map.columns, map.rows, classes.data(), map.columns, map.rows,
                       GDT_Byte, 0, 0, nullptr) != CE_None) {
        throw Error(Fault::memory, "not enough memory for the map in classes; choose a shorter "
                                   "range or larger cells");
    }
    return dataset;
}

GDALDriver& gdal_driver(const char* name) {
    GDALDriver* driver = GetGDALDriverManager()->GetDriverByName(name);
    if (driver == nullptr) {
        throw_output(fmt::format("this GDAL cannot write {}; install GDAL 3.6 or later with all "
                                 "of its usual formats",
                                 name));
    }
    return *driver;
}

namespace {

/// Whether a file holds what was to be written, cell by cell: a library that runs out of memory on
/// a thread of its own may leave blocks out and say that all went well.
bool holds_what_was_written(const std::filesystem::path& file, GDALDataset& source) {
    constexpr const char* drivers[] = {"GTiff", nullptr};
    constexpr const char* options[] = {"NUM_THREADS=ALL_CPUS", nullptr};
    const GDALDatasetUniquePtr written(
        GDALDataset::Open(file.c_str(), GDAL_OF_RASTER, drivers, options));
    if (!written || written->GetRasterXSize() != source.GetRasterXSize() ||
        written->GetRasterYSize() != source.GetRasterYSize() ||
        written->GetRasterCount() != source.GetRasterCount()) {
        return false;
    }
    constexpr int most_rows = 1024;
    const int columns = source.GetRasterXSize();
    for (int number = 1; number <= source.GetRasterCount(); ++number) {
        GDALRasterBand& meant = *source.GetRasterBand(number);
        const GDALDataType type = meant.GetRasterDataType();
        const auto row_bytes = static_cast<std::size_t>(columns) *
                               static_cast<std::size_t>(GDALGetDataTypeSizeBytes(type));
        std::vector<std::byte> wanted(row_bytes * most_rows);
        std::vector<std::byte> got(row_bytes * most_rows);
        for (int row = 0; row < source.GetRasterYSize(); row += most_rows) {
            const int rows = std::min(most_rows, source.GetRasterYSize() - row);
            if (meant.RasterIO(GF_Read, 0, row, columns, rows, wanted.data(), columns, rows, type,
                               0, 0, nullptr) != CE_None ||
                written->GetRasterBand(number)->RasterIO(GF_Read, 0, row, columns, rows, got.data(),
                                                         columns, rows, type, 0, 0,
                                                         nullptr) != CE_None ||
                std::memcmp(wanted.data(), got.data(),
                            row_bytes * static_cast<std::size_t>(rows)) != 0) {
                return false;
            }
        }
    }
    return true;
}

} // namespace

void write_cog(const OutputFile& output, GDALDataset& source, const CPLStringList& options,
               Task& task) {
    // Its cache of blocks and what its threads compress; short of it the library fails at places
    // from which it does not find its way back.
    require_addresses(std::uint64_t{192} << 20U, "writing the map");
    const terrain::GdalErrors errors;
    // Nothing may end up in a side file that would not be renamed along.
    const CPLConfigOptionSetter no_side_files("GDAL_PAM_ENABLED", "NO", false);
    TaskLink link{task};
    task.begin("writing the map", TaskLink::steps);
    GDALDatasetUniquePtr written(gdal_driver("COG").CreateCopy(
        output.temporary().c_str(), &source, FALSE, options.List(), TaskLink::on_news, &link));
    const bool created = written != nullptr;
    written.reset(); // the last blocks are written now, and may fail
    task.throw_if_stopped();
    if (!created || errors.failed()) {
        throw_output(fmt::format("cannot write {}: {}; check the space left on the disk",
                                 output.path().string(), errors.reason()));
    }
    if (!holds_what_was_written(output.temporary(), source) || errors.failed()) {
        throw_output(fmt::format("cannot write {}: what was written reads back otherwise; check "
                                 "the disk and the memory that is free",
                                 output.path().string()));
    }
}

MemoryFile::MemoryFile(const std::string& extension) {
    static std::atomic<unsigned> made{0};
    path_ = fmt::format("/vsimem/earshot-{}.{}", ++made, extension);
}

MemoryFile::~MemoryFile() {
    VSIUnlink(path_.c_str());
}

std::string MemoryFile::content() const {
    vsi_l_offset size = 0;
    const GByte* bytes = VSIGetMemFileBuffer(path_.c_str(), &size, FALSE);
    return bytes == nullptr
               ? std::string()
               : std::string(reinterpret_cast<const char*>(bytes), static_cast<std::size_t>(size));
}

} // namespace earshot::report
