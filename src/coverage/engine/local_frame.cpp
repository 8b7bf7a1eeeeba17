#include "coverage/engine/local_frame.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace earshot::coverage {
namespace {

constexpr double cells_per_node = 32.0;
constexpr double radians = std::numbers::pi / 180.0;

} // namespace

CellFrame::CellFrame(const terrain::Georeference& georeference, int columns, int rows,
                     geo::LatLon site) {
    const auto nodes = [](int cells) {
        return static_cast<std::size_t>(std::ceil(cells / cells_per_node)) + 2;
    };
    lattice_ = Lattice(
        -1.0, -1.0, cells_per_node, nodes(columns), nodes(rows),
        [&](double column, double row) -> Lattice::Value {
            const geo::GeodesicPath line =
                geo::geodesic_between(site, georeference.position_of({column, row}));
            const double bearing = line.bearing_deg * radians;
            return {line.distance_m * std::sin(bearing), line.distance_m * std::cos(bearing)};
        });
}

GroundFrame::GroundFrame(const terrain::Georeference& georeference, geo::LatLon site,
                         double range_m, double cell_m) {
    const double step_m = cells_per_node * cell_m;
    const double half = std::ceil(range_m / step_m) + 1.0;
    const auto nodes = static_cast<std::size_t>(2.0 * half) + 1;
    lattice_ =
        Lattice(-half * step_m, -half * step_m, step_m, nodes, nodes,
                [&](double east_m, double north_m) -> Lattice::Value {
                    const double bearing_deg = std::atan2(east_m, north_m) / radians;
                    const terrain::CellPosition cell = georeference.cell_of(
                        geo::geodesic_destination(site, bearing_deg, std::hypot(east_m, north_m)));
                    return {cell.column, cell.row};
                });
}

} // namespace earshot::coverage
