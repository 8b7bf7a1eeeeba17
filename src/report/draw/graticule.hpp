#pragma once

#include "earshot/coverage/raster.hpp"
#include "report/draw/map_layout.hpp"
#include "report/draw/map_sheet.hpp"

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
    /// Edges of UTM zones and, with MGRS, of its 100 km squares.
    std::vector<std::vector<Point>> strong_lines;
    std::vector<GridLabel> labels;
    std::vector<GridWords> squares; ///< MGRS 100 km squares and UTM zones, where there are several
    std::string words;              ///< what grid it is, how wide, and how to give a place in it
};

/// Lines at round coordinates of WGS 84: UTM kilometres (also for MGRS), each zone's own within it,
/// or longitude and latitude. They stand at least `least_gap` apart on the page. Where UTM is not
/// defined there are longitudes and latitudes whatever was asked for.
[[nodiscard]] Graticule graticule(const MapPlacing& placing, GridKind kind, double least_gap);

/// The place a step toward grid north of the UTM zone at a place; nothing where UTM is not defined.
[[nodiscard]] std::optional<geo::LatLon> grid_north_of(geo::LatLon from, double step_m);

} // namespace earshot::report
