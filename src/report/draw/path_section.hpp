#pragma once

#include "earshot/link/path.hpp"
#include "report/draw/layout.hpp"

#include <cstddef>
#include <vector>

namespace earshot::report {

class Pen;

/// A point of a path seen from the side. All heights are metres above sea level at the ends;
/// between them the earth's curve is added to ground and cover, so that rays run straight.
struct SectionPoint {
    double distance_km = 0.0; ///< from the first station
    double sea_m = 0.0;       ///< how far the curve lifts the level of the sea
    double ground_m = 0.0;
    double top_m = 0.0; ///< of the cover
    double line_m = 0.0;
    double fresnel_m = 0.0; ///< radius of the first Fresnel zone
    bool woodland = false;
};

/// A point of the ground that matters to a path.
struct SectionEdge {
    double distance_km = 0.0;
    double height_m = 0.0;     ///< of its top, as in the section
    double above_line_m = 0.0; ///< negative below the line of sight
    double clearance_f1 = 0.0; ///< height of the line above it in first Fresnel radii
};

struct PathSection {
    std::vector<SectionPoint> points;
    std::vector<SectionEdge> edges; ///< by distance
    double effective_radius_km = 0.0;
    double greatest_bulge_m = 0.0; ///< of the earth's curve, at the middle
};

/// The section of a path. Its edges are the points over which a string stretched between the
/// antennas bends, the `most_edges` of largest nu, and always the point of largest nu against the
/// line of sight; on a clear path only the latter. A terminal's own woodland is no edge, as in the
/// prediction. None if there is no point between the ends.
[[nodiscard]] PathSection path_section(const link::TwoWayPath& path, std::size_t most_edges = 5);

/// Draws a path seen from the side: ground and cover over the curved earth, both antennas, the line
/// of sight, the first Fresnel zone and 0.6 of it, the edges that matter, axes in km, miles, metres
/// and feet, and what is drawn how.
void draw_path_section(const Pen& pen, const Box& area, const link::TwoWayPath& path);

/// A short text on a pole over a point.
struct Flag {
    double x = 0.0;     ///< of the pole
    double width = 0.0; ///< of the text
    int row = 0;        ///< set by place_flags(): 0 is the highest
    bool left = false;  ///< set by place_flags(): the text is left of the pole, else right
};

/// Places flags in `rows` rows between `left` and `right` so that no text covers another or the
/// pole of another, as far as that can be done, with poles as short as can be. Meant for up to six:
/// every way of placing them is looked at. False if it could not be done.
bool place_flags(std::vector<Flag>& flags, int rows, double left, double right);

} // namespace earshot::report
