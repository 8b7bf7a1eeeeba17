#pragma once

#include "earshot/geo/geodesic.hpp"
#include "earshot/sweep/raster.hpp"
#include "earshot/terrain/height_grid.hpp"

#include <filesystem>
#include <string>
#include <vector>

namespace earshot::report {

/// A labelled mark on a map.
struct PictureMark {
    geo::LatLon position;
    std::string label;
    bool station = false; ///< drawn as an antenna site, else as a place
};

struct MapPicture {
    std::string title;
    std::string subtitle; ///< the inputs in one or two short lines
    std::vector<PictureMark> marks;
    int width_px = 1600; ///< 800 to 8000; the height follows from the shape of the map
};

/// Draws the first band (margin, dB) of a map over shaded relief as a PNG: coverage in classes,
/// marks with labels, scale bar in km and miles, north arrow, legend in words with the numbers
/// behind them, inputs, and the cautions in one line. Cells that are not known are hatched. Ground
/// that does not reach under the whole map is shown level there. Throws Error(ExitCode::output) if
/// the picture cannot be written, Error(ExitCode::usage) for a width out of range and
/// Error(ExitCode::interrupted) if the user stops it.
void write_map_picture(const std::filesystem::path& path, const sweep::CoverageRaster& map,
                       const terrain::HeightGrid& ground, const MapPicture& picture);

} // namespace earshot::report
