#pragma once

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

/// As text; what is no UTF-8 in names is replaced, since names come from anywhere.
inline std::string text_of(const ordered_json& json, int indent = 2) {
    return json.dump(indent, ' ', false, ordered_json::error_handler_t::replace) + "\n";
}

} // namespace earshot::report
