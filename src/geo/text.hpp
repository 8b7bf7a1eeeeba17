#pragma once

#include "base/number.hpp"

#include <optional>
#include <string>
#include <string_view>

namespace earshot::geo {

/// `text` without white space at either end.
[[nodiscard]] std::string_view trimmed(std::string_view text);

/// `text` with another character (a blank) for each that would do more than be read: control
/// characters but tab and line end (a terminal obeys them), those that turn the way of writing, and
/// U+FFFE and U+FFFF, which XML cannot hold. `text` is taken for UTF-8; other bytes are left as
/// they are.
[[nodiscard]] std::string plain_text(std::string_view text, char in_place = ' ');

/// The same on one line: tabs and line ends are other characters too.
[[nodiscard]] std::string one_line(std::string_view text, char in_place = ' ');

/// `text` as one_line() in double quotes and on one line, for a message; a long one is cut.
[[nodiscard]] std::string quoted(std::string_view text);

[[nodiscard]] bool is_digit(char character);
/// Upper case of an ASCII letter, whatever the locale; any other byte unchanged.
[[nodiscard]] char upper(char character);
[[nodiscard]] std::string upper(std::string_view text);

/// As earshot::leading_number(), with a plus or the minus of typography (U+2212) too.
[[nodiscard]] std::optional<LeadingNumber> leading_number(std::string_view text);

} // namespace earshot::geo
