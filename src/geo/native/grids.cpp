#include "geo/grids.hpp"

#include "earshot/base/error.hpp"
#include "earshot/geo/position.hpp"

#include <GeographicLib/MGRS.hpp>
#include <GeographicLib/UTMUPS.hpp>

namespace earshot::geo {

using GeographicLib::MGRS;
using GeographicLib::UTMUPS;

int utm_zone(LatLon position) {
    return UTMUPS::StandardZone(position.lat_deg, position.lon_deg, UTMUPS::UTM);
}

GridPlace grid_place(LatLon position) {
    GridPlace place;
    UTMUPS::Forward(position.lat_deg, position.lon_deg, place.zone, place.north, place.x_m,
                    place.y_m);
    return place;
}

LatLon position_of(const GridPlace& place) {
    LatLon position;
    try {
        UTMUPS::Reverse(place.zone, place.north, place.x_m, place.y_m, position.lat_deg,
                        position.lon_deg);
    } catch (const GeographicLib::GeographicErr& error) {
        throw_usage(error.what());
    }
    return position;
}

std::string mgrs_square(const GridPlace& place, double lat_deg) {
    constexpr int metre_precision = 5;
    std::string square;
    MGRS::Forward(place.zone, place.north, place.x_m, place.y_m, lat_deg, metre_precision, square);
    return square;
}

GridPlace mgrs_place(const std::string& square) {
    GridPlace place;
    try {
        int precision = 0;
        MGRS::Reverse(square, place.zone, place.north, place.x_m, place.y_m, precision);
    } catch (const GeographicLib::GeographicErr& error) {
        throw_usage(error.what());
    }
    return place;
}

} // namespace earshot::geo
