#pragma once

#include "report/draw/map_sheet.hpp"

namespace earshot::report {

/// Width of the words beside a map, points.
inline constexpr double map_panel_width = 192.0;

enum class PanelSide { right, below };

/// draw_map_sheet() with the panel where it is wanted.
void draw_map_sheet(cairo_t* canvas, const Box& area, const PageWords& words,
                    const coverage::CoverageRaster& map, const terrain::HeightGrid& ground,
                    const MapSheet& sheet, PanelSide panel);

/// The height in points that draw_map_sheet() fills at a width with the
/// panel at the right, when the paper sets none.
[[nodiscard]] double free_sheet_height(double width, const PageWords& words,
                                       const coverage::CoverageRaster& map, const MapSheet& sheet);

} // namespace earshot::report
