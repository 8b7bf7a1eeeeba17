#pragma once

#include <ogr_spatialref.h>

#include <memory>
#include <string>

namespace earshot::terrain {

/// WGS 84, longitude before latitude.
[[nodiscard]] const OGRSpatialReference& wgs84();
/// The horizontal part, x before y.
[[nodiscard]] OGRSpatialReference horizontal(const OGRSpatialReference& crs);
/// Whether two systems are one, whatever the order of their axes.
[[nodiscard]] bool same_crs(const OGRSpatialReference& a, const OGRSpatialReference& b);
/// From the reference system of a file's layer to wgs84(); null if it is that, or none is known.
/// Throws Error(Fault::input) if there is no way.
[[nodiscard]] std::unique_ptr<OGRCoordinateTransformation>
way_to_wgs84(const OGRSpatialReference* from, const std::string& file);
/// WKT 2:2019.
[[nodiscard]] std::string wkt_of(const OGRSpatialReference& crs);

} // namespace earshot::terrain
