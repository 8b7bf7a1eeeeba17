#include "terrain/shapes.hpp"

#include "base/require.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace earshot::terrain {
namespace {

std::vector<CellPosition> cells_of(const Shapes::Line& line, const Georeference& georeference) {
    std::vector<CellPosition> cells;
    cells.reserve(line.size());
    for (const geo::LatLon& position : line) {
        cells.push_back(georeference.cell_of(position));
    }
    return cells;
}

void add_segments(const Shapes::Line& line, const Georeference& georeference,
                  std::vector<Segment>& segments) {
    const std::vector<CellPosition> cells = cells_of(line, georeference);
    if (cells.size() == 1) {
        segments.push_back({cells[0], cells[0]});
    }
    for (std::size_t i = 1; i < cells.size(); ++i) {
        segments.push_back({cells[i - 1], cells[i]});
    }
}

} // namespace

void require_polygons(const Shapes& shapes) {
    require_input(!shapes.polygons.empty(), "{} holds no polygon with an area; draw one",
                  shapes.label);
}

GroundScale::GroundScale(const HeightGrid& ground) {
    const auto rows = static_cast<std::size_t>(ground.rows);
    sizes_.reserve(rows);
    for (int row = 0; row < ground.rows; ++row) {
        sizes_.push_back(ground.georeference.cell_size_at(
            ground.georeference.position_of({(ground.columns - 1) / 2.0, 1.0 * row})));
    }
}

Georeference::CellSize GroundScale::at(double row) const {
    const double last = static_cast<double>(sizes_.size()) - 1.0;
    return sizes_[static_cast<std::size_t>(std::clamp(std::round(row), 0.0, last))];
}

double GroundScale::least_m() const {
    double least = std::numeric_limits<double>::infinity();
    for (const auto& size : sizes_) {
        least = std::min({least, size.across_m, size.down_m});
    }
    return least;
}

InsideTest::InsideTest(const std::vector<std::vector<Shapes::Line>>& polygons,
                       const Georeference& georeference, int rows)
    : rows_(rows + 2) {
    polygons_.reserve(polygons.size());
    for (const std::vector<Shapes::Line>& rings : polygons) {
        std::vector<std::vector<Segment>> by_row(static_cast<std::size_t>(rows_));
        for (const Shapes::Line& ring : rings) {
            const std::vector<CellPosition> cells = cells_of(ring, georeference);
            for (std::size_t i = 0; i < cells.size(); ++i) {
                const Segment edge{cells[i], cells[(i + 1) % cells.size()]};
                if (std::isnan(edge.a.row) || std::isnan(edge.b.row)) {
                    continue;
                }
                for (std::size_t k = band(std::min(edge.a.row, edge.b.row));
                     k <= band(std::max(edge.a.row, edge.b.row)); ++k) {
                    by_row[k].push_back(edge);
                }
            }
        }
        polygons_.push_back(std::move(by_row));
    }
}

bool InsideTest::operator()(CellPosition cell) const {
    const std::size_t row = band(cell.row);
    return std::any_of(polygons_.begin(), polygons_.end(), [&](const auto& by_row) {
        bool inside = false;
        for (const Segment& edge : by_row[row]) {
            if ((edge.a.row > cell.row) == (edge.b.row > cell.row)) {
                continue;
            }
            const double share = (cell.row - edge.a.row) / (edge.b.row - edge.a.row);
            inside ^= edge.a.column + share * (edge.b.column - edge.a.column) < cell.column;
        }
        return inside;
    });
}

std::size_t InsideTest::band(double row) const {
    return static_cast<std::size_t>(std::clamp(std::floor(row) + 1.0, 0.0, rows_ - 1.0));
}

NearTest::NearTest(const Shapes& shapes, double distance_m, const HeightGrid& ground,
                   const GroundScale& scale)
    : scale_(&scale), distance_m_(distance_m),
      inside_(shapes.polygons, ground.georeference, ground.rows),
      reach_(distance_m / scale.least_m()), side_(std::max(4.0, reach_)),
      across_(1 + static_cast<int>(ground.columns / side_)),
      down_(1 + static_cast<int>(ground.rows / side_)),
      squares_(static_cast<std::size_t>(across_) * static_cast<std::size_t>(down_)) {
    for (const geo::LatLon& point : shapes.points) {
        add_segments({point}, ground.georeference, segments_);
    }
    for (const Shapes::Line& line : shapes.lines) {
        add_segments(line, ground.georeference, segments_);
    }
    for (const auto& rings : shapes.polygons) {
        for (const Shapes::Line& ring : rings) {
            add_segments(ring, ground.georeference, segments_);
        }
    }
    for (std::uint32_t k = 0; k < segments_.size(); ++k) {
        place(k);
    }
}

bool NearTest::operator()(CellPosition cell) const {
    const auto size = scale_->at(cell.row);
    const std::size_t square =
        static_cast<std::size_t>(index(cell.row, down_)) * static_cast<std::size_t>(across_) +
        static_cast<std::size_t>(index(cell.column, across_));
    return std::any_of(squares_[square].begin(), squares_[square].end(),
                       [&](std::uint32_t k) {
                           const Segment& s = segments_[k];
                           const double ax = (s.a.column - cell.column) * size.across_m;
                           const double ay = (s.a.row - cell.row) * size.down_m;
                           const double dx = (s.b.column - s.a.column) * size.across_m;
                           const double dy = (s.b.row - s.a.row) * size.down_m;
                           const double length2 = dx * dx + dy * dy;
                           const double t =
                               length2 > 0.0 ? std::clamp(-(ax * dx + ay * dy) / length2, 0.0, 1.0)
                                             : 0.0;
                           return std::hypot(ax + t * dx, ay + t * dy) <= distance_m_;
                       }) ||
           inside_(cell);
}

int NearTest::index(double position, int count) const {
    return static_cast<int>(std::clamp(std::floor(position / side_), 0.0, count - 1.0));
}

void NearTest::place(std::uint32_t segment) {
    const Segment& s = segments_[segment];
    if (std::isnan(s.a.row) || std::isnan(s.b.row)) {
        return;
    }
    const auto [left, right] = std::minmax(s.a.column, s.b.column);
    const auto [top, bottom] = std::minmax(s.a.row, s.b.row);
    for (int j = index(top - reach_, down_); j <= index(bottom + reach_, down_); ++j) {
        for (int i = index(left - reach_, across_); i <= index(right + reach_, across_); ++i) {
            squares_[static_cast<std::size_t>(j) * static_cast<std::size_t>(across_) +
                     static_cast<std::size_t>(i)]
                .push_back(segment);
        }
    }
}

} // namespace earshot::terrain
