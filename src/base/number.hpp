#pragma once

#include <cstdint>
#include <optional>
#include <string_view>

namespace earshot {

/// A number at the start of a text, and what follows it.
struct LeadingNumber {
    double value = 0.0;
    std::string_view rest;
};

/// Reads the number that `text` starts with: an optional minus, digits with or without a decimal
/// point (whatever the locale), an optional exponent; "inf" and "nan" are read too. Empty if there
/// is none, or none so large.
[[nodiscard]] std::optional<LeadingNumber> leading_number(std::string_view text);

/// The number that is all of `text`.
[[nodiscard]] std::optional<double> number_in(std::string_view text);
/// The same, but neither infinite nor NaN.
[[nodiscard]] std::optional<double> finite_number_in(std::string_view text);

/// The digits that `text` starts with, as a whole number.
[[nodiscard]] std::optional<std::uint64_t> leading_digits(std::string_view text);

} // namespace earshot
