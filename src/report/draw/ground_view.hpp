#pragma once

#include "report/draw/map_pieces.hpp"
#include "report/draw/pen.hpp"

#include <span>

namespace earshot::report {

/// A piece of ground on a page, north up, in one scale all over: what stations and stops are drawn
/// on.
class GroundView {
public:
    /// Holds all positions (one at least), in the middle of `frame` and `rim_pt` off its edges.
    GroundView(const Box& frame, double rim_pt, std::span<const geo::LatLon> positions);

    [[nodiscard]] const Box& frame() const { return frame_; }
    [[nodiscard]] Point on_page(geo::LatLon position) const;
    [[nodiscard]] MapPlacing placing() const { return {raster_, frame_}; }

    /// Relief and contours; level where the ground is not known.
    void draw(const Pen& pen, const terrain::HeightGrid& ground) const;
    /// Scale bars and north, on the lower edge.
    void draw_scale(const Pen& pen) const;
    /// What draw_scale() covers.
    [[nodiscard]] Box scale_box() const;

private:
    Box frame_;
    coverage::CoverageRaster raster_; ///< nothing is heard on it: its relief is bare
    double points_per_metre_ = 1.0;
};

} // namespace earshot::report
