#pragma once

#include "earshot/terrain/height_grid.hpp"
#include "earshot/terrain/terrain_source.hpp"

#include <cmath>
#include <cstdint>

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

} // namespace earshot::test
