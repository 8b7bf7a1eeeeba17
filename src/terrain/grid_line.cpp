#include "terrain/grid_line.hpp"

#include <algorithm>
#include <cmath>

namespace earshot::terrain {
namespace {

/// Newton's forward differences through five equally spaced values, as powers of t in [0, 1].
std::array<double, 5> quartic(const std::array<double, 5>& f) {
    const auto& [f0, f1, f2, f3, f4] = f;
    // With s = 4 t: f0 + s d1 + s(s-1)/2 d2 + s(s-1)(s-2)/6 d3 + s(s-1)(s-2)(s-3)/24 d4.
    const double d1 = f1 - f0;
    const double d2 = f2 - 2.0 * f1 + f0;
    const double d3 = f3 - 3.0 * f2 + 3.0 * f1 - f0;
    const double d4 = f4 - 4.0 * f3 + 6.0 * f2 - 4.0 * f1 + f0;
    return {f0, 4.0 * (d1 - d2 / 2.0 + d3 / 3.0 - d4 / 4.0),
            16.0 * (d2 / 2.0 - d3 / 2.0 + 11.0 * d4 / 24.0), 64.0 * (d3 / 6.0 - d4 / 4.0),
            256.0 * d4 / 24.0};
}

/// By how much the quartic and the cubic through the outer four values differ in the middle.
double last_degree(const std::array<double, 5>& f) {
    return std::abs(f[0] - 4.0 * f[1] + 6.0 * f[2] - 4.0 * f[3] + f[4]) / 6.0;
}

} // namespace

GridLine::Node GridLine::node(const geo::GeodesicLine& line, double distance_m,
                              double near_column) const {
    CellPosition cell = georeference_.cell_of(line.at(distance_m));
    const double turn = georeference_.columns_per_turn();
    if (turn > 0.0 && std::abs(cell.column - near_column) > turn / 2.0) {
        cell.column -= turn * std::round((cell.column - near_column) / turn);
    }
    return {distance_m, cell};
}

// Each call is given three exact positions and works out two more, so that halving a piece wastes
// none of them.
void GridLine::add_piece(const geo::GeodesicLine& line, const Node& start, const Node& middle,
                         const Node& end) {
    const double length_m = end.distance_m - start.distance_m;
    const Node first = node(line, start.distance_m + 0.25 * length_m, start.cell.column);
    const Node third = node(line, start.distance_m + 0.75 * length_m, middle.cell.column);
    const std::array columns{start.cell.column, first.cell.column, middle.cell.column,
                             third.cell.column, end.cell.column};
    const std::array rows{start.cell.row, first.cell.row, middle.cell.row, third.cell.row,
                          end.cell.row};
    const double off_m =
        georeference_.metres_per_unit() * std::hypot(georeference_.dx() * last_degree(columns),
                                                     georeference_.dy() * last_degree(rows));
    const bool nowhere = std::all_of(columns.begin(), columns.end(),
                                     [](double column) { return std::isnan(column); });
    // Written so that NaN, where the line leaves the CRS, asks for a cut.
    if (!(off_m <= tolerance_m) && !nowhere && length_m > shortest_piece_m) {
        add_piece(line, start, first, middle);
        add_piece(line, middle, third, end);
        return;
    }
    pieces_.push_back({start.distance_m, end.distance_m, quartic(columns), quartic(rows)});
}

void GridLine::trace(geo::LatLon from, double bearing_deg, double length_m) {
    pieces_.clear();
    // A piece needs some length for its parameter to be defined.
    length_m = std::max(length_m, 1e-6);
    const geo::GeodesicLine line(from, bearing_deg);
    const int count = std::max(1, static_cast<int>(std::ceil(length_m / longest_piece_m)));
    Node start{0.0, georeference_.cell_of(from)};
    for (int k = 1; k <= count; ++k) {
        const double end_m = k < count ? length_m * k / count : length_m;
        const Node middle = node(line, 0.5 * (start.distance_m + end_m), start.cell.column);
        const Node end = node(line, end_m, middle.cell.column);
        add_piece(line, start, middle, end);
        start = end;
    }
}

} // namespace earshot::terrain
