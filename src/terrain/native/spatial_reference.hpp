#pragma once

#include <ogr_spatialref.h>

#include <string>

namespace earshot::terrain {

/// WGS 84, longitude before latitude.
[[nodiscard]] const OGRSpatialReference& wgs84();
/// The horizontal part, x before y.
[[nodiscard]] OGRSpatialReference horizontal(const OGRSpatialReference& crs);
/// Whether two systems are one, whatever the order of their axes.
[[nodiscard]] bool same_crs(const OGRSpatialReference& a, const OGRSpatialReference& b);
/// WKT 2:2019.
[[nodiscard]] std::string wkt_of(const OGRSpatialReference& crs);

} // namespace earshot::terrain
