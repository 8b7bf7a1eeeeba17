#include "terrain/cover_kinds.hpp"

#include "earshot/base/error.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>

namespace earshot::terrain {
namespace {

constexpr std::array<std::string_view, 6> names{"water", "open",        "suburban",
                                                "urban", "dense-urban", "woodland"};
constexpr std::array clutter_of{Clutter::water,       Clutter::open,
                                Clutter::suburban,    Clutter::urban_or_trees,
                                Clutter::dense_urban, Clutter::urban_or_trees};

} // namespace

std::span<const std::string_view> cover_kinds() {
    return names;
}

CoverClass cover_kind(std::string_view name, std::optional<double> height_m) {
    const auto found = std::find(names.begin(), names.end(), name);
    if (found == names.end()) {
        throw_usage(fmt::format("the ground cover '{}' is not known; use one of {}", name,
                                fmt::join(names, ", ")));
    }
    const Clutter clutter = clutter_of[static_cast<std::size_t>(found - names.begin())];
    return {0, std::string(name), clutter, height_m.value_or(default_height_m(clutter)),
            name == "woodland"};
}

} // namespace earshot::terrain
