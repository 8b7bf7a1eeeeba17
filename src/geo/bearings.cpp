#include "earshot/geo/geodesic.hpp"

#include <cmath>

namespace earshot::geo {

double normalize_longitude_deg(double lon_deg) {
    const double nearest = std::remainder(lon_deg, 360.0); // exact, in [-180, 180]
    return nearest == 180.0 ? -180.0 : nearest + 0.0;      // + 0.0 turns -0 into 0
}

double normalize_bearing_deg(double bearing_deg) {
    const double nearest = std::remainder(bearing_deg, 360.0);
    const double positive = nearest < 0.0 ? nearest + 360.0 : nearest + 0.0;
    // A tiny negative angle plus 360 rounds to 360 itself.
    return positive < 360.0 || std::isnan(positive) ? positive : 0.0;
}

} // namespace earshot::geo
