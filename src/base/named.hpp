#pragma once

#include <algorithm>
#include <iterator>
#include <string_view>
#include <vector>

namespace earshot {

/// The first of some things whose `name` is this one; null if there is none.
template <typename Things>
[[nodiscard]] auto named(const Things& things, std::string_view name) {
    const auto found = std::find_if(std::begin(things), std::end(things),
                                    [&](const auto& thing) { return thing.name == name; });
    return found == std::end(things) ? nullptr : &*found;
}

/// The names of all of these things, in their order.
template <typename... Things>
[[nodiscard]] std::vector<std::string_view> names_of(const Things&... things) {
    std::vector<std::string_view> names;
    const auto add = [&names](const auto& list) {
        for (const auto& thing : list) {
            names.emplace_back(thing.name);
        }
    };
    (add(things), ...);
    return names;
}

} // namespace earshot
