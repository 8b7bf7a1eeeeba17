#pragma once

#include "earshot/base/error.hpp"

#include <catch2/catch.hpp>
#include <fmt/format.h>

#include <string>
#include <string_view>

/// The message with which `action` refuses a text from the user, checked to be one line.
template <typename Action>
std::string refusal(Action action) {
    try {
        action();
    } catch (const earshot::Error& error) {
        CHECK(error.fault() == earshot::Fault::usage);
        const std::string message = error.what();
        CHECK(message.find('\n') == std::string::npos);
        return message;
    }
    FAIL_CHECK("nothing was refused");
    return {};
}

/// `text` as messages quote it.
inline std::string in_quotes(std::string_view text) {
    return fmt::format("\"{}\"", text);
}
