#include "earshot/geo/geodesic.hpp"

#include <geodesic.h>

#include <cstring>
#include <type_traits>

namespace earshot::geo {
namespace {

constexpr double wgs84_semi_major_axis_m = 6378137.0;
constexpr double wgs84_flattening = 1.0 / 298.257223563;

const geod_geodesic& wgs84() {
    static const geod_geodesic ellipsoid = [] {
        geod_geodesic result = {};
        geod_init(&result, wgs84_semi_major_axis_m, wgs84_flattening);
        return result;
    }();
    return ellipsoid;
}

} // namespace

GeodesicPath geodesic_between(LatLon from, LatLon to) {
    GeodesicPath path;
    double bearing_deg = 0.0;
    double onward_bearing_deg = 0.0;
    geod_inverse(&wgs84(), from.lat_deg, from.lon_deg, to.lat_deg, to.lon_deg, &path.distance_m,
                 &bearing_deg, &onward_bearing_deg);
    path.bearing_deg = normalize_bearing_deg(bearing_deg);
    path.back_bearing_deg = normalize_bearing_deg(onward_bearing_deg + 180.0);
    return path;
}

LatLon geodesic_destination(LatLon from, double bearing_deg, double distance_m) {
    LatLon to;
    geod_direct(&wgs84(), from.lat_deg, from.lon_deg, bearing_deg, distance_m, &to.lat_deg,
                &to.lon_deg, nullptr);
    return to;
}

GeodesicLine::GeodesicLine(LatLon start, double bearing_deg) {
    static_assert(sizeof(geod_geodesicline) <= sizeof(storage_));
    static_assert(alignof(geod_geodesicline) <= 8);
    static_assert(std::is_trivially_copyable_v<geod_geodesicline>);
    geod_geodesicline line = {};
    geod_lineinit(&line, &wgs84(), start.lat_deg, start.lon_deg, bearing_deg,
                  GEOD_LATITUDE | GEOD_LONGITUDE | GEOD_DISTANCE_IN);
    // Copying the bytes of a trivially copyable object into the array creates that object there.
    std::memcpy(storage_, &line, sizeof(line));
}

LatLon GeodesicLine::at(double distance_m) const {
    LatLon position;
    geod_position(reinterpret_cast<const geod_geodesicline*>(storage_), distance_m,
                  &position.lat_deg, &position.lon_deg, nullptr);
    return position;
}

} // namespace earshot::geo
