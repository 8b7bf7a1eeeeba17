#pragma once

#include "earshot/geo/geodesic.hpp"

#include <memory>
#include <string>

/// Where the cells of a raster lie. The promise: the same numbers as PROJ.
///
///     // Cells of a thousandth of a degree, the first one at 15 E 47 N.
///     const terrain::Georeference cells("EPSG:4326", 15.0, 47.0, 0.001, -0.001);
///     const terrain::CellPosition cell = cells.cell_of(geo::LatLon{46.95, 15.02});

namespace earshot::terrain {

class Projection;
struct ReferenceSystem;

/// A position in a raster, in cells; (0, 0) is the CENTRE of the first cell, columns run east (or
/// with the raster's x axis) and rows downward.
struct CellPosition {
    double column = 0.0;
    double row = 0.0;
};

/// Whether a position lies on the cells of a raster of that size; false for one that is unknown.
[[nodiscard]] inline bool covers(int columns, int rows, CellPosition cell) {
    return cell.column >= -0.5 && cell.row >= -0.5 && cell.column <= columns - 0.5 &&
           cell.row <= rows - 0.5;
}

/// Ties a north-up raster to the ground: a coordinate reference system and the place of its cells.
///
/// Copies are cheap and independent; one object must not be used by two threads at once (the rule
/// of projections), so give each thread its own copy. Only the horizontal part of a CRS matters
/// here: a vertical part is dropped.
class Georeference {
public:
    /// WGS 84 longitude and latitude, one degree per cell, cell (0, 0) at the origin.
    Georeference();
    /// `crs` is anything GDAL understands (WKT, "EPSG:32616"). (x0, y0) are the CRS coordinates of
    /// the centre of cell (0, 0); dx > 0 and dy < 0 are the steps to the next column and row, in
    /// the units of the CRS. Throws Error(Fault::input) if the CRS cannot be understood or has
    /// no place on the earth.
    Georeference(const std::string& crs, double x0, double y0, double dx, double dy);
    /// The same with a system that the caller brings.
    Georeference(std::shared_ptr<const ReferenceSystem> system, double x0, double y0, double dx,
                 double dy);
    Georeference(const Georeference& other);
    Georeference& operator=(const Georeference& other);
    Georeference(Georeference&& other) noexcept;
    Georeference& operator=(Georeference&& other) noexcept;
    ~Georeference();

    /// NaN for both if the CRS has no coordinates for the position.
    [[nodiscard]] CellPosition cell_of(geo::LatLon position) const;
    /// NaN for both if the CRS has no such coordinates. Longitude in [-180, 180).
    [[nodiscard]] geo::LatLon position_of(CellPosition cell) const;

    /// The horizontal CRS as WKT 2:2019.
    [[nodiscard]] const std::string& crs_wkt() const;
    /// "EPSG:4326" if the CRS carries an authority code, else its name.
    [[nodiscard]] const std::string& crs_label() const;
    [[nodiscard]] bool geographic() const { return turn_ > 0.0; }
    [[nodiscard]] double x0() const { return x0_; }
    [[nodiscard]] double y0() const { return y0_; }
    [[nodiscard]] double dx() const { return dx_; }
    [[nodiscard]] double dy() const { return dy_; }

    /// Says how many columns the raster has. In a geographic CRS each position has many columns, a
    /// whole turn apart; `cell_of` then gives the one nearest to the middle of the raster. Without
    /// this call it gives one from a quarter turn west of cell (0, 0) to three quarters east.
    void set_columns(int columns);
    /// Columns in a full turn of longitude; 0 for a projected CRS.
    [[nodiscard]] double columns_per_turn() const { return turn_ / dx_; }
    /// Metres on the ground per unit of the CRS: exact for the axes of a projected CRS, at the
    /// equator for a geographic one (elsewhere a degree of longitude is shorter).
    [[nodiscard]] double metres_per_unit() const { return metres_per_unit_; }

    /// The same CRS with the origin moved to cell (column, row) of this raster.
    [[nodiscard]] Georeference shifted(double columns, double rows) const;
    /// Ground size of a cell (east-west, north-south) at a position, in metres.
    struct CellSize {
        double across_m;
        double down_m;
    };
    [[nodiscard]] CellSize cell_size_at(geo::LatLon position) const;

private:
    std::shared_ptr<const ReferenceSystem> system_;
    /// Null if CRS axes are WGS 84 longitude and latitude in degrees.
    std::unique_ptr<Projection> projection_;
    double turn_; ///< a full turn of longitude in CRS units, 0 if projected
    double metres_per_unit_;
    double middle_x_; ///< longitudes are taken within half a turn of this
    double x0_, y0_, dx_, dy_;
};

} // namespace earshot::terrain
