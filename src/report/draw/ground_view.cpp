#include "report/draw/ground_view.hpp"

#include "geo/units.hpp"
#include "report/draw/canvas.hpp"
#include "report/draw/page_style.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

namespace earshot::report {
namespace {

constexpr double scale_height = 24.0;

/// Around a place the true distances and directions from there (azimuthal equidistant).
std::string system_around(geo::LatLon place) {
    return fmt::format("+proj=aeqd +lat_0={:.6f} +lon_0={:.6f} +datum=WGS84 +units=m +type=crs",
                       place.lat_deg, place.lon_deg);
}

} // namespace

GroundView::GroundView(const Box& frame, double rim_pt, std::span<const geo::LatLon> positions)
    : frame_(frame) {
    const terrain::Georeference metres(system_around(positions.front()), 0.0, 0.0, 1.0, -1.0);
    double left = 0.0;
    double top = 0.0;
    double right = 0.0;
    double bottom = 0.0;
    for (const geo::LatLon position : positions) {
        const terrain::CellPosition at = metres.cell_of(position);
        left = std::min(left, at.column);
        right = std::max(right, at.column);
        top = std::min(top, at.row);
        bottom = std::max(bottom, at.row);
    }
    constexpr double least_m = 50.0; // all on one spot
    Box room = frame.grown(-rim_pt);
    room.height -= scale_height;
    points_per_metre_ = std::min(room.width / std::max(right - left, least_m),
                                 room.height / std::max(bottom - top, least_m));
    // In the middle of what the scale leaves free.
    const geo::LatLon middle = metres.position_of(
        {(left + right) / 2.0, (top + bottom + scale_height / points_per_metre_) / 2.0});
    constexpr int columns = 100;
    const double cell_m = frame.width / points_per_metre_ / columns;
    raster_.columns = columns;
    raster_.rows =
        std::max(1, static_cast<int>(std::lround(frame.height / points_per_metre_ / cell_m)));
    raster_.georeference =
        terrain::Georeference(system_around(middle), -(columns - 1) / 2.0 * cell_m,
                              (raster_.rows - 1) / 2.0 * cell_m, cell_m, -cell_m);
    constexpr float nothing_heard = -1000.0F;
    raster_.bands.push_back({"", "dB",
                             std::vector<float>(static_cast<std::size_t>(columns) *
                                                    static_cast<std::size_t>(raster_.rows),
                                                nothing_heard)});
    // A whole number of rows: the last bit of the frame's height goes.
    frame_.height = raster_.rows * cell_m * points_per_metre_;
}

Point GroundView::on_page(geo::LatLon position) const {
    return placing().on_page(position);
}

void GroundView::draw(const Pen& pen, const terrain::HeightGrid& ground) const {
    constexpr double quiet = 0.45; // contours behind what is drawn on them
    cairo_t* canvas = pen.canvas();
    draw_colours(canvas, frame_, raster_, ground);
    const KeptState state(canvas, frame_);
    cairo_push_group(canvas);
    draw_contours(canvas, contours_under(frame_, raster_, ground).lines, {});
    cairo_pop_group_to_source(canvas);
    cairo_paint_with_alpha(canvas, quiet);
}

Box GroundView::scale_box() const {
    return {frame_.x, frame_.bottom() - scale_height, frame_.width, scale_height};
}

void GroundView::draw_scale(const Pen& pen) const {
    using namespace page_style;
    const Box strip = scale_box();
    pen.fill(strip, paper);
    pen.line(strip.x, strip.y, strip.right(), strip.y, {0.5, hairline});
    const double y = strip.bottom() - 6.0;
    double x = strip.x + 10.0;
    for (const auto& [unit_m, unit] :
         {std::pair{1000.0, "km"}, std::pair{geo::metres_per_mile, "mi"}}) {
        const double length = round_length(0.2 * frame_.width / points_per_metre_ / unit_m);
        const double width = length * unit_m * points_per_metre_;
        pen.line(x, y, x + width, y, {2.0, ink});
        pen.line(x, y - 4.0, x, y + 1.0, {0.8, ink});
        pen.line(x + width, y - 4.0, x + width, y + 1.0, {0.8, ink});
        pen.text(x + 3.0, y - 3.0 - pen.line_height(small), fmt::format("{:g} {}", length, unit),
                 {small.size_px, false, ink});
        x += std::max(width, 34.0) + 22.0;
    }
    const double north = strip.right() - 12.0;
    pen.line(north, y + 2.0, north, y - 9.0, {1.2, ink});
    pen.figure({{north, y - 16.0}, {north - 3.2, y - 7.0}, {north + 3.2, y - 7.0}}, ink,
               {0.3, ink});
    pen.text(north - 6.0, y - 9.0, "N", body_bold, Anchor::right);
}

} // namespace earshot::report
