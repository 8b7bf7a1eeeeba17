#pragma once

#include <algorithm>
#include <iterator>
#include <string_view>

namespace earshot {

/// The first of some things whose `name` is this one; null if there is none.
template <typename Things>
[[nodiscard]] auto named(const Things& things, std::string_view name) {
    const auto found = std::find_if(std::begin(things), std::end(things),
                                    [&](const auto& thing) { return thing.name == name; });
    return found == std::end(things) ? nullptr : &*found;
}

} // namespace earshot
