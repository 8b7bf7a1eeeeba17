#pragma once

#include "earshot/coverage/raster.hpp"
#include "earshot/terrain/height_grid.hpp"
#include "report/draw/canvas.hpp"
#include "report/draw/label_placement.hpp"
#include "report/draw/layout.hpp"
#include "report/draw/map_sheet.hpp"
#include "report/draw/pen.hpp"
#include "report/draw/relief.hpp"

#include <cairo.h>

#include <cstddef>
#include <cstdint>
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

/// paint_map() in a frame on a page, as fine as the canvas or print asks for.
void draw_colours(cairo_t* canvas, const Box& frame, const coverage::CoverageRaster& map,
                  const terrain::HeightGrid& ground);

/// Contours in a frame, in metres or feet, as people read heights.
struct ContourSet {
    double interval = 0.0; ///< 0: no contours
    std::vector<Contour> lines;
};

/// As calm as the paper asks for; none on level ground.
[[nodiscard]] ContourSet contours_under(const Box& frame, const coverage::CoverageRaster& map,
                                        const terrain::HeightGrid& ground);

/// The same hatch and veil on a small piece of level ground, for legends.
[[nodiscard]] Surface paint_unknown(int width_px, int height_px, double hatch_px);

/// Which of several stations is heard best where, evened out for a small map.
struct ServingAreas {
    int columns = 0;
    int rows = 0;
    std::vector<std::uint8_t> station; ///< row-major; number in order, 0: none, or not known
    std::vector<std::string> names;    ///< in order, each with what is said of its radio
    /// Where each station's number stands, in cells: deep inside its largest area; nothing for a
    /// station that is nowhere heard best.
    std::vector<std::optional<Point>> numbers;
};

/// Of a map that has a band of the station heard best; nothing of another.
[[nodiscard]] std::optional<ServingAreas> serving_areas(const coverage::CoverageRaster& map,
                                                        std::vector<std::string> names);

/// The areas in light colours with lines between them and the numbers of their stations, into a box
/// of the map's shape.
void draw_serving_areas(const Pen& pen, const Box& box, const ServingAreas& areas);

/// A number on a light disc, as it stands on the map of areas and in its key.
void draw_station_number(const Pen& pen, Point middle, std::size_t number);

/// What the words and signs beside a map say.
struct PanelContent {
    std::vector<double> shares_percent; ///< of the known ground: each class, then not heard
    bool any_unknown = false;
    bool any_station = false;
    bool any_place = false;
    std::optional<ServingAreas> serving;
    double map_aspect = 1.0; ///< height over width
    double metres_per_point = 1.0;
    bool on_paper = false; ///< so that a scale can be given as a ratio
    /// Directions on the page, clockwise from straight up.
    double true_north_deg = 0.0;
    std::optional<double> grid_north_deg;
    std::optional<double> declination_deg; ///< from true north
    double contour_interval = 0.0;         ///< metres or feet, as people read; 0: no contours
    std::string grid_words;
    std::vector<std::pair<std::string, std::string>> facts;
    std::vector<std::string> notes;
    std::vector<std::string> numbered; ///< places whose names found no room on the map
    int nameless = 0;
};

/// The shares and what is on the map at all.
[[nodiscard]] PanelContent panel_content(const coverage::CoverageRaster& map,
                                         const MapSheet& sheet);

/// What stands together beside a map.
enum class PanelBlock { legend, scale, serving, facts, notes };
/// Columns from left to right, each with blocks under one another.
using PanelLayout = std::vector<std::vector<PanelBlock>>;

/// All blocks in one column, as many of the first as are asked for.
[[nodiscard]] PanelLayout panel_column(const PanelContent& content, std::size_t blocks);
/// The others side by side.
[[nodiscard]] PanelLayout panel_row(const PanelContent& content, std::size_t from_block);
/// All blocks in three columns of about one height.
[[nodiscard]] PanelLayout panel_columns(const PanelContent& content);
[[nodiscard]] std::size_t panel_blocks(const PanelContent& content);

/// Draws blocks into a box. Letters become smaller, down to two thirds, if they must.
void draw_panel(const Pen& pen, const Box& box, const PanelContent& content,
                const PanelLayout& layout);

/// The height that draw_panel() takes at a width with letters of a size (1 is their full one).
[[nodiscard]] double panel_height(double width, const PanelContent& content,
                                  const PanelLayout& layout, double size);

} // namespace earshot::report
