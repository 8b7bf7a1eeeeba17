#pragma once

#include "earshot/terrain/ground_cover.hpp"
#include "earshot/terrain/height_grid.hpp"
#include "earshot/terrain/terrain_source.hpp"

#include <catch2/catch.hpp>
#include <gdal_priv.h>

#include <array>
#include <cmath>
#include <cstdint>
#include <filesystem>
#include <vector>

namespace earshot::test {

/// Real ground: U.S. Geological Survey elevation, see dem-samples/README.md.
inline terrain::HeightGrid cumberland() {
    return terrain::TerrainSource::open({EARSHOT_SOURCE_DIR "/dem-samples/cumberland_3arcsec.tif"})
        .load_all();
}

/// Invented ground: hills of random heights on a lattice, joined smoothly. 30 m cells in UTM 16N.
inline terrain::HeightGrid rough_ground(int columns, int rows, double relief_m) {
    terrain::HeightGrid grid;
    grid.columns = columns;
    grid.rows = rows;
    grid.georeference = terrain::Georeference("EPSG:32616", 700015.0, 4099985.0, 30.0, -30.0);
    const auto lattice = [](int i, int j) {
        std::uint32_t h =
            static_cast<std::uint32_t>(i) * 73856093U ^ static_cast<std::uint32_t>(j) * 19349663U;
        h = (h ^ (h >> 13)) * 0x5bd1e995U;
        return static_cast<double>((h ^ (h >> 15)) & 0xffffU) / 65535.0;
    };
    const auto smooth = [](double t) { return t * t * (3.0 - 2.0 * t); };
    for (int row = 0; row < rows; ++row) {
        for (int column = 0; column < columns; ++column) {
            double height = 100.0;
            double amplitude = relief_m;
            for (int cell = 64; cell >= 4; cell /= 2, amplitude /= 2.0) {
                const int i = column / cell;
                const int j = row / cell;
                const double s = smooth(static_cast<double>(column % cell) / cell);
                const double t = smooth(static_cast<double>(row % cell) / cell);
                const double top = std::lerp(lattice(i, j + cell), lattice(i + 1, j + cell), s);
                const double bottom =
                    std::lerp(lattice(i, j + 1 + cell), lattice(i + 1, j + 1 + cell), s);
                height += amplitude * std::lerp(top, bottom, t);
            }
            grid.height_m.push_back(static_cast<float>(height));
        }
    }
    return grid;
}

/// Invented cover: patches of `side` by `side` cells of open ground, houses and woods, by the codes
/// of ESA WorldCover.
inline terrain::GroundCover patches(const terrain::HeightGrid& ground, int side) {
    std::vector<std::uint8_t> codes;
    for (int row = 0; row < ground.rows; ++row) {
        for (int column = 0; column < ground.columns; ++column) {
            std::uint32_t h = static_cast<std::uint32_t>(column / side) * 2654435761U ^
                              static_cast<std::uint32_t>(row / side) * 2246822519U;
            h = (h ^ (h >> 15)) * 3266489917U;
            constexpr std::array<std::uint8_t, 4> classes{10, 30, 30, 50};
            codes.push_back(classes[(h >> 16) % classes.size()]);
        }
    }
    const char* file = "/vsimem/patches.tif";
    GDALAllRegister();
    GDALDriver* driver = GetGDALDriverManager()->GetDriverByName("GTiff");
    auto* dataset = driver->Create(file, ground.columns, ground.rows, 1, GDT_Byte, nullptr);
    const terrain::Georeference& g = ground.georeference;
    std::array<double, 6> transform{g.x0() - g.dx() / 2.0, g.dx(), 0.0,
                                    g.y0() - g.dy() / 2.0, 0.0,    g.dy()};
    REQUIRE(dataset->SetGeoTransform(transform.data()) == CE_None);
    REQUIRE(dataset->SetProjection(g.crs_wkt().c_str()) == CE_None);
    REQUIRE(dataset->GetRasterBand(1)->RasterIO(GF_Write, 0, 0, ground.columns, ground.rows,
                                                codes.data(), ground.columns, ground.rows, GDT_Byte,
                                                0, 0) == CE_None);
    GDALClose(dataset);
    return terrain::GroundCover::load(std::vector<std::filesystem::path>{file},
                                      terrain::CoverTable::worldcover(), g, ground.columns,
                                      ground.rows);
}

} // namespace earshot::test
