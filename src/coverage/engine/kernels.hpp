#pragma once

#include <cstddef>
#include <cstdint>

/// The loops that touch every cell or every point of every radial, written for the processor's
/// vectors; the widest instruction set is chosen at run time. Tests hold each to its plain form.

namespace earshot::coverage::kernels {

/// Bilinear heights at `count` positions (column0 + k * column_step, row0 + k * row_step) of a
/// raster. Every position must have four cells around it: 0 <= column < columns - 1, and likewise
/// for rows.
void sample_line(const float* heights, std::size_t columns, double column0, double row0,
                 double column_step, double row_step, std::size_t count, float* out);

/// Neighbouring lines of a raster, rows or columns, that a straight line crosses one by one.
struct Lines {
    const float* first;       ///< height of a cell of the first line, from which cells are counted
    std::int32_t next_line;   ///< heights from a line to the next that is crossed
    std::int32_t next_cell;   ///< heights from a cell of a line to its next
    float share0, share_step; ///< of the way at the first crossing, and from one to the next
    float cell0, cells;       ///< cell at the start of the way, and cells passed along it
    float length_m;           ///< of the way
};

/// Where crossings are put: distance from the start of the way, height between the two cells on
/// either side, and where between cells, counted as in Lines.
struct Crossed {
    float *distance_m, *height_m, *cell;
};

/// Finds `count` crossings. Every cell must have a next one.
void cross_lines(const Lines& lines, std::size_t count, const Crossed& crossed);

/// Bilinear heights at `count` positions of a straight line: `share` of the way from (column0,
/// row0) on, `columns` and `rows` long. Every position must have four cells around it.
void sample_shares(const float* heights, std::size_t width, double column0, double row0,
                   double columns, double rows, const float* share, std::size_t count, float* out);

/// Cells in a row of a map, in a frame turned so that a wedge's middle points along `along`: cell k
/// lies at (along0 + k * along_step, across0 + k * across_step), m.
struct CellRow {
    float along0, along_step;
    float across0, across_step;
};

/// The wedge those cells are placed in.
struct WedgeFrame {
    float half_width_rad;
    float per_sector; ///< sectors in a radian
};

/// Range in metres and place in sectors from the wedge's first radial of `count` cells. A cell
/// behind the site gets a place of -1.
void place_cells(const CellRow& row, const WedgeFrame& wedge, std::size_t count, float* range_m,
                 float* place);

/// What line of sight needs of a wedge: for each radial, the steepest slope up to each of a number
/// of rings around the site. What a cell sees ends one to two rings before it.
struct Horizons {
    const float* steepest; ///< m/km; `stride` values for each radial, the first for the site
    std::size_t stride;
    float rings_per_m;
    float curvature_per_m;    ///< 500 / a / 1000: slope that curvature takes from a receiver, per m
    float transmitter_m;      ///< antenna above sea level
    float receiver_antenna_m; ///< above the ground
    float nearest_m, farthest_m; ///< ranges that are to be answered
    float sectors;
};

/// Added to the sight of a cell that lies so near a wedge's edge or a limit of range that single
/// precision does not tell on which side.
inline constexpr std::uint8_t doubtful = 64;

/// Sight of `count` cells over ground at `ground_m`: 0 hidden, 2 seen, into `sight`, with
/// `doubtful` added within `doubtful_sectors` of the wedge's edges and 1 m of the ranges' limits.
/// 255 for cells outside the wedge or the ranges, and for those whose ground or whose radials'
/// ground is unknown.
void see_cells(const CellRow& row, const WedgeFrame& wedge, const Horizons& horizons,
               float doubtful_sectors, const float* ground_m, std::size_t count,
               std::uint8_t* sight);

} // namespace earshot::coverage::kernels
