#include "earshot/report/files/coverage_geotiff.hpp"

#include "base/memory.hpp"
#include "base/output_file.hpp"
#include "base/parallel.hpp"
#include "earshot/base/error.hpp"
#include "earshot/base/task.hpp"
#include "report/files/gdal_raster.hpp"
#include "terrain/native/gdal_errors.hpp"

#include <cpl_conv.h>
#include <cpl_string.h>
#include <fmt/format.h>
#include <gdal_priv.h>
#include <ogr_spatialref.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <system_error>

namespace earshot::report {
namespace {

namespace fs = std::filesystem;
using terrain::GdalErrors;

/// Side of a tile: 512 cells, less where all of the map needs less.
int tile_cells(int columns, int rows) {
    int side = 128;
    while (side < 512 && side < std::max(columns, rows)) {
        side *= 2;
    }
    return side;
}

std::size_t index_of(int column, int row, int columns) {
    return static_cast<std::size_t>(row) * static_cast<std::size_t>(columns) +
           static_cast<std::size_t>(column);
}

/// A band of a raster in memory as GDAL wants to read it: the values stay where they are, and NaN
/// becomes nodata in the one tile being copied. (GDAL's own in-memory driver could borrow the
/// values too, but not translate NaN.)
class BandView final : public GDALRasterBand {
public:
    BandView(GDALDataset& owner, const coverage::CoverageRaster& raster, const coverage::Band& band)
        : band_(band) {
        poDS = &owner;
        nRasterXSize = raster.columns;
        nRasterYSize = raster.rows;
        nBlockXSize = nBlockYSize = tile_cells(raster.columns, raster.rows);
        eDataType = GDT_Float32;
        eAccess = GA_ReadOnly;
        SetDescription(band.name.c_str());
    }

    const char* GetUnitType() override { return band_.unit.c_str(); }
    double GetNoDataValue(int* known) override {
        if (known != nullptr) {
            *known = TRUE;
        }
        return static_cast<double>(coverage::nodata);
    }

protected:
    CPLErr IReadBlock(int tile_column, int tile_row, void* tile) override {
        auto* out = static_cast<float*>(tile);
        const int left = tile_column * nBlockXSize;
        const int top = tile_row * nBlockYSize;
        const int width = std::min(nBlockXSize, nRasterXSize - left);
        const int height = std::min(nBlockYSize, nRasterYSize - top);
        for (int row = 0; row < height; ++row) {
            const float* from = band_.values.data() + index_of(left, top + row, nRasterXSize);
            std::replace_copy_if(
                from, from + width, out + index_of(0, row, nBlockXSize),
                [](float value) { return std::isnan(value); }, coverage::nodata);
        }
        return CE_None;
    }

private:
    const coverage::Band& band_;
};

/// A coverage raster as GDAL wants to read it.
class RasterView final : public GDALDataset {
public:
    explicit RasterView(const coverage::CoverageRaster& raster)
        : georeference_(raster.georeference), crs_(spatial_reference(raster.georeference)) {
        nRasterXSize = raster.columns;
        nRasterYSize = raster.rows;
        eAccess = GA_ReadOnly;
        for (const coverage::Band& band : raster.bands) {
            // The dataset owns its bands.
            SetBand(GetRasterCount() + 1, new BandView(*this, raster, band));
        }
        CPLStringList metadata;
        metadata.SetNameValue(GDALMD_AREA_OR_POINT, GDALMD_AOP_AREA);
        for (const auto& [key, value] : raster.metadata) {
            metadata.SetNameValue(key.c_str(), value.c_str());
        }
        SetMetadata(metadata.List());
    }

