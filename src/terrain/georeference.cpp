#include "earshot/terrain/georeference.hpp"

#include "earshot/base/error.hpp"
#include "terrain/gdal_errors.hpp"

#include <cpl_conv.h>
#include <fmt/format.h>
#include <ogr_spatialref.h>
#include <proj.h>

#include <cmath>
#include <limits>
#include <numbers>
#include <utility>

namespace earshot::terrain {
namespace {

constexpr double equator_radius_m = 6378137.0; // WGS 84
constexpr double nan = std::numeric_limits<double>::quiet_NaN();

std::string wkt_of(const OGRSpatialReference& crs) {
    constexpr const char* options[] = {"FORMAT=WKT2_2019", nullptr};
    char* text = nullptr;
    crs.exportToWkt(&text, options);
    std::string wkt = text == nullptr ? "" : text;
    CPLFree(text);
    return wkt;
}

const OGRSpatialReference& wgs84() {
    static const OGRSpatialReference crs = [] {
        const GdalErrors errors;
        OGRSpatialReference made;
        made.importFromEPSG(4326);
        made.SetAxisMappingStrategy(OAMS_TRADITIONAL_GIS_ORDER);
        return made;
    }();
    return crs;
}

const std::string& wgs84_wkt() {
    static const std::string wkt = wkt_of(wgs84());
    return wkt;
}

OGRSpatialReference understand(const std::string& text) {
    const GdalErrors errors;
    OGRSpatialReference crs;
    if (crs.SetFromUserInput(text.c_str()) != OGRERR_NONE) {
        throw_input(fmt::format("the coordinate reference system '{}' cannot be understood ({}); "
                                "give an EPSG code or WKT",
                                text.substr(0, 60), errors.reason()));
    }
    crs.SetAxisMappingStrategy(OAMS_TRADITIONAL_GIS_ORDER);
    crs.StripVertical();
    crs.DemoteTo2D(nullptr);
    if (!crs.IsGeographic() && !crs.IsProjected()) {
        const char* name = crs.GetName();
        throw_input(
            fmt::format("the coordinate reference system '{}' is neither geographic nor "
                        "projected, so it has no known place on the earth; assign the right "
                        "one, for example with gdal_translate -a_srs",
                        name == nullptr ? "" : name));
    }
    return crs;
}

bool is_plain_wgs84(const OGRSpatialReference& crs) {
    constexpr const char* options[] = {"CRITERION=EQUIVALENT_EXCEPT_AXIS_ORDER_GEOGCRS", nullptr};
    return crs.IsGeographic() && crs.IsSame(&wgs84(), options);
}

double full_turn(const OGRSpatialReference& crs) {
    const double turn = 2.0 * std::numbers::pi / crs.GetAngularUnits(nullptr);
    return std::abs(turn - std::round(turn)) < 1e-6 ? std::round(turn) : turn;
}

} // namespace

/// From WGS 84 longitude and latitude in degrees to x and y of the CRS.
struct Georeference::Transform {
    PJ_CONTEXT* context = nullptr;
    PJ* operation = nullptr;

    Transform() : context(proj_context_create()) { proj_log_level(context, PJ_LOG_NONE); }
    Transform(const Transform& other) : Transform() {
        operation = proj_clone(context, other.operation);
    }
    Transform& operator=(const Transform&) = delete;
    ~Transform() {
        proj_destroy(operation);
        proj_context_destroy(context);
    }

    /// False if PROJ knows no way between the two systems.
    bool lead_to(const std::string& wkt) {
        PJ* raw = proj_create_crs_to_crs(context, wgs84_wkt().c_str(), wkt.c_str(), nullptr);
        if (raw != nullptr) {
            operation = proj_normalize_for_visualization(context, raw);
            proj_destroy(raw);
        }
        return operation != nullptr;
    }

    [[nodiscard]] PJ_XY apply(PJ_DIRECTION direction, double x, double y) const {
        const PJ_XY result = proj_trans(operation, direction, proj_coord(x, y, 0.0, HUGE_VAL)).xy;
        return std::isfinite(result.x) && std::isfinite(result.y) ? result : PJ_XY{nan, nan};
    }
};

Georeference::Georeference()
    : wkt_(wgs84_wkt()), metres_per_unit_(equator_radius_m * std::numbers::pi / 180.0) {}

Georeference::Georeference(const std::string& crs, double x0, double y0, double dx, double dy)
    : x0_(x0), y0_(y0), dx_(dx), dy_(dy) {
    const OGRSpatialReference system = understand(crs);
    wkt_ = wkt_of(system);
    geographic_ = system.IsGeographic() != 0;
    if (geographic_) {
        turn_ = full_turn(system);
        middle_x_ = x0 + turn_ / 4.0;
        metres_per_unit_ = system.GetAngularUnits(nullptr) * equator_radius_m;
    } else {
        metres_per_unit_ = system.GetLinearUnits(nullptr);
    }
    if (!is_plain_wgs84(system)) {
        transform_ = std::make_unique<Transform>();
        if (!transform_->lead_to(wkt_)) {
            throw_input(
                fmt::format("no way is known from WGS 84 to the coordinate reference system "
                            "{}; warp the elevation to WGS 84 or UTM with gdalwarp",
                            crs_label()));
        }
    }
}

Georeference::Georeference(const Georeference& other)
    : wkt_(other.wkt_), geographic_(other.geographic_), turn_(other.turn_),
      middle_x_(other.middle_x_), metres_per_unit_(other.metres_per_unit_), x0_(other.x0_),
      y0_(other.y0_), dx_(other.dx_), dy_(other.dy_),
      transform_(other.transform_ ? std::make_unique<Transform>(*other.transform_) : nullptr) {}

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
    PJ_XY at{position.lon_deg, position.lat_deg};
    if (transform_) {
        at = transform_->apply(PJ_FWD, at.x, at.y);
    }
    if (geographic_ && std::abs(at.x - middle_x_) > turn_ / 2.0) {
        at.x -= turn_ * std::round((at.x - middle_x_) / turn_);
    }
    return {(at.x - x0_) / dx_, (at.y - y0_) / dy_};
}

geo::LatLon Georeference::position_of(CellPosition cell) const {
    PJ_XY at{x0_ + cell.column * dx_, y0_ + cell.row * dy_};
    if (transform_) {
        at = transform_->apply(PJ_INV, at.x, at.y);
    }
    return {at.y, geo::normalize_longitude_deg(at.x)};
}

std::string Georeference::crs_label() const {
    const GdalErrors errors;
    OGRSpatialReference crs;
    crs.SetFromUserInput(wkt_.c_str());
    const char* authority = crs.GetAuthorityName(nullptr);
    const char* code = crs.GetAuthorityCode(nullptr);
    if (authority != nullptr && code != nullptr) {
        return fmt::format("{}:{}", authority, code);
    }
    const char* name = crs.GetName();
    return name == nullptr ? "unnamed" : name;
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
