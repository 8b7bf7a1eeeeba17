#pragma once

#include "earshot/terrain/ground_cover.hpp"

#include <optional>
#include <span>
#include <string_view>

namespace earshot::terrain {

/// What ground can be covered with when it is covered alike everywhere: water, open, suburban,
/// urban, dense-urban, woodland.
[[nodiscard]] std::span<const std::string_view> cover_kinds();

/// One of cover_kinds() by its name, with the height of ITU-R P.1812-8 table 2 unless another is
/// given. Throws Error(Fault::usage) that lists the names if there is none of that name.
[[nodiscard]] CoverClass cover_kind(std::string_view name,
                                    std::optional<double> height_m = std::nullopt);

} // namespace earshot::terrain
