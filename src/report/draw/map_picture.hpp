#pragma once

#include "report/draw/map_sheet.hpp"

#include <filesystem>
#include <string>
#include <vector>

namespace earshot::report {

/// A map sheet as a picture for a screen.
struct MapPicture {
    std::string title;
    std::string subtitle; ///< the inputs in one or two short lines
    std::vector<MapMark> marks;
    int width_px = 1600; ///< 800 to 8000; the height follows from the shape of the map
};

/// Writes what draw_map_sheet() draws as a PNG, with the panel at the right of the map. Throws what
/// that does, Error(Fault::output) if the picture cannot be written and Error(Fault::usage)
/// for a width out of range.
void write_map_picture(const std::filesystem::path& path, const coverage::CoverageRaster& map,
                       const terrain::HeightGrid& ground, const MapPicture& picture);

/// The same of a whole sheet. `words.page` is best left empty.
void write_map_picture(const std::filesystem::path& path, const coverage::CoverageRaster& map,
                       const terrain::HeightGrid& ground, const MapSheet& sheet,
                       const PageWords& words, int width_px);

} // namespace earshot::report
