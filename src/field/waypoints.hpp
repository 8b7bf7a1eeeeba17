#pragma once

#include "earshot/geo/geodesic.hpp"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace earshot::field {

/// A waypoint of a GPX file.
struct Waypoint {
    std::optional<geo::LatLon> position;
    std::string name, time, comment, description;
};

/// Throws Error(Fault::input) if the file is no GPX or ends too early.
[[nodiscard]] std::vector<Waypoint> read_waypoints(const std::filesystem::path& file);

} // namespace earshot::field
