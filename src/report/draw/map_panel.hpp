#pragma once

#include "report/draw/map_sheet.hpp"
#include "report/draw/pen.hpp"

#include <optional>
#include <string>
#include <vector>

namespace earshot::report {

/// What the words and signs beside a map say.
struct PanelContent {
    std::vector<double> shares_percent; ///< of the known ground: each class, then not heard
    bool any_unknown = false;
    bool any_station = false;
    bool any_place = false;
    double metres_per_point = 1.0;
    bool on_paper = false; ///< so that a scale can be given as a ratio
    /// Directions on the page, clockwise from straight up.
    double true_north_deg = 0.0;
    std::optional<double> grid_north_deg;
    std::optional<double> declination_deg; ///< from true north
    double contour_interval_m = 0.0;       ///< 0: no contours
    std::string grid_words;
    std::vector<std::pair<std::string, std::string>> facts;
    std::vector<std::string> notes;
    std::vector<std::string> numbered; ///< places whose names found no room on the map
    int nameless = 0;
};

/// The shares and what is on the map at all.
[[nodiscard]] PanelContent panel_content(const coverage::CoverageRaster& map,
                                         const MapSheet& sheet);

/// Draws all of it into a box: in one column, or side by side in three if the box is wide. Letters
/// become smaller, down to two thirds, if they must.
void draw_panel(const Pen& pen, const Box& box, const PanelContent& content);

/// The height that draw_panel() takes at a width with letters of a size (1 is their full one).
[[nodiscard]] double panel_height(double width, const PanelContent& content, double size);

} // namespace earshot::report
