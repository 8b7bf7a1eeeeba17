#pragma once

#include "earshot/coverage/raster.hpp"
#include "earshot/geo/geodesic.hpp"
#include "earshot/terrain/height_grid.hpp"
#include "report/draw/layout.hpp"
#include "report/draw/pdf_document.hpp"

#include <filesystem>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace earshot::report {

struct Briefing;

/// A labelled mark on a map.
struct MapMark {
    geo::LatLon position;
    std::string label;
    bool station = false; ///< drawn as an antenna site, else as a place
};

/// What goes onto a map besides the map.
struct MapSheet {
    std::string title;
    std::string subtitle; ///< one or two short lines; may be empty
    std::vector<MapMark> marks;
    /// The inputs of the prediction and what else is to be said of the map: a word and its value.
    std::vector<std::pair<std::string, std::string>> facts;
    std::vector<std::string> notes;        ///< a sentence each, beside the cautions
    std::optional<double> declination_deg; ///< of the magnetic needle, east positive
};

/// The inputs that a map's metadata hold, in words; those they do not hold are left out.
[[nodiscard]] std::vector<std::pair<std::string, std::string>>
map_facts(const coverage::CoverageRaster& map);

/// The map sheet of a briefing. A place that bears the name of a station and lies by it is left
/// out. Throws Error(Fault::input) if the map is empty, holds no prediction at all, or does not
/// say what it was made with.
[[nodiscard]] MapSheet map_sheet_of(const Briefing& briefing);

/// The way to turn the paper that makes the map largest.
[[nodiscard]] Orientation fitting_orientation(const coverage::CoverageRaster& map, Paper paper);

/// Draws the first band (margin, dB) of a map as a page, on a picture as well as in a PDF:
/// coverage in classes over shaded relief with contours, grid with labels, stations and places with
/// labels that do not collide, legend in words with the numbers behind it, scale in km and miles,
/// directions of north, inputs, and the cautions. Cells that are not known are hatched. Ground that
/// does not reach under the whole map is shown level there. A label that finds no room is replaced
/// by a number, and told in a list.
///
/// Throws Error(Fault::input) if the map is empty, Error(Fault::output) if no font has the
/// letters of some text, Error(Fault::stopped).
void draw_map_sheet(cairo_t* canvas, const Box& area, const PageWords& words,
                    const coverage::CoverageRaster& map, const terrain::HeightGrid& ground,
                    const MapSheet& sheet);

/// Writes what draw_map_sheet() draws as a PNG of 800 to 8000 pixels across, with the panel at the
/// right of the map; the height follows from the shape of the map. `words.page` is best left empty.
/// Throws what that does, Error(Fault::output) if the picture cannot be written and
/// Error(Fault::usage) for a width out of range.
void write_map_picture(const std::filesystem::path& path, const coverage::CoverageRaster& map,
                       const terrain::HeightGrid& ground, const MapSheet& sheet,
                       const PageWords& words = {}, int width_px = 1600);

} // namespace earshot::report
