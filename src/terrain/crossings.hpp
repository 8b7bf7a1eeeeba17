#pragma once

#include "terrain/grid_line.hpp"

#include <vector>

namespace earshot::terrain {

/// A place where a line crosses a whole column or a whole row of a raster: a line that joins the
/// centres of cells, along which a bilinear surface has its edges.
struct Crossing {
    double distance_m = 0.0;
    CellPosition cell; ///< the column, or the row, is whole
};

/// Finds the crossings of a line, piece by piece, without allocating anew for each.
class CrossingFinder {
public:
    /// Appends those of a piece, in order of distance, to `found`: beyond its start and up to its
    /// end. A piece that the CRS does not know gives its middle, which lies nowhere.
    void find(const GridLine::Piece& piece, std::vector<Crossing>& found);

private:
    /// At `t` of a piece its column or row is `whole`.
    struct Passage {
        double t;
        double whole;
    };
    using Polynomial = std::array<double, 5>;
    static void find_passages(const Polynomial& polynomial, std::vector<Passage>& found);
    static void find_passages(const Polynomial& polynomial, double from, double to,
                              std::vector<Passage>& found);

    std::vector<Passage> columns_, rows_;
};

} // namespace earshot::terrain
