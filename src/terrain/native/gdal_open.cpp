#include "terrain/native/gdal_open.hpp"

#include "base/input_file.hpp"

#include <cpl_conv.h>
#include <cpl_http.h>
#include <cpl_string.h>
#include <cpl_vsi.h>
#include <ogr_srs_api.h>

#include <array>
#include <cstring>
#include <filesystem>
#include <memory>
#include <string_view>

namespace earshot::terrain {
namespace {

/// A virtual raster may hold others; deeper than this nobody nests them.
constexpr int deepest_nesting = 8;

void note_files_of(GDALDataset& dataset, const std::string& path, int depth) {
    note_input(path);
    const CPLStringList files(dataset.GetFileList());
    for (int k = 0; k < files.size(); ++k) {
        const char* const file = files[k];
        const bool virtual_raster =
            path != file && EQUAL(std::filesystem::path(file).extension().c_str(), ".vrt");
        note_input(file);
        if (virtual_raster && depth < deepest_nesting) {
            constexpr const char* only_virtual[] = {"VRT", nullptr};
            const GDALDatasetUniquePtr inner(GDALDataset::Open(file, GDAL_OF_RASTER, only_virtual));
            if (inner) {
                note_files_of(*inner, file, depth + 1);
            }
        }
    }
}

CPLHTTPResult* no_answer(const char*, CSLConstList, GDALProgressFunc, void*, CPLHTTPFetchWriteFunc,
                         void*, void*) {
    // With no result at all GDAL would go and fetch it.
    auto* const result = static_cast<CPLHTTPResult*>(CPLCalloc(1, sizeof(CPLHTTPResult)));
    result->nStatus = 1;
    result->pszErrBuf = CPLStrdup("the network is never opened");
    CPLError(CE_Failure, CPLE_AppDefined, "the data asks for the network, which is never opened");
    return result;
}

} // namespace

GDALDatasetUniquePtr open_input(const std::string& path, unsigned flags, const char* const* drivers,
                                const char* const* options) {
    GDALDatasetUniquePtr dataset(GDALDataset::Open(path.c_str(), flags, drivers, options));
    if (dataset) {
        note_files_of(*dataset, path, 0);
    }
    return dataset;
}

void close_network() {
    // File systems whose files are addresses: one that opens nothing takes the place of each.
    for (const char* const system :
         {"/vsicurl/", "/vsicurl_streaming/", "/vsis3/", "/vsis3_streaming/", "/vsigs/",
          "/vsigs_streaming/", "/vsiaz/", "/vsiaz_streaming/", "/vsiadls/", "/vsioss/",
          "/vsioss_streaming/", "/vsiswift/", "/vsiswift_streaming/", "/vsihdfs/",
          "/vsiwebhdfs/"}) {
        VSIFilesystemPluginCallbacksStruct* const shut = VSIAllocFilesystemPluginCallbacksStruct();
        shut->open = [](void*, const char*, const char*) -> void* { return nullptr; };
        VSIInstallPluginHandler(system, shut);
        VSIFreeFilesystemPluginCallbacksStruct(shut);
    }
    CPLHTTPSetFetchCallback(no_answer, nullptr);
    // Drivers that speak to servers by means of their own.
    for (const char* const name :
         {"AmigoCloud",    "Carto",         "CSW",  "DAAS",      "EEDA",         "EEDAI",
          "Elasticsearch", "GMLAS",         "HTTP", "MongoDBv3", "MSSQLSpatial", "MySQL",
          "NGW",           "OAPIF",         "ODBC", "OGCAPI",    "PLMOSAIC",     "PLSCENES",
          "PostgreSQL",    "PostGISRaster", "WCS",  "WFS",       "WMS",          "WMTS"}) {
        if (GDALDriver* const driver = GetGDALDriverManager()->GetDriverByName(name)) {
            GetGDALDriverManager()->DeregisterDriver(driver);
        }
    }
    OSRSetPROJEnableNetwork(0);
}

} // namespace earshot::terrain
