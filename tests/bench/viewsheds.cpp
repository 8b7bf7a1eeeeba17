#include "viewsheds.hpp"

#include "earshot/base/error.hpp"

#include <fmt/format.h>
#include <gdal_alg.h>
#include <gdal_priv.h>
#include <ogr_spatialref.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <fstream>

namespace earshot::bench {
namespace {

constexpr double k_factor = 4.0 / 3.0;
constexpr double far_m = 1e6; ///< farther than any map here reaches

struct Observer {
    double east_m, north_m;
};

Observer observer_of(const Map& map) {
    const terrain::Georeference& cells = map.grid.georeference;
    return {cells.x0() + map.site_cell.column * cells.dx(),
            cells.y0() + map.site_cell.row * cells.dy()};
}

std::vector<std::uint8_t> read_seen(GDALDataset* dataset, const Map& map, const std::string& what) {
    if (dataset == nullptr || dataset->GetRasterXSize() != map.grid.columns ||
        dataset->GetRasterYSize() != map.grid.rows) {
        throw_input(fmt::format("{} has not written a raster of the map's size", what));
    }
    std::vector<std::uint8_t> seen(static_cast<std::size_t>(map.grid.columns) *
                                   static_cast<std::size_t>(map.grid.rows));
    if (dataset->GetRasterBand(1)->RasterIO(GF_Read, 0, 0, map.grid.columns, map.grid.rows,
                                            seen.data(), map.grid.columns, map.grid.rows, GDT_Byte,
                                            0, 0, nullptr) != CE_None) {
        throw_input(fmt::format("cannot read what {} wrote", what));
    }
    std::ranges::replace_if(
        seen, [](std::uint8_t value) { return value != 1; }, std::uint8_t{0});
    return seen;
}

} // namespace

Viewshed gdal_program(const Map& map, const Ground& ground, const ScratchFolder& scratch) {
    const Observer observer = observer_of(map);
    const std::string output = scratch.file("plane.tif");
    Viewshed view;
    view.seconds = launch({"gdal_viewshed", "-q",
                           "-ox",           fmt::format("{:.3f}", observer.east_m),
                           "-oy",           fmt::format("{:.3f}", observer.north_m),
                           "-oz",           fmt::format("{}", map.request.site_antenna_m),
                           "-tz",           fmt::format("{}", map.request.receiver_antenna_m),
                           "-md",           fmt::format("{:.0f}", far_m),
                           "-cc",           fmt::format("{}", 1.0 / k_factor),
                           "-vv",           "1",
                           "-iv",           "0",
                           ground.file,     output},
                          scratch.file("plane.log"))
                       .seconds;
    view.seen = read_seen(GDALDatasetUniquePtr(GDALDataset::Open(output.c_str())).get(), map,
                          "gdal_viewshed");
    return view;
}

Viewshed gdal_library(const Map& map) {
    const Observer observer = observer_of(map);
    const terrain::HeightGrid& ground = map.ground;
    const GDALDatasetUniquePtr memory(GetGDALDriverManager()->GetDriverByName("MEM")->Create(
        "", ground.columns, ground.rows, 1, GDT_Float32, nullptr));
    std::array<double, 6> transform{ground.georeference.x0() - ground.georeference.dx() / 2.0,
                                    ground.georeference.dx(),
                                    0.0,
                                    ground.georeference.y0() - ground.georeference.dy() / 2.0,
                                    0.0,
                                    ground.georeference.dy()};
    memory->SetGeoTransform(transform.data());
    // GDAL takes the earth's radius from the CRS, and without one leaves the earth flat.
    OGRSpatialReference crs;
    if (crs.importFromWkt(ground.georeference.crs_wkt().c_str()) != OGRERR_NONE ||
        memory->SetSpatialRef(&crs) != CE_None) {
        throw_input("GDAL does not understand the CRS of the heights");
    }
    // Only read, but the interface takes no constant.
    if (memory->GetRasterBand(1)->RasterIO(
            GF_Write, 0, 0, ground.columns, ground.rows, const_cast<float*>(ground.height_m.data()),
            ground.columns, ground.rows, GDT_Float32, 0, 0, nullptr) != CE_None) {
        throw_input("cannot hand the heights to GDAL");
    }
    const auto start = std::chrono::steady_clock::now();
    const GDALDatasetUniquePtr output(GDALDataset::FromHandle(GDALViewshedGenerate(
        GDALRasterBand::ToHandle(memory->GetRasterBand(1)), "MEM", "", nullptr, observer.east_m,
        observer.north_m, map.request.site_antenna_m, map.request.receiver_antenna_m, 1.0, 0.0, 0.0,
        255.0, 1.0 / k_factor, GVM_Edge, far_m, nullptr, nullptr, GVOT_NORMAL, nullptr)));
    Viewshed view;
    view.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    view.seen = read_seen(output.get(), map, "GDALViewshedGenerate");
    return view;
}

Viewshed grass_program(const Map& map, const Ground& ground, const ScratchFolder& scratch) {
    const Observer observer = observer_of(map);
    const std::string output = scratch.file("grass.tif");
    const std::string seconds = scratch.file("grass.seconds");
    const std::string script = scratch.file("grass.sh");
    // The refraction coefficient is 1 - 1 / k.
    std::ofstream(script) << fmt::format(
        "set -e\n"
        "r.in.gdal -o --q input={0} output=ground\n"
        "g.region raster=ground\n"
        "start=$(date +%s.%N)\n"
        "r.viewshed -c -r -b --q --o input=ground output=view coordinates={1:.3f},{2:.3f} "
        "observer_elevation={3} target_elevation={4} refraction_coeff={5} memory=4000\n"
        "end=$(date +%s.%N)\n"
        "echo $start $end > {6}\n"
        "r.out.gdal --q --o input=view output={7} type=Byte nodata=255 format=GTiff\n",
        ground.file, observer.east_m, observer.north_m, map.request.site_antenna_m,
        map.request.receiver_antenna_m, 1.0 - 1.0 / k_factor, seconds, output);
    static_cast<void>(launch({"grass", "--tmp-location", ground.file, "--exec", "bash", script},
                             scratch.file("grass.log")));
    Viewshed view;
    double start = 0.0;
    double end = 0.0;
    std::ifstream(seconds) >> start >> end;
    view.seconds = end - start;
    view.seen =
        read_seen(GDALDatasetUniquePtr(GDALDataset::Open(output.c_str())).get(), map, "r.viewshed");
    return view;
}

} // namespace earshot::bench
