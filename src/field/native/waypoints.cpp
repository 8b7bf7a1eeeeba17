#include "field/waypoints.hpp"

#include "earshot/base/error.hpp"
#include "terrain/native/gdal_errors.hpp"

#include <fmt/format.h>
#include <gdal_priv.h>
#include <ogrsf_frmts.h>

namespace earshot::field {
namespace {

std::string field_text(const OGRFeature& feature, const char* name) {
    const int field = feature.GetFieldIndex(name);
    if (field < 0 || feature.IsFieldSetAndNotNull(field) == 0) {
        return {};
    }
    int year = 0;
    int month = 0;
    int day = 0;
    int hour = 0;
    int minute = 0;
    int second = 0;
    int zone = 0;
    if (feature.GetFieldDefnRef(field)->GetType() == OFTDateTime &&
        feature.GetFieldAsDateTime(field, &year, &month, &day, &hour, &minute, &second, &zone) !=
            0) {
        return fmt::format("{:04}-{:02}-{:02} {:02}:{:02}:{:02}", year, month, day, hour, minute,
                           second);
    }
    return feature.GetFieldAsString(field);
}

} // namespace

std::vector<Waypoint> read_waypoints(const std::filesystem::path& file) {
    terrain::GdalErrors errors;
    constexpr const char* drivers[] = {"GPX", nullptr};
    const GDALDatasetUniquePtr dataset(GDALDataset::Open(
        file.c_str(), GDAL_OF_VECTOR | GDAL_OF_READONLY | GDAL_OF_VERBOSE_ERROR, drivers));
    OGRLayer* layer = dataset ? dataset->GetLayerByName("waypoints") : nullptr;
    if (layer == nullptr) {
        throw_input(fmt::format("{}: cannot be read as GPX ({})", file.string(), errors.reason()));
    }
    std::vector<Waypoint> waypoints;
    for (const OGRFeatureUniquePtr& feature : *layer) {
        Waypoint& waypoint = waypoints.emplace_back();
        const OGRGeometry* shape = feature->GetGeometryRef();
        if (shape != nullptr && wkbFlatten(shape->getGeometryType()) == wkbPoint) {
            waypoint.position = geo::LatLon{shape->toPoint()->getY(), shape->toPoint()->getX()};
        }
        waypoint.name = field_text(*feature, "name");
        waypoint.time = field_text(*feature, "time");
        waypoint.comment = field_text(*feature, "cmt");
        waypoint.description = field_text(*feature, "desc");
    }
    if (errors.failed()) {
        throw_input(fmt::format("{}: reading stopped ({}); get a fresh copy", file.string(),
                                errors.reason()));
    }
    return waypoints;
}

} // namespace earshot::field
