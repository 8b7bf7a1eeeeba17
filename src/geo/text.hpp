#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace earshot::geo {

/// `text` without white space at either end.
[[nodiscard]] std::string_view trimmed(std::string_view text);

/// `text` in double quotes and on one line, for a message: control characters become '?', and a
/// long text is cut.
[[nodiscard]] std::string quoted(std::string_view text);

[[nodiscard]] bool is_digit(char character);
/// Upper case of an ASCII letter, whatever the locale; any other byte unchanged.
[[nodiscard]] char upper(char character);
[[nodiscard]] std::string upper(std::string_view text);

/// A number at the start of a text, and what follows it.
struct LeadingNumber {
    double value = 0.0;
    std::string_view rest;
};

/// Reads the number that `text` starts with: an optional sign (ASCII or U+2212), digits with a
/// decimal point, and an optional exponent. Empty if there is none, or if it is not finite.
[[nodiscard]] std::optional<LeadingNumber> leading_number(std::string_view text);

} // namespace earshot::geo
