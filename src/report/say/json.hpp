#pragma once

#include "earshot/geo/geodesic.hpp"

#include <nlohmann/json.hpp>

#include <cmath>
#include <optional>
#include <string>

/// For the sources that make JSON; no header includes this.

namespace earshot::report {

using nlohmann::ordered_json;

/// JSON knows no NaN: what is not known is null.
inline ordered_json number_or_null(std::optional<double> value) {
    return value && std::isfinite(*value) ? ordered_json(*value) : ordered_json(nullptr);
}
template <typename Value>
ordered_json value_or_null(const std::optional<Value>& value) {
    return value ? ordered_json(*value) : ordered_json(nullptr);
}

/// An array of what `make` gives for each of some things.
template <typename Things, typename Make>
ordered_json json_list(const Things& things, const Make& make) {
    ordered_json list = ordered_json::array();
    for (const auto& thing : things) {
        list.push_back(make(thing));
    }
    return list;
}

/// RFC 7946.
inline ordered_json point_json(geo::LatLon position) {
    return {{"type", "Point"}, {"coordinates", {position.lon_deg, position.lat_deg}}};
}

/// As text; what is no UTF-8 in names is replaced, since names come from anywhere.
inline std::string text_of(const ordered_json& json, int indent = 2) {
    return json.dump(indent, ' ', false, ordered_json::error_handler_t::replace) + "\n";
}

} // namespace earshot::report
