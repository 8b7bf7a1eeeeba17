#include "terrain/reference_system.hpp"

#include "base/require.hpp"
#include "terrain/native/gdal_errors.hpp"
#include "terrain/native/spatial_reference.hpp"

#include <cpl_conv.h>
#include <fmt/format.h>
#include <proj.h>

#include <cmath>
#include <limits>
#include <numbers>

namespace earshot::terrain {
namespace {

constexpr double equator_radius_m = 6378137.0; // WGS 84

OGRSpatialReference understand(const std::string& text) {
    const GdalErrors errors;
    OGRSpatialReference given;
    const bool understood = given.SetFromUserInput(text.c_str()) == OGRERR_NONE;
    require_input(
        understood,
        "the coordinate reference system '{}' cannot be understood ({}); give an EPSG code or WKT",
        text.substr(0, 60), errors.reason());
    OGRSpatialReference crs = horizontal(given);
    if (!crs.IsGeographic() && !crs.IsProjected()) {
        const char* name = crs.GetName();
        throw_input("the coordinate reference system '{}' is neither geographic nor projected, so "
                    "it has no known place on the earth; assign the right one, for example with "
                    "gdal_translate -a_srs",
                    name == nullptr ? "" : name);
    }
    return crs;
}

std::string label_of(const std::string& wkt) {
    const GdalErrors errors;
    OGRSpatialReference crs;
    crs.SetFromUserInput(wkt.c_str());
    const char* authority = crs.GetAuthorityName(nullptr);
    const char* code = crs.GetAuthorityCode(nullptr);
    if (authority != nullptr && code != nullptr) {
        return fmt::format("{}:{}", authority, code);
    }
    const char* name = crs.GetName();
    return name == nullptr ? "unnamed" : name;
}

double full_turn(const OGRSpatialReference& crs) {
    const double turn = 2.0 * std::numbers::pi / crs.GetAngularUnits(nullptr);
    return std::abs(turn - std::round(turn)) < 1e-6 ? std::round(turn) : turn;
}

class ProjProjection : public Projection {
public:
    /// Null if PROJ knows no way between the two systems.
    static std::unique_ptr<Projection> to(const std::string& wkt) {
        auto made = std::make_unique<ProjProjection>();
        static const std::string from = wkt_of(wgs84());
        PJ* raw = proj_create_crs_to_crs(made->context_, from.c_str(), wkt.c_str(), nullptr);
        if (raw != nullptr) {
            made->operation_ = proj_normalize_for_visualization(made->context_, raw);
            proj_destroy(raw);
        }
        return made->operation_ != nullptr ? std::move(made) : nullptr;
    }

    ProjProjection() : context_(proj_context_create()) { proj_log_level(context_, PJ_LOG_NONE); }
    ProjProjection(const ProjProjection& other) : ProjProjection() {
        operation_ = proj_clone(context_, other.operation_);
    }
    ProjProjection& operator=(const ProjProjection&) = delete;
    ~ProjProjection() override {
        proj_destroy(operation_);
        proj_context_destroy(context_);
    }

    [[nodiscard]] std::unique_ptr<Projection> copy() const override {
        return std::make_unique<ProjProjection>(*this);
    }
    [[nodiscard]] Point forward(Point position) const override { return apply(PJ_FWD, position); }
    [[nodiscard]] Point inverse(Point place) const override { return apply(PJ_INV, place); }

private:
    [[nodiscard]] Point apply(PJ_DIRECTION direction, Point from) const {
        constexpr double nan = std::numeric_limits<double>::quiet_NaN();
        const PJ_XY to =
            proj_trans(operation_, direction, proj_coord(from.x, from.y, 0.0, HUGE_VAL)).xy;
        return std::isfinite(to.x) && std::isfinite(to.y) ? Point{to.x, to.y} : Point{nan, nan};
    }

    PJ_CONTEXT* context_ = nullptr;
    PJ* operation_ = nullptr;
};

} // namespace

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

OGRSpatialReference horizontal(const OGRSpatialReference& crs) {
    OGRSpatialReference result(crs);
    result.SetAxisMappingStrategy(OAMS_TRADITIONAL_GIS_ORDER);
    result.StripVertical();
    result.DemoteTo2D(nullptr);
    return result;
}

bool same_crs(const OGRSpatialReference& a, const OGRSpatialReference& b) {
    constexpr const char* options[] = {"CRITERION=EQUIVALENT_EXCEPT_AXIS_ORDER_GEOGCRS", nullptr};
    return a.IsSame(&b, options) != 0;
}

std::unique_ptr<OGRCoordinateTransformation> way_to_wgs84(const OGRSpatialReference* from,
                                                          const std::string& file) {
    if (from == nullptr || from->IsSame(&wgs84()) != 0) {
        return nullptr;
    }
    const GdalErrors errors;
    std::unique_ptr<OGRCoordinateTransformation> way(
        OGRCreateCoordinateTransformation(from, &wgs84()));
    if (!way) {
        throw_input(fmt::format("{}: its reference system cannot be brought to WGS 84 ({})", file,
                                errors.reason()));
    }
    return way;
}

std::string wkt_of(const OGRSpatialReference& crs) {
    constexpr const char* options[] = {"FORMAT=WKT2_2019", nullptr};
    char* text = nullptr;
    crs.exportToWkt(&text, options);
    std::string wkt = text == nullptr ? "" : text;
    CPLFree(text);
    return wkt;
}

ReferenceSystem reference_system(const std::string& crs) {
    const OGRSpatialReference read = understand(crs);
    ReferenceSystem system;
    system.wkt = wkt_of(read);
    system.label = label_of(system.wkt);
    if (read.IsGeographic()) {
        system.turn = full_turn(read);
        system.metres_per_unit = read.GetAngularUnits(nullptr) * equator_radius_m;
    } else {
        system.metres_per_unit = read.GetLinearUnits(nullptr);
    }
    if (read.IsGeographic() && same_crs(read, wgs84())) {
        return system;
    }
    system.projection = ProjProjection::to(system.wkt);
    require_input(system.projection != nullptr,
                  "no way is known from WGS 84 to the coordinate reference system {}; warp the "
                  "elevation to WGS 84 or UTM with gdalwarp",
                  system.label);
    return system;
}

} // namespace earshot::terrain
