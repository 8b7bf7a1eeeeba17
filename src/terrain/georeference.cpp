#include "earshot/terrain/georeference.hpp"

#include "terrain/reference_system.hpp"

#include <cmath>
#include <utility>

namespace earshot::terrain {
namespace {

const std::shared_ptr<const ReferenceSystem>& wgs84_degrees() {
    static const auto system =
        std::make_shared<const ReferenceSystem>(reference_system("EPSG:4326"));
    return system;
}

} // namespace

Georeference::Georeference() : Georeference(wgs84_degrees(), 0.0, 0.0, 1.0, -1.0) {}

Georeference::Georeference(const std::string& crs, double x0, double y0, double dx, double dy)
    : Georeference(std::make_shared<const ReferenceSystem>(reference_system(crs)), x0, y0, dx, dy) {
}

Georeference::Georeference(std::shared_ptr<const ReferenceSystem> system, double x0, double y0,
                           double dx, double dy)
    : system_(std::move(system)),
      projection_(system_->projection ? system_->projection->copy() : nullptr),
      turn_(system_->turn), metres_per_unit_(system_->metres_per_unit), middle_x_(x0 + turn_ / 4.0),
      x0_(x0), y0_(y0), dx_(dx), dy_(dy) {}

Georeference::Georeference(const Georeference& other)
    : system_(other.system_), projection_(other.projection_ ? other.projection_->copy() : nullptr),
      turn_(other.turn_), metres_per_unit_(other.metres_per_unit_), middle_x_(other.middle_x_),
      x0_(other.x0_), y0_(other.y0_), dx_(other.dx_), dy_(other.dy_) {}

Georeference& Georeference::operator=(const Georeference& other) {
    if (this != &other) {
        *this = Georeference(other);
    }
    return *this;
}

Georeference::Georeference(Georeference&& other) noexcept = default;
Georeference& Georeference::operator=(Georeference&& other) noexcept = default;
Georeference::~Georeference() = default;

CellPosition Georeference::cell_of(geo::LatLon position) const {
    Projection::Point at{position.lon_deg, position.lat_deg};
    if (projection_) {
        at = projection_->forward(at);
    }
    if (geographic() && std::abs(at.x - middle_x_) > turn_ / 2.0) {
        at.x -= turn_ * std::round((at.x - middle_x_) / turn_);
    }
    return {(at.x - x0_) / dx_, (at.y - y0_) / dy_};
}

geo::LatLon Georeference::position_of(CellPosition cell) const {
    Projection::Point at{x0_ + cell.column * dx_, y0_ + cell.row * dy_};
    if (projection_) {
        at = projection_->inverse(at);
    }
    return {at.y, geo::normalize_longitude_deg(at.x)};
}

const std::string& Georeference::crs_wkt() const {
    return system_->wkt;
}

const std::string& Georeference::crs_label() const {
    return system_->label;
}

void Georeference::set_columns(int columns) {
    middle_x_ = x0_ + dx_ * (columns - 1) / 2.0;
}

Georeference Georeference::shifted(double columns, double rows) const {
    Georeference moved(*this);
    moved.x0_ += columns * dx_;
    moved.y0_ += rows * dy_;
    return moved;
}

Georeference::CellSize Georeference::cell_size_at(geo::LatLon position) const {
    const CellPosition cell = cell_of(position);
    const auto length_m = [&](double half_columns, double half_rows) {
        return geo::geodesic_between(
                   position_of({cell.column - half_columns, cell.row - half_rows}),
                   position_of({cell.column + half_columns, cell.row + half_rows}))
            .distance_m;
    };
    return {length_m(0.5, 0.0), length_m(0.0, 0.5)};
}

} // namespace earshot::terrain
