// Line of sight over real ground against r.viewshed of GRASS GIS (Debian package grass-core), whose
// sweep is exact for its model of the ground, and against gdal_viewshed (package gdal-bin), whose
// plane method is known to be approximate: its agreement is reported, not required.

#include "earshot/coverage/sweep.hpp"
#include "ground.hpp"
#include "setting.hpp"

#include <catch2/catch.hpp>
#include <gdal_priv.h>
#include <gdal_utils.h>
#include <unistd.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <string>
#include <vector>

using namespace earshot;
namespace fs = std::filesystem;

namespace {

class TemporaryFolder {
public:
    TemporaryFolder()
        : path_(fs::temp_directory_path() / ("earshot-view-" + std::to_string(getpid()))) {
        fs::create_directories(path_);
    }
    ~TemporaryFolder() {
        std::error_code ignored;
        fs::remove_all(path_, ignored);
    }
    TemporaryFolder(const TemporaryFolder&) = delete;
    TemporaryFolder& operator=(const TemporaryFolder&) = delete;
    [[nodiscard]] std::string file(const std::string& name) const {
        return (path_ / name).string();
    }

private:
    fs::path path_;
};

/// The sample in UTM, since GRASS wants metres.
void write_utm(const std::string& path) {
    GDALAllRegister();
    const std::vector<const char*> words{"-t_srs",  "EPSG:32616", "-tr",      "90",
                                         "90",      "-r",         "bilinear", "-ot",
                                         "Float32", "-dstnodata", "-9999",    nullptr};
    GDALWarpAppOptions* options = GDALWarpAppOptionsNew(const_cast<char**>(words.data()), nullptr);
    GDALDatasetH source =
        GDALOpen(EARSHOT_SOURCE_DIR "/dem-samples/cumberland_3arcsec.tif", GA_ReadOnly);
    REQUIRE(source != nullptr);
    GDALDatasetH target = GDALWarp(path.c_str(), nullptr, 1, &source, options, nullptr);
    REQUIRE(target != nullptr);
    GDALClose(target);
    GDALClose(source);
    GDALWarpAppOptionsFree(options);
}

std::vector<float> read_band(const std::string& path, int columns, int rows) {
    auto* dataset = static_cast<GDALDataset*>(GDALOpen(path.c_str(), GA_ReadOnly));
    REQUIRE(dataset != nullptr);
    REQUIRE(dataset->GetRasterXSize() == columns);
    REQUIRE(dataset->GetRasterYSize() == rows);
    std::vector<float> values(static_cast<std::size_t>(columns) * static_cast<std::size_t>(rows));
    REQUIRE(dataset->GetRasterBand(1)->RasterIO(GF_Read, 0, 0, columns, rows, values.data(),
                                                columns, rows, GDT_Float32, 0, 0) == CE_None);
    GDALClose(dataset);
    return values;
}

struct Difference {
    std::size_t cells = 0;
    std::size_t differ = 0;
    std::size_t beside_break = 0; ///< of those that differ, next to a seen and a hidden cell
};

/// Compares our sight with theirs (0 hidden, 1 seen, -1 not computed) over cells both know.
Difference difference(const coverage::MapGrid& map, const std::vector<coverage::SightClass>& ours,
                      const std::vector<int>& theirs) {
    Difference result;
    const auto at = [&](int column, int row) {
        return static_cast<std::size_t>(row) * static_cast<std::size_t>(map.columns) +
               static_cast<std::size_t>(column);
    };
    const auto seen = [&](std::size_t i) { return ours[i] != coverage::SightClass::blocked; };
    for (int row = 1; row + 1 < map.rows; ++row) {
        for (int column = 1; column + 1 < map.columns; ++column) {
            const std::size_t i = at(column, row);
            if (ours[i] == coverage::SightClass::unknown || theirs[i] < 0) {
                continue;
            }
            ++result.cells;
            if (seen(i) == (theirs[i] == 1)) {
                continue;
            }
            ++result.differ;
            bool any_seen = false;
            bool any_hidden = false;
            for (int dy = -1; dy <= 1; ++dy) {
                for (int dx = -1; dx <= 1; ++dx) {
                    const std::size_t k = at(column + dx, row + dy);
                    any_seen = any_seen || seen(k) || theirs[k] == 1;
                    any_hidden = any_hidden || !seen(k) || theirs[k] == 0;
                }
            }
            result.beside_break += any_seen && any_hidden ? 1U : 0U;
        }
    }
    return result;
}

double agreement(const Difference& d) {
    return 100.0 * (1.0 - static_cast<double>(d.differ) / static_cast<double>(d.cells));
}

} // namespace