    CPLErr GetGeoTransform(double* transform) override {
        std::ranges::copy(geo_transform(georeference_), transform);
        return CE_None;
    }
    const OGRSpatialReference* GetSpatialRef() const override { return &crs_; }

private:
    const terrain::Georeference& georeference_;
    OGRSpatialReference crs_;
};

/// Overview cells are means of the cells below them that are known. The mean of two class numbers
/// is no class, and GDAL resamples all bands alike: a class band makes the file take single cells.
const char* overview_resampling(const coverage::CoverageRaster& raster) {
    const bool classes = std::ranges::any_of(
        raster.bands, [](const coverage::Band& band) { return band.unit == "1"; });
    return classes ? "NEAREST" : "AVERAGE";
}

CPLStringList creation_options(const coverage::CoverageRaster& raster) {
    CPLStringList options;
    options.SetNameValue("COMPRESS", "DEFLATE");
    options.SetNameValue("PREDICTOR", "FLOATING_POINT");
    options.SetNameValue("OVERVIEW_PREDICTOR", "FLOATING_POINT");
    options.SetNameValue("BLOCKSIZE",
                         std::to_string(tile_cells(raster.columns, raster.rows)).c_str());
    options.SetNameValue("OVERVIEW_RESAMPLING", overview_resampling(raster));
    // Sizes after compression are not known beforehand; classic TIFF ends at 4 GiB.
    options.SetNameValue("BIGTIFF", "IF_SAFER");
    options.SetNameValue("NUM_THREADS", std::to_string(default_thread_count()).c_str());
    return options;
}

void check_shape(const coverage::CoverageRaster& raster) {
    const bool shaped = raster.columns > 0 && raster.rows > 0 && !raster.bands.empty() &&
                        std::ranges::all_of(raster.bands, [&](const coverage::Band& band) {
                            return band.values.size() == index_of(0, raster.rows, raster.columns);
                        });
    if (!shaped) {
        throw Error(Fault::internal,
                    "a map without cells or bands, or with bands of the wrong size, cannot be "
                    "written; please report this fault");
    }
}

std::vector<std::pair<std::string, std::string>> metadata_of(GDALDataset& dataset) {
    std::vector<std::pair<std::string, std::string>> metadata;
    const CPLStringList items(dataset.GetMetadata(), FALSE);
    for (int k = 0; k < items.Count(); ++k) {
        const std::string item = items[k];
        const std::size_t equals = item.find('=');
        if (equals != std::string::npos && item.substr(0, equals) != GDALMD_AREA_OR_POINT) {
            metadata.emplace_back(item.substr(0, equals), item.substr(equals + 1));
        }
    }
    return metadata;
}

GDALDatasetUniquePtr open_geotiff(const fs::path& path) {
    constexpr std::array<const char*, 2> drivers{"GTiff", nullptr};
    return GDALDatasetUniquePtr(GDALDataset::Open(
        path.c_str(), GDAL_OF_RASTER | GDAL_OF_VERBOSE_ERROR, drivers.data(), nullptr, nullptr));
}

/// GDAL drops what a GeoTIFF cannot hold with no more than a warning, so look.
void check_nothing_lost(const fs::path& file, const fs::path& name,
                        const coverage::CoverageRaster& raster) {
    const GdalErrors errors;
    const GDALDatasetUniquePtr dataset = open_geotiff(file);
    if (!dataset) {
        throw_output(fmt::format("cannot write {}: what was written cannot be read back ({})",
                                 name.string(), errors.reason()));
    }
    const OGRSpatialReference wanted = spatial_reference(raster.georeference);
    const OGRSpatialReference* got = dataset->GetSpatialRef();
    if (got == nullptr || got->IsSame(&wanted) == 0) {
        throw_output(fmt::format("cannot write {}: a GeoTIFF cannot hold the coordinate reference "
                                 "system {}; make the map in UTM",
                                 name.string(), raster.georeference.crs_label()));
    }
    const auto kept = static_cast<std::ptrdiff_t>(metadata_of(*dataset).size());
    if (kept != std::ranges::count_if(raster.metadata, [](const auto& entry) {
            return !entry.second.empty(); // GDAL writes no empty entries, and nothing is lost
        })) {
        throw_output(fmt::format("cannot write {}: part of what is to be said about the map got "
                                 "lost; give each key once, in letters, digits and underscores",
                                 name.string()));
    }
}

} // namespace

void write_coverage_geotiff(const fs::path& path, const coverage::CoverageRaster& raster,
                            Task& task) {
    check_shape(raster);
    OutputFile output(path);
    RasterView view(raster);
    write_cog(output, view, creation_options(raster), task);
    check_nothing_lost(output.temporary(), path, raster);
    output.commit();
    task.end();
}

coverage::CoverageRaster read_coverage_geotiff(const fs::path& path) {
    std::error_code ignored;
    if (!fs::exists(path, ignored)) {
        throw_input(fmt::format("{}: there is no such file; check the name", path.string()));
    }
    const GdalErrors errors;
    const GDALDatasetUniquePtr dataset = open_geotiff(path);
    if (!dataset) {
        throw_input(fmt::format("{}: cannot be opened as a GeoTIFF ({}); give a map made by "
                                "earshot",
                                path.string(), errors.reason()));
    }
    const auto refuse = [&](const char* lack) {
        throw_input(fmt::format("{}: this is not a map made by earshot ({}); give one that is, "
                                "unchanged",
                                path.string(), lack));
    };
    coverage::CoverageRaster raster;
    raster.columns = dataset->GetRasterXSize();
    raster.rows = dataset->GetRasterYSize();
    std::array<double, 6> transform{};
    if (dataset->GetGeoTransform(transform.data()) != CE_None || transform[2] != 0.0 ||
        transform[4] != 0.0 || !(transform[1] > 0.0) || !(transform[5] < 0.0)) {
        refuse("it does not say where its cells lie, north up");
    }
    const OGRSpatialReference* crs = dataset->GetSpatialRef();
    constexpr std::array<const char*, 2> wkt_options{"FORMAT=WKT2_2019", nullptr};
    char* wkt = nullptr;
    if (crs == nullptr || crs->exportToWkt(&wkt, wkt_options.data()) != OGRERR_NONE) {
        refuse("it has no coordinate reference system");
    }
    const std::string crs_text = wkt;
    CPLFree(wkt);
    raster.georeference =
        terrain::Georeference(crs_text, transform[0] + transform[1] / 2.0,
                              transform[3] + transform[5] / 2.0, transform[1], transform[5]);
    raster.georeference.set_columns(raster.columns);
    raster.metadata = metadata_of(*dataset);

    const std::size_t cells = index_of(0, raster.rows, raster.columns);
    if (dataset->GetRasterCount() == 0) {
        refuse("it has no bands");
    }
    require_memory(static_cast<std::uint64_t>(cells) * sizeof(float) *
                       static_cast<std::uint64_t>(dataset->GetRasterCount()),
                   fmt::format("reading the map {}", path.string()));
    for (int number = 1; number <= dataset->GetRasterCount(); ++number) {
        GDALRasterBand& source = *dataset->GetRasterBand(number);
        int has_nodata = FALSE;
        const double nodata = source.GetNoDataValue(&has_nodata);
        if (source.GetRasterDataType() != GDT_Float32 || has_nodata == FALSE ||
            nodata != static_cast<double>(coverage::nodata)) {
            refuse("its bands are not Float32 with nodata -9999");
        }
        coverage::Band band{source.GetDescription(), source.GetUnitType(),
                            std::vector<float>(cells)};
        if (band.name.empty()) {
            refuse("its bands have no names");
        }
        if (source.RasterIO(GF_Read, 0, 0, raster.columns, raster.rows, band.values.data(),
                            raster.columns, raster.rows, GDT_Float32, 0, 0, nullptr) != CE_None) {
            throw_input(fmt::format("{}: the file is damaged or cut short ({}); make the map again",
                                    path.string(), errors.reason()));
        }
        std::ranges::replace(band.values, coverage::nodata,
                             std::numeric_limits<float>::quiet_NaN());
        raster.bands.push_back(std::move(band));
    }
    return raster;
}

} // namespace earshot::report
