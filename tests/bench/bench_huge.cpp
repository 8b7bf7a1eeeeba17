#include "base/parallel.hpp"
#include "benchmarks.hpp"
#include "earshot/base/error.hpp"
#include "earshot/geo/position.hpp"
#include "maps.hpp"

#include <fmt/format.h>
#include <gdal_priv.h>
#include <nlohmann/json.hpp>
#include <ogr_spatialref.h>

#include <array>
#include <cmath>
#include <cstdint>
#include <filesystem>
#include <fstream>

namespace earshot::bench {
namespace {

constexpr int utm_33n_epsg = 32633;
constexpr int tiles_each_way = 5;
constexpr int tile_cells = 5000;
constexpr double cell_m = 10.0;
constexpr double side_m = tiles_each_way * tile_cells * cell_m;
constexpr double west_m = 500000.0 - side_m / 2.0;
constexpr double north_m = 5000000.0 + side_m / 2.0;
constexpr double range_m = 100.04e3; // 20,000 cells each way, in a projection of scale 0.9996

/// Hills as a sum of products of waves along the axes: cheap, since a row shares its factors.
struct Wave {
    double east_km, north_km, height_m;
};
constexpr std::array waves{Wave{47.0, 53.0, 150.0}, Wave{17.3, 13.1, 120.0}, Wave{5.9, 6.7, 60.0},
                           Wave{1.93, 2.21, 25.0},  Wave{0.61, 0.53, 8.0},   Wave{0.17, 0.19, 2.0}};

double factor(double at_m, double wavelength_km) {
    return std::sin(at_m / 1000.0 / wavelength_km * 6.283185307179586);
}

void write_tile(const std::string& file, int across, int down) {
    GDALDatasetUniquePtr tile(GetGDALDriverManager()->GetDriverByName("GTiff")->Create(
        file.c_str(), tile_cells, tile_cells, 1, GDT_Int16, nullptr));
    if (!tile) {
        throw_output(fmt::format("cannot write {}: {}", file, CPLGetLastErrorMsg()));
    }
    const double tile_west_m = across * tile_cells * cell_m;
    const double tile_north_m = down * tile_cells * cell_m;
    std::array<double, 6> transform{west_m + tile_west_m,   cell_m, 0.0,
                                    north_m - tile_north_m, 0.0,    -cell_m};
    tile->SetGeoTransform(transform.data());
    OGRSpatialReference crs;
    crs.importFromEPSG(utm_33n_epsg);
    tile->SetSpatialRef(&crs);
    std::array<std::vector<double>, waves.size()> along;
    for (std::size_t w = 0; w < waves.size(); ++w) {
        for (int column = 0; column < tile_cells; ++column) {
            along[w].push_back(factor(tile_west_m + column * cell_m, waves[w].east_km));
        }
    }
    std::vector<std::int16_t> line(tile_cells);
    for (int row = 0; row < tile_cells; ++row) {
        std::array<double, waves.size()> height_m{};
        for (std::size_t w = 0; w < waves.size(); ++w) {
            height_m[w] =
                waves[w].height_m * factor(tile_north_m + row * cell_m, waves[w].north_km);
        }
        for (std::size_t column = 0; column < line.size(); ++column) {
            double sum = 500.0;
            for (std::size_t w = 0; w < waves.size(); ++w) {
                sum += height_m[w] * along[w][column];
            }
            line[column] = static_cast<std::int16_t>(std::lround(sum));
        }
        if (tile->GetRasterBand(1)->RasterIO(GF_Write, 0, row, tile_cells, 1, line.data(),
                                             tile_cells, 1, GDT_Int16, 0, 0, nullptr) != CE_None) {
            throw_output(fmt::format("cannot write {}: {}", file, CPLGetLastErrorMsg()));
        }
    }
}

} // namespace

std::vector<Table> bench_huge(Workshop& shop) {
    constexpr std::size_t tiles = std::size_t{tiles_each_way} * tiles_each_way;
    const std::filesystem::path folder = shop.scratch.file("tiles");
    std::filesystem::create_directories(folder);
    parallel_for(tiles, shop.threads, [&](std::size_t k, unsigned) {
        const int across = static_cast<int>(k) % tiles_each_way;
        const int down = static_cast<int>(k) / tiles_each_way;
        write_tile((folder / fmt::format("tile-{}-{}.tif", across, down)).string(), across, down);
    });
    const terrain::Georeference metres(fmt::format("EPSG:{}", utm_33n_epsg), 0.0, 0.0, 1.0, -1.0);
    const geo::LatLon site = metres.position_of({500000.0, -5000000.0});
    const std::string printed = shop.scratch.file("huge.json");
    const std::string output = shop.scratch.file("huge.tif");
    const Launched launched =
        launch({EARSHOT_PROGRAM, "map", "--frequency", "146MHz", "--terrain", folder.string(),
                "--at", geo::format_decimal(site), "--antenna-height",
                fmt::format("{}m", site_antenna_m), "--range", fmt::format("{:.0f}m", range_m),
                "--threads", std::to_string(shop.threads), "--out", output, "--json"},
               printed);
    std::ifstream stream(printed);
    const nlohmann::json summary = nlohmann::json::parse(stream);
    const auto columns = summary.at("columns").get<double>();
    const auto rows = summary.at("rows").get<double>();
    const auto predicted = summary.at("cells_predicted").get<double>();
    const auto sweep_s = summary.at("sweep_seconds").get<double>();
    constexpr double bytes_per_mib = 1048576.0;
    return {
        {fmt::format("A map larger than most: P.1812 by `earshot map` from {} tiles of {} x {} "
                     "cells of 10 m, {} threads",
                     tiles, format_count(tile_cells), format_count(tile_cells), shop.threads),
         {"what", "value"},
         {{"cells of the terrain",
           format_count(static_cast<double>(tiles) * tile_cells * tile_cells)},
          {"cells of the map", fmt::format("{} x {}", format_count(columns), format_count(rows))},
          {"of which within range and predicted", format_count(predicted)},
          {"start to end", format_seconds(launched.seconds)},
          {"of which prediction", format_seconds(sweep_s)},
          {"prediction per cell", format_seconds(sweep_s / predicted)},
          {"peak memory", fmt::format("{:.0f} MiB", launched.peak_mib)},
          {"per cell of the map",
           fmt::format("{:.1f} bytes", launched.peak_mib * bytes_per_mib / (columns * rows))},
          {"size of the map's file",
           fmt::format("{:.0f} MiB",
                       static_cast<double>(std::filesystem::file_size(output)) / bytes_per_mib)}},
         {}}};
}

} // namespace earshot::bench
