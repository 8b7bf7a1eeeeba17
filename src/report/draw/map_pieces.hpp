#pragma once

#include "earshot/coverage/raster.hpp"
#include "earshot/terrain/height_grid.hpp"
#include "report/draw/canvas.hpp"
#include "report/draw/label_placement.hpp"
#include "report/draw/layout.hpp"
#include "report/draw/map_sheet.hpp"
#include "report/draw/pen.hpp"

#include <cairo.h>

#include <optional>
#include <string>
#include <vector>

namespace earshot::report {

/// Where a map's places stand on the page.
class MapPlacing {
public:
    /// `map` must outlive this object.
    MapPlacing(const coverage::CoverageRaster& map, const Box& frame) : map_(&map), frame_(frame) {}

    [[nodiscard]] const Box& frame() const { return frame_; }
    /// NaN where the map's coordinate system has no such place.
    [[nodiscard]] Point on_page(geo::LatLon position) const;
    [[nodiscard]] geo::LatLon on_ground(Point point) const;

private:
    const coverage::CoverageRaster* map_;
    Box frame_;
};

enum class Side { left, right, top, bottom };

/// A line's coordinate, at the frame where the line meets it. The principal digits are set large;
/// what stands before and after them, small.
struct GridLabel {
    Side side = Side::bottom;
    Point at; ///< on the frame
    std::string before, principal, after;
};

/// Words on the map itself.
struct GridWords {
    Point middle;
    std::string words;
};

/// A grid over a map: lines, ready to draw, and what to write beside them.
struct Graticule {
    std::vector<std::vector<Point>> lines;
    std::vector<std::vector<Point>> strong_lines; ///< edges of UTM zones
    std::vector<GridLabel> labels;
    std::vector<GridWords> zones; ///< names of UTM zones, where there are several
    std::string words;            ///< what grid it is, and how wide
};

/// Lines at round coordinates of WGS 84: UTM kilometres, each zone's own within it; longitudes and
/// latitudes where UTM is not defined. They stand at least `least_gap` apart on the page.
[[nodiscard]] Graticule graticule(const MapPlacing& placing, double least_gap);

/// The place a step toward grid north of the UTM zone at a place; nothing where UTM is not defined.
[[nodiscard]] std::optional<geo::LatLon> grid_north_of(geo::LatLon from, double step_m);

/// A mark on the map, and its label where that found room.
struct PlacedMark {
    bool station = false;
    Box symbol;
    std::string words; ///< the label, or a number that stands for it
    TextStyle style;
    std::optional<LabelPlace> label;
};

/// All marks that lie on the map.
struct MarkPlan {
    std::vector<PlacedMark> marks;
    double widest = 0.0;               ///< of a label, before it is broken into lines
    double symbol_size = 1.0;          ///< 1 on a map with few marks
    std::vector<std::string> numbered; ///< what the numbers stand for, from 1 on
    int nameless = 0;                  ///< marks for which not even a number found room
};

/// The most lines that a label is broken into.
inline constexpr int most_label_lines = 3;

/// Finds places for marks and labels. With many marks, labels and symbols become smaller before any
/// is replaced by a number. `canvas` measures the text.
[[nodiscard]] MarkPlan plan_marks(cairo_t* canvas, const MapPlacing& placing,
                                  const std::vector<MapMark>& marks);

void draw_marks(cairo_t* canvas, const MarkPlan& plan);

/// A station's symbol is a ring with waves to both sides, a place's a diamond.
void draw_symbol(cairo_t* canvas, bool station, Point at, double size = 1.0);

/// A map's colours, pixel by pixel: coverage in classes over shaded relief; where nothing is known,
/// the relief veiled and hatched. `hatch_px` is the way from one line of the hatch to the next.
[[nodiscard]] Surface paint_map(const coverage::CoverageRaster& map,
                                const terrain::HeightGrid& ground, int width_px, int height_px,
                                double hatch_px);

/// The same hatch and veil on a small piece of level ground, for legends.
[[nodiscard]] Surface paint_unknown(int width_px, int height_px, double hatch_px);

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
