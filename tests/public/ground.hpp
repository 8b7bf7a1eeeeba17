#pragma once

#include "earshot/coverage/raster.hpp"
#include "earshot/terrain/height_grid.hpp"

#include <unistd.h>

#include <cmath>
#include <filesystem>

/// Invented ground for the examples, made of public headers alone.

namespace examples {

inline constexpr earshot::geo::LatLon ridge{46.970, 15.030};
inline constexpr earshot::geo::LatLon camp{46.960, 15.042};

/// Rolling hills, 75 m from cell to cell.
inline earshot::terrain::HeightGrid hills() {
    earshot::terrain::HeightGrid ground;
    ground.columns = ground.rows = 60;
    ground.georeference = earshot::terrain::Georeference("EPSG:4326", 15.0, 47.0, 0.001, -0.001);
    for (int row = 0; row < ground.rows; ++row) {
        for (int column = 0; column < ground.columns; ++column) {
            ground.height_m.push_back(static_cast<float>(400.0 + 60.0 * std::sin(0.31 * column) +
                                                         40.0 * std::cos(0.23 * row)));
        }
    }
    return ground;
}

/// A folder that goes away with the example.
class Folder {
public:
    Folder()
        : path_(std::filesystem::temp_directory_path() /
                ("earshot-example-" + std::to_string(getpid()))) {
        std::filesystem::create_directories(path_);
    }
    ~Folder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;
    [[nodiscard]] const std::filesystem::path& path() const { return path_; }

private:
    std::filesystem::path path_;
};

} // namespace examples
