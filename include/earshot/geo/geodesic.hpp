#pragma once

#include <cmath>
/// Positions and the shortest lines between them, to 15 nm.
///
///     const geo::GeodesicPath way = geo::geodesic_between(ridge, camp);
///     const geo::LatLon half_way =
///         geo::geodesic_destination(ridge, way.bearing_deg, way.distance_m / 2.0);

namespace earshot::geo {

/// A position on the WGS 84 ellipsoid. Latitude in [-90, 90], north positive; longitude in
/// [-180, 180], east positive.
struct LatLon {
    double lat_deg = 0.0;
    double lon_deg = 0.0;
};

/// Shortest line between two positions on WGS 84.
struct GeodesicPath {
    double distance_m = 0.0;
    double bearing_deg = 0.0;      ///< at the first position, from true north, in [0, 360)
    double back_bearing_deg = 0.0; ///< at the second position toward the first, in [0, 360)
};

/// Solves the inverse geodesic problem on WGS 84 with PROJ's geodesic routines, accurate to about
/// 15 nm (C. F. F. Karney, "Algorithms for geodesics", J. Geodesy 87, 43-55, 2013). Bearings
/// between coinciding positions mean nothing; a latitude beyond 90 degrees or a NaN gives NaN.
[[nodiscard]] GeodesicPath geodesic_between(LatLon from, LatLon to);

/// Solves the direct geodesic problem: the position `distance_m` from `from` along `bearing_deg`,
/// to the same accuracy. A negative distance leads backward.
[[nodiscard]] LatLon geodesic_destination(LatLon from, double bearing_deg, double distance_m);

/// A geodesic with a fixed start and bearing, for many positions along it at little cost each.
/// Freely copied, and safe to use from several threads at once.
class GeodesicLine {
public:
    GeodesicLine(LatLon start, double bearing_deg);
    [[nodiscard]] LatLon at(double distance_m) const;

private:
    // Storage for PROJ's geod_geodesicline, kept out of this header; checked in the source file.
    alignas(8) unsigned char storage_[512];
};

/// Longitude brought into [-180, 180).
[[nodiscard]] inline double normalize_longitude_deg(double lon_deg) {
    const double nearest = std::remainder(lon_deg, 360.0); // exact, in [-180, 180]
    return nearest == 180.0 ? -180.0 : nearest + 0.0;      // + 0.0 turns -0 into 0
}
/// Bearing brought into [0, 360).
[[nodiscard]] inline double normalize_bearing_deg(double bearing_deg) {
    const double nearest = std::remainder(bearing_deg, 360.0);
    const double positive = nearest < 0.0 ? nearest + 360.0 : nearest + 0.0;
    // A tiny negative angle plus 360 rounds to 360 itself.
    return positive < 360.0 || std::isnan(positive) ? positive : 0.0;
}
} // namespace earshot::geo
