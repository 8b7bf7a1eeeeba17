#include "terrain/off_ground.hpp"

#include "earshot/base/error.hpp"
#include "earshot/geo/position.hpp"
#include "geo/grids.hpp"

#include <fmt/format.h>

#include <cmath>
#include <optional>

namespace earshot::terrain {
namespace {

/// A position that may have been meant, and what is wrong with the one that was written.
struct Guess {
    geo::LatLon position;
    std::string slip;
};

template <typename Covers>
std::optional<Guess> guess_for(geo::LatLon written, const Covers& covers) {
    const double lat_deg = written.lat_deg;
    const double lon_deg = written.lon_deg;
    for (const Guess& guess :
         {Guess{{lat_deg, -lon_deg}, "the other sign of the longitude"},
          Guess{{-lat_deg, lon_deg}, "the other sign of the latitude"},
          Guess{{-lat_deg, -lon_deg}, "the other sign of both"},
          Guess{{lon_deg, lat_deg}, "latitude and longitude the other way round"},
          Guess{{lon_deg, -lat_deg}, "latitude and longitude the other way round, with a minus"},
          Guess{{-lon_deg, lat_deg}, "latitude and longitude the other way round, with a minus"}}) {
        if (std::abs(guess.position.lat_deg) <= 90.0 && covers(guess.position)) {
            return guess;
        }
    }
    constexpr double utm_limit_deg = 80.0;
    if (!(std::abs(lat_deg) < utm_limit_deg)) {
        return std::nullopt;
    }
    const geo::GridPlace place = geo::grid_place(written);
    for (int zone = 1; zone <= 60; ++zone) {
        for (const bool north : {place.north, !place.north}) {
            try {
                const geo::LatLon there = geo::position_of({zone, north, place.x_m, place.y_m});
                if (covers(there)) {
                    return Guess{there,
                                 fmt::format("UTM zone {} {}", zone, north ? "north" : "south")};
                }
            } catch (const Error&) {
                continue; // beyond that zone's grid
            }
        }
    }
    return std::nullopt;
}

} // namespace

std::string off_ground_words(const Georeference& georeference, int columns, int rows,
                             geo::LatLon position) {
    const std::optional<Guess> guess = guess_for(position, [&](geo::LatLon place) {
        return covers(columns, rows, georeference.cell_of(place));
    });
    return fmt::format(", which runs from {} to {}; {}give elevation that covers it",
                       geo::format_decimal(georeference.position_of({-0.5, -0.5})),
                       geo::format_decimal(georeference.position_of({columns - 0.5, rows - 0.5})),
                       guess ? fmt::format("did you mean {} ({})? Else ",
                                           geo::format_decimal(guess->position), guess->slip)
                             : "check the position, or ");
}

std::string no_height_words(const HeightGrid& ground, geo::LatLon position) {
    return ground.covers(ground.georeference.cell_of(position))
               ? "in a void of the elevation; move it or give elevation without the void"
               : "off the elevation" +
                     off_ground_words(ground.georeference, ground.columns, ground.rows, position);
}

} // namespace earshot::terrain
