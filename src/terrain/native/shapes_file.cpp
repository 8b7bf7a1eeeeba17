#include "base/require.hpp"
#include "earshot/geo/position.hpp"
#include "terrain/native/gdal_errors.hpp"
#include "terrain/native/gdal_open.hpp"
#include "terrain/native/spatial_reference.hpp"
#include "terrain/shapes.hpp"

#include <gdal_priv.h>
#include <ogrsf_frmts.h>

#include <cmath>
#include <memory>
#include <utility>

namespace earshot::terrain {
namespace {

geo::LatLon checked_position(double x, double y, const std::string& file) {
    require_input(std::abs(x) <= 360.0 && std::abs(y) <= 90.0,
                  "{} holds a position at longitude {:g}, latitude {:g}, which is not on the "
                  "earth; check its reference system",
                  file, x, y);
    return {y, geo::normalize_longitude_deg(x)};
}

Shapes::Line line_of(const OGRSimpleCurve& curve, const std::string& file) {
    Shapes::Line line;
    line.reserve(static_cast<std::size_t>(curve.getNumPoints()));
    for (int i = 0; i < curve.getNumPoints(); ++i) {
        line.push_back(checked_position(curve.getX(i), curve.getY(i), file));
    }
    return line;
}

void add_geometry(const OGRGeometry& geometry, Shapes& shapes) {
    switch (wkbFlatten(geometry.getGeometryType())) {
    case wkbPoint: {
        if (geometry.IsEmpty()) {
            return;
        }
        const OGRPoint* point = geometry.toPoint();
        shapes.points.push_back(checked_position(point->getX(), point->getY(), shapes.label));
        return;
    }
    case wkbLineString:
        if (Shapes::Line line = line_of(*geometry.toLineString(), shapes.label); !line.empty()) {
            shapes.lines.push_back(std::move(line));
        }
        return;
    case wkbPolygon: {
        std::vector<Shapes::Line> rings;
        for (const OGRLinearRing* ring : *geometry.toPolygon()) {
            rings.push_back(line_of(*ring, shapes.label));
        }
        if (!rings.empty() && geometry.toPolygon()->get_Area() > 0.0) {
            shapes.polygons.push_back(std::move(rings));
        }
        return;
    }
    default:
        if (OGR_GT_IsSubClassOf(geometry.getGeometryType(), wkbGeometryCollection) != 0) {
            for (const OGRGeometry* part : *geometry.toGeometryCollection()) {
                add_geometry(*part, shapes);
            }
            return;
        }
        throw_input("{} holds a {}; give points, lines or polygons", shapes.label,
                    geometry.getGeometryName());
    }
}

void add_layer(OGRLayer& layer, Shapes& shapes) {
    const auto to_wgs84 = way_to_wgs84(layer.GetSpatialRef(), shapes.label);
    layer.ResetReading();
    for (const OGRFeatureUniquePtr& feature : layer) {
        const OGRGeometry* geometry = feature->GetGeometryRef();
        if (geometry == nullptr) {
            continue;
        }
        const std::unique_ptr<OGRGeometry> linear(geometry->getLinearGeometry());
        require_input(!to_wgs84 || linear->transform(to_wgs84.get()) == OGRERR_NONE,
                      "{}: feature {} cannot be placed on WGS 84", shapes.label, feature->GetFID());
        add_geometry(*linear, shapes);
    }
}

} // namespace

Shapes read_shapes(const std::filesystem::path& path) {
    const GdalErrors errors;
    std::error_code ignored;
    require_input(std::filesystem::exists(path, ignored), "{} does not exist; check the name",
                  path.string());
    // Names under which a table keeps positions, for formats that have no geometry of their own.
    const char* const options[] = {"X_POSSIBLE_NAMES=lon,long,longitude,x",
                                   "Y_POSSIBLE_NAMES=lat,latitude,y", nullptr};
    const GDALDatasetUniquePtr file =
        open_input(path.string(), GDAL_OF_VECTOR | GDAL_OF_READONLY, nullptr, options);
    Shapes shapes;
    shapes.label = path.filename().string();
    require_input(
        file != nullptr,
        "{} cannot be read as GeoJSON, GPX, KML, CSV or another vector format ({}); check the file",
        path.string(), errors.reason());
    for (OGRLayer* layer : file->GetLayers()) {
        // A GPX file shows the points of its tracks again as layers of their own.
        const std::string name = layer->GetName();
        if (name == "track_points" || name == "route_points") {
            continue;
        }
        add_layer(*layer, shapes);
    }
    require_input(!shapes.points.empty() || !shapes.lines.empty() || !shapes.polygons.empty(),
                  "{} holds no point, line or polygon, or only empty ones; draw one",
                  path.string());
    return shapes;
}

} // namespace earshot::terrain
