#pragma once

#include <string_view>

namespace earshot::geo {

/// "north", "north-east", ... the nearest of eight.
[[nodiscard]] std::string_view compass_word(double bearing_deg);

} // namespace earshot::geo
