#pragma once

#include "grounds.hpp"
#include "maps.hpp"

#include <cstdint>
#include <vector>

namespace earshot::bench {

/// Line of sight over all of a map by someone else's program.
struct Viewshed {
    double seconds = 0.0;
    std::vector<std::uint8_t> seen; ///< row-major over the map: 1 seen, 0 hidden
};

/// The commands take heights from the ground's file; each throws Error(Fault::input) if its
/// program is not there. Earth radius of 4/3 in all of them.

/// The command gdal_viewshed (Debian package gdal-bin), from start to end.
[[nodiscard]] Viewshed gdal_program(const Map& map, const Ground& ground,
                                    const ScratchFolder& scratch);
/// The same algorithm, called in this process on heights in memory.
[[nodiscard]] Viewshed gdal_library(const Map& map);
/// The command r.viewshed (Debian package grass-core), its own time without import and export.
[[nodiscard]] Viewshed grass_program(const Map& map, const Ground& ground,
                                     const ScratchFolder& scratch);

} // namespace earshot::bench
