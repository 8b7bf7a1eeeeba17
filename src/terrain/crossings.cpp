#include "terrain/crossings.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace earshot::terrain {
namespace {

double slope_at(const std::array<double, 5>& c, double t) {
    return c[1] + t * (2.0 * c[2] + t * (3.0 * c[3] + t * 4.0 * c[4]));
}

/// Where a polynomial turns back on its way from 0 to 1; 1 if nowhere. A geodesic bends one way all
/// along a piece, so it turns at most once.
double turning_point(const std::array<double, 5>& c) {
    const bool rising = slope_at(c, 0.0) > 0.0;
    if ((slope_at(c, 1.0) > 0.0) == rising) {
        return 1.0;
    }
    double low = 0.0;
    double high = 1.0;
    for (int k = 0; k < 53; ++k) {
        const double middle = (low + high) / 2.0;
        ((slope_at(c, middle) > 0.0) == rising ? low : high) = middle;
    }
    return low;
}

} // namespace

// Newton's method from where the last step's slope leads, which mostly is there at once; within a
// bracket, for the slope vanishes where the line turns.
void CrossingFinder::find_passages(const Polynomial& c, double from, double to,
                                   std::vector<Passage>& found) {
    constexpr double near_enough = 1e-5; // of a piece: the step after it would be its square
    const double start = GridLine::Piece::value(c, from);
    const double end = GridLine::Piece::value(c, to);
    const double way = end > start ? 1.0 : -1.0;
    double whole = end > start ? std::floor(start) + 1.0 : std::ceil(start) - 1.0;
    double t = from + (to - from) * (whole - start) / (end - start);
    double least = from;
    for (; way * (end - whole) >= 0.0; whole += way) {
        double low = least;
        double high = to;
        double slope = 0.0;
        for (int tries = 0; tries < 60; ++tries) {
            t = t >= low && t <= high ? t : (low + high) / 2.0;
            const double miss = GridLine::Piece::value(c, t) - whole;
            slope = slope_at(c, t);
            (way * miss < 0.0 ? low : high) = t;
            const double step = miss / slope;
            t -= step;
            if (std::abs(step) < near_enough) {
                break;
            }
        }
        t = std::clamp(t, least, to); // a line that ends on a crossing has it at its very end
        found.push_back({t, whole});
        least = t;
        t += way / slope;
    }
}

void CrossingFinder::find_passages(const Polynomial& c, std::vector<Passage>& found) {
    found.clear();
    const double turn = turning_point(c);
    find_passages(c, 0.0, turn, found);
    if (turn < 1.0) {
        find_passages(c, turn, 1.0, found);
    }
}

void CrossingFinder::find(const GridLine::Piece& piece, std::vector<Crossing>& found) {
    const CellPosition end = piece.at(piece.end_m);
    if (!std::isfinite(end.column) || !std::isfinite(end.row)) {
        constexpr double nan = std::numeric_limits<double>::quiet_NaN();
        found.push_back({(piece.start_m + piece.end_m) / 2.0, {nan, nan}});
        return;
    }
    find_passages(piece.column, columns_);
    find_passages(piece.row, rows_);
    const double length_m = piece.end_m - piece.start_m;
    std::size_t column = 0;
    std::size_t row = 0;
    while (column < columns_.size() || row < rows_.size()) {
        if (row == rows_.size() ||
            (column < columns_.size() && columns_[column].t <= rows_[row].t)) {
            const Passage& at = columns_[column++];
            found.push_back({piece.start_m + at.t * length_m,
                             {at.whole, GridLine::Piece::value(piece.row, at.t)}});
        } else {
            const Passage& at = rows_[row++];
            found.push_back({piece.start_m + at.t * length_m,
                             {GridLine::Piece::value(piece.column, at.t), at.whole}});
        }
    }
}

} // namespace earshot::terrain