TEST_CASE("line of sight over real ground agrees with r.viewshed", "[viewshed]") {
    const TemporaryFolder folder;
    write_utm(folder.file("ground.tif"));
    const terrain::HeightGrid ground =
        terrain::TerrainSource::open({folder.file("ground.tif")}).load_all();
    const coverage::MapGrid map{ground.columns, ground.rows, ground.georeference};

    struct Site {
        const char* what;
        double east_m, north_m, antenna_m;
    };
    for (const Site& place :
         {Site{"ridge", 748400.0, 4052000.0, 10.0}, Site{"valley", 752000.0, 4049000.0, 2.0},
          Site{"slope", 744000.0, 4057000.0, 20.0}}) {
        CAPTURE(place.what);
        // The centre of the cell, so that both start from the same ground.
        const double column = std::round((place.east_m - ground.georeference.x0()) / 90.0);
        const double row = std::round((ground.georeference.y0() - place.north_m) / 90.0);
        const double east_m = ground.georeference.x0() + 90.0 * column;
        const double north_m = ground.georeference.y0() - 90.0 * row;
        coverage::SweepRequest request;
        request.site = ground.georeference.position_of({column, row});
        request.site_antenna_m = place.antenna_m;
        request.receiver_antenna_m = 1.5;
        request.range_m = 14000.0;
        request.conditions.method = propagation::Method::free_space;
        request.conditions.k_factor = 4.0 / 3.0;
        request.engine = coverage::Engine::exact;
        const coverage::SweepResult exact = coverage::sweep(map, test::on(ground, request));
        request.engine = coverage::Engine::carried;
        const coverage::SweepResult carried = coverage::sweep(map, test::on(ground, request));

        // k = 4/3 is a refraction coefficient of 1 - 1/k = 0.25.
        {
            std::ofstream script(folder.file("view.sh"));
            script << "set -e\n"
                   << "r.in.gdal -o --q input=" << folder.file("ground.tif") << " output=ground\n"
                   << "g.region raster=ground\n"
                   << "r.viewshed -c -r -b --q --o input=ground output=view coordinates="
                   << std::to_string(east_m) << "," << std::to_string(north_m)
                   << " observer_elevation=" << place.antenna_m
                   << " target_elevation=1.5 max_distance=14000 refraction_coeff=0.25\n"
                   << "r.out.gdal --q --o input=view output=" << folder.file("grass.tif")
                   << " type=Byte nodata=255 format=GTiff\n";
        }
        const std::string grass = "grass --tmp-location EPSG:32616 --exec bash " +
                                  folder.file("view.sh") + " >" + folder.file("grass.log") +
                                  " 2>&1";
        INFO("needs the Debian package grass-core: " << grass);
        REQUIRE(std::system(grass.c_str()) == 0);
        std::vector<int> theirs;
        for (const float value : read_band(folder.file("grass.tif"), map.columns, map.rows)) {
            theirs.push_back(value == 1.0F ? 1 : 0);
        }
        const std::string plane =
            "gdal_viewshed -q -ox " + std::to_string(east_m) + " -oy " + std::to_string(north_m) +
            " -oz " + std::to_string(place.antenna_m) + " -tz 1.5 -md 14000 -cc 0.75 " +
            folder.file("ground.tif") + " " + folder.file("plane.tif") + " >/dev/null 2>&1";
        REQUIRE(std::system(plane.c_str()) == 0);
        std::vector<int> planes(theirs.size(), -1);
        {
            // gdal_viewshed cuts its output to the range: place it by its own corner.
            auto* dataset =
                static_cast<GDALDataset*>(GDALOpen(folder.file("plane.tif").c_str(), GA_ReadOnly));
            REQUIRE(dataset != nullptr);
            double corner[6];
            dataset->GetGeoTransform(corner);
            const int wide = dataset->GetRasterXSize();
            const int high = dataset->GetRasterYSize();
            std::vector<float> values(static_cast<std::size_t>(wide * high));
            REQUIRE(dataset->GetRasterBand(1)->RasterIO(GF_Read, 0, 0, wide, high, values.data(),
                                                        wide, high, GDT_Float32, 0, 0) == CE_None);
            GDALClose(dataset);
            const auto left = std::lround((corner[0] + 45.0 - ground.georeference.x0()) / 90.0);
            const auto top = std::lround((ground.georeference.y0() - corner[3] + 45.0) / 90.0);
            for (int r = 0; r < high; ++r) {
                for (int c = 0; c < wide; ++c) {
                    planes[static_cast<std::size_t>((top + r) * map.columns + left + c)] =
                        values[static_cast<std::size_t>(r * wide + c)] > 0.0F ? 1 : 0;
                }
            }
        }
        const Difference grass_exact = difference(map, exact.sight, theirs);
        const Difference grass_carried = difference(map, carried.sight, theirs);
        const Difference plane_exact = difference(map, exact.sight, planes);
        std::cout << "line of sight, " << place.what << ": " << grass_exact.cells
                  << " cells; exact engine agrees with r.viewshed in " << agreement(grass_exact)
                  << " %, carried engine in " << agreement(grass_carried)
                  << " %; exact engine agrees with gdal_viewshed in " << agreement(plane_exact)
                  << " %; of the cells that differ from r.viewshed " << grass_exact.beside_break
                  << " of " << grass_exact.differ << " lie beside a break of visibility\n";
        CHECK(grass_exact.cells > 50000);
        CHECK(agreement(grass_exact) >= 98.0);
        CHECK(agreement(grass_carried) >= 98.0);
        CHECK(grass_exact.beside_break >= grass_exact.differ * 99 / 100);
    }
}
