#pragma once

#include "earshot/geo/geodesic.hpp"

#include <span>
#include <string>
#include <string_view>

/// Stations, places and what was predicted for them, as files that other programs open. Each is
/// returned as the file's bytes, all text in UTF-8; positions are WGS 84.

namespace earshot::report {

struct Briefing;

/// GeoJSON (RFC 7946): a point for each station and place, a line for each pair of stations that
/// hear each other both ways or one way, cut at the 180 degree meridian. docs/briefing.md lists the
/// properties.
[[nodiscard]] std::string places_geojson(const Briefing& briefing);

/// GPX 1.1: a waypoint for each station and place, with what was predicted in its description.
[[nodiscard]] std::string places_gpx(const Briefing& briefing);

/// KML 2.2 (OGC 07-147r2): stations, places and the lines between stations, in folders, and the
/// legend and cautions in words.
[[nodiscard]] std::string places_kml(const Briefing& briefing);

/// The same zipped (KMZ), with the coverage in classes laid over the ground and a picture of the
/// legend. Where no words get through, or nothing is known, the ground stays bare.
[[nodiscard]] std::string places_kmz(const Briefing& briefing);

/// Somewhere to go: a stop of a walk, the site of a relay.
struct NamedPoint {
    std::string name;
    std::string words; ///< what to know of it; may be empty
    geo::LatLon position;
};

/// Whether points_file() knows the ending: .gpx, .kml, .geojson or .json.
[[nodiscard]] bool is_points_file(std::string_view file);
/// Points in the format that the name of the file ends in.
[[nodiscard]] std::string points_file(std::string_view file, std::span<const NamedPoint> points);

} // namespace earshot::report
