#pragma once

#include "earshot/base/error.hpp"

#include <fmt/format.h>

#include <utility>

/// Errors whose message is put together as fmt::format() does. What goes into the message of a
/// requirement is worked out even if it is met: it must exist then too.

namespace earshot {

template <typename First, typename... Rest>
[[noreturn]] void throw_usage(fmt::format_string<First, Rest...> message, First&& first,
                              Rest&&... rest) {
    throw_usage(fmt::format(message, std::forward<First>(first), std::forward<Rest>(rest)...));
}
template <typename First, typename... Rest>
[[noreturn]] void throw_input(fmt::format_string<First, Rest...> message, First&& first,
                              Rest&&... rest) {
    throw_input(fmt::format(message, std::forward<First>(first), std::forward<Rest>(rest)...));
}

/// Throws Error(Fault::usage) unless the value that a person gave fits.
template <typename... Args>
void require_usage(bool fits, fmt::format_string<Args...> message, Args&&... args) {
    if (!fits) {
        throw_usage(fmt::format(message, std::forward<Args>(args)...));
    }
}
/// Throws Error(Fault::input) unless the input fits.
template <typename... Args>
void require_input(bool fits, fmt::format_string<Args...> message, Args&&... args) {
    if (!fits) {
        throw_input(fmt::format(message, std::forward<Args>(args)...));
    }
}
/// Throws Error(Fault::output) unless the output could be written.
template <typename... Args>
void require_output(bool done, fmt::format_string<Args...> message, Args&&... args) {
    if (!done) {
        throw_output(fmt::format(message, std::forward<Args>(args)...));
    }
}

} // namespace earshot
