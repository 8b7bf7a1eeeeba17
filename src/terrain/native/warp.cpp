#include "terrain/native/warp.hpp"

#include <cpl_string.h>
#include <fmt/format.h>
#include <gdal_utils.h>

#include <memory>

namespace earshot::terrain {
namespace {

struct WarpOptionsDeleter {
    void operator()(GDALWarpAppOptions* options) const { GDALWarpAppOptionsFree(options); }
};

} // namespace

GDALDatasetUniquePtr warped(GDALDatasetUniquePtr dataset, const CellFrame& frame,
                            const std::vector<std::string>& how) {
    const auto number = [](double value) { return fmt::format("{:.17g}", value); };
    CPLStringList arguments;
    for (const std::string& word : how) {
        arguments.AddString(word.c_str());
    }
    for (const std::string& word :
         {std::string("-of"), std::string("VRT"), std::string("-et"), std::string("0.01"),
          std::string("-t_srs"), frame.wkt, std::string("-te"), number(frame.west),
          number(frame.north + frame.rows * frame.dy),
          number(frame.west + frame.columns * frame.dx), number(frame.north), std::string("-ts"),
          std::to_string(frame.columns), std::to_string(frame.rows)}) {
        arguments.AddString(word.c_str());
    }
    const std::unique_ptr<GDALWarpAppOptions, WarpOptionsDeleter> warp(
        GDALWarpAppOptionsNew(arguments.List(), nullptr));
    GDALDatasetH source = GDALDataset::ToHandle(dataset.get());
    GDALDatasetUniquePtr result(
        GDALDataset::FromHandle(GDALWarp("", nullptr, 1, &source, warp.get(), nullptr)));
    if (result) {
        // The warped raster holds a reference to its source: give up ours without closing it.
        dataset.release()->ReleaseRef();
    }
    return result;
}

} // namespace earshot::terrain
