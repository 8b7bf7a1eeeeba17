#pragma once

#include "base/number.hpp"

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

/// As earshot::leading_number(), with a plus or the minus of typography (U+2212) too.
[[nodiscard]] std::optional<LeadingNumber> leading_number(std::string_view text);

} // namespace earshot::geo
