#pragma once

#include "earshot/geo/geodesic.hpp"
#include "earshot/terrain/georeference.hpp"

#include <array>
#include <span>
#include <vector>

namespace earshot::terrain {

/// A WGS 84 geodesic in the cells of a raster, for many positions along it at little cost.
///
/// The geodesic is cut into pieces of at most `longest_piece_m`. On each, column and row are the
/// polynomials of degree four through five exact positions. The fourth difference of those five
/// says how much the last degree contributes; a piece is halved until that is below `tolerance_m`,
/// so what the polynomial leaves out is far smaller still. Tests hold the error below 1 cm on the
/// ground from the equator to 85 degrees.
///
/// In a geographic CRS columns run on continuously across the 180 degree meridian. One object must
/// not be used by two threads at once.
class GridLine {
public:
    static constexpr double longest_piece_m = 10e3;
    /// A piece is not cut below this, whatever the projection does.
    static constexpr double shortest_piece_m = 20.0;
    static constexpr double tolerance_m = 1e-3;

    /// Column and row as polynomials of t = (distance - start) / (end - start), lowest power first.
    struct Piece {
        double start_m = 0.0;
        double end_m = 0.0;
        std::array<double, 5> column{};
        std::array<double, 5> row{};

        [[nodiscard]] CellPosition at(double distance_m) const {
            const double t = (distance_m - start_m) / (end_m - start_m);
            return {value(column, t), value(row, t)};
        }
        [[nodiscard]] static double value(const std::array<double, 5>& c, double t) {
            return c[0] + t * (c[1] + t * (c[2] + t * (c[3] + t * c[4])));
        }
    };

    explicit GridLine(const Georeference& georeference) : georeference_(georeference) {}

    /// Follows the geodesic that leaves `from` at `bearing_deg` for `length_m` >= 0 (a line
    /// of no length becomes one of a micrometre).
    void trace(geo::LatLon from, double bearing_deg, double length_m);

    /// Pieces in order, without gaps, from 0 to the length. NaN coefficients where the CRS has no
    /// coordinates.
    [[nodiscard]] std::span<const Piece> pieces() const { return pieces_; }

private:
    struct Node {
        double distance_m;
        CellPosition cell;
    };
    [[nodiscard]] Node node(const geo::GeodesicLine& line, double distance_m,
                            double near_column) const;
    void add_piece(const geo::GeodesicLine& line, const Node& start, const Node& middle,
                   const Node& end);

    Georeference georeference_;
    std::vector<Piece> pieces_;
};

} // namespace earshot::terrain
