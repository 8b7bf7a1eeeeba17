#pragma once

#include "earshot/geo/geodesic.hpp"
#include "earshot/terrain/georeference.hpp"

#include <cstddef>
#include <vector>

namespace earshot::coverage {

/// A position as metres east and north of a site along the geodesic from it: the azimuthal
/// equidistant projection. Radials are straight lines in it and distances from the site are true.
struct LocalPoint {
    double east_m = 0.0;
    double north_m = 0.0;
};

/// Pairs of numbers on a square lattice, bilinear between its nodes. Both projections below are
/// smooth enough for that: with nodes 32 cells of 90 m apart the error stays under 0.2 m.
class Lattice {
public:
    struct Value {
        double u = 0.0;
        double v = 0.0;
    };

    Lattice() = default;
    /// Nodes at (x0 + i * step, y0 + j * step), filled by `node(x, y)`.
    template <typename Node>
    Lattice(double x0, double y0, double step, std::size_t columns, std::size_t rows, Node node)
        : x0_(x0), y0_(y0), per_step_(1.0 / step), columns_(columns), rows_(rows) {
        nodes_.reserve(columns * rows);
        for (std::size_t j = 0; j < rows; ++j) {
            for (std::size_t i = 0; i < columns; ++i) {
                nodes_.push_back(
                    node(x0 + static_cast<double>(i) * step, y0 + static_cast<double>(j) * step));
            }
        }
    }

    [[nodiscard]] Value at(double x, double y) const {
        const double fx = (x - x0_) * per_step_;
        const double fy = (y - y0_) * per_step_;
        const std::size_t i = index(fx, columns_);
        const std::size_t j = index(fy, rows_);
        const double s = fx - static_cast<double>(i);
        const double t = fy - static_cast<double>(j);
        const Value* row = &nodes_[j * columns_ + i];
        const Value& a = row[0];
        const Value& b = row[1];
        const Value& c = row[columns_];
        const Value& d = row[columns_ + 1];
        const double wa = (1.0 - s) * (1.0 - t);
        const double wb = s * (1.0 - t);
        const double wc = (1.0 - s) * t;
        const double wd = s * t;
        return {wa * a.u + wb * b.u + wc * c.u + wd * d.u,
                wa * a.v + wb * b.v + wc * c.v + wd * d.v};
    }

    /// The lattice along a line of constant y from x on: linear until `end_x`.
    struct Piece {
        Value start; ///< at x
        Value slope; ///< per unit of x
        double end_x = 0.0;
    };
    [[nodiscard]] Piece piece_at(double x, double y) const {
        const double fx = (x - x0_) * per_step_;
        const double fy = (y - y0_) * per_step_;
        const std::size_t i = index(fx, columns_);
        const std::size_t j = index(fy, rows_);
        const double t = fy - static_cast<double>(j);
        const Value* row = &nodes_[j * columns_ + i];
        const auto down = [&](std::size_t k) -> Value {
            return {row[k].u + t * (row[columns_ + k].u - row[k].u),
                    row[k].v + t * (row[columns_ + k].v - row[k].v)};
        };
        const Value left = down(0);
        const Value right = down(1);
        const Value slope{(right.u - left.u) * per_step_, (right.v - left.v) * per_step_};
        const double from_node = (fx - static_cast<double>(i)) / per_step_;
        return {{left.u + slope.u * from_node, left.v + slope.v * from_node},
                slope,
                x0_ + static_cast<double>(i + 1) / per_step_};
    }

private:
    static std::size_t index(double f, std::size_t count) {
        if (!(f > 0.0)) {
            return 0;
        }
        const auto i = static_cast<std::size_t>(f);
        return i + 2 > count ? count - 2 : i;
    }

    double x0_ = 0.0, y0_ = 0.0, per_step_ = 1.0;
    std::size_t columns_ = 0, rows_ = 0;
    std::vector<Value> nodes_;
};

/// From the cells of a raster to local points. `columns` and `rows` bound the cells asked for.
class CellFrame {
public:
    CellFrame(const terrain::Georeference& georeference, int columns, int rows, geo::LatLon site);
    [[nodiscard]] LocalPoint at(double column, double row) const {
        const Lattice::Value value = lattice_.at(column, row);
        return {value.u, value.v};
    }

    /// The row of cells from a column on: points evenly spaced until `end_column`.
    [[nodiscard]] Lattice::Piece piece_at(int column, int row) const {
        return lattice_.piece_at(column, row);
    }

private:
    Lattice lattice_;
};

/// From local points within `range_m` of the site to the cells of a raster whose cells measure
/// about `cell_m`.
class GroundFrame {
public:
    GroundFrame(const terrain::Georeference& georeference, geo::LatLon site, double range_m,
                double cell_m);
    [[nodiscard]] terrain::CellPosition at(LocalPoint point) const {
        const Lattice::Value value = lattice_.at(point.east_m, point.north_m);
        return {value.u, value.v};
    }

private:
    Lattice lattice_;
};

} // namespace earshot::coverage
