#pragma once

#include "earshot/geo/geodesic.hpp"

#include <cstddef>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace earshot::scenario {

/// Somewhere to be heard.
struct Place {
    std::string name;
    geo::LatLon position;
    double people = 1.0; ///< how much it counts, >= 0
};

struct PlacesFile {
    std::vector<Place> places;
    std::size_t passed_over = 0; ///< lines, areas and other shapes that are no points
};

/// Reads places through GDAL from GeoJSON, GPX (waypoints), KML or CSV.
///
/// The name is the field "name"; without one a place is called after the file and its number in it
/// ("camps 3"). The weight is the field "people" or "population", 1 where it is missing or empty.
/// CSV takes columns latitude (or lat) and longitude (or lon, lng, long) in decimal degrees, or
/// "position" in any form geo::parse_position() reads; case does not matter. Other files may be in
/// any CRS they declare.
///
/// Throws Error(Fault::input) naming the file, and the feature where there is one: file missing,
/// of another kind or damaged, no place in it, a position that is missing or off the earth, a
/// weight that is no number or below zero.
[[nodiscard]] PlacesFile read_places(const std::filesystem::path& file);

/// A waypoint of a GPX file.
struct Waypoint {
    std::optional<geo::LatLon> position;
    std::string name, time, comment, description;
};

/// Throws Error(Fault::input) if the file is no GPX or ends too early.
[[nodiscard]] std::vector<Waypoint> read_waypoints(const std::filesystem::path& file);

} // namespace earshot::scenario
