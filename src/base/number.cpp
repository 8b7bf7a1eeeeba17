#include "base/number.hpp"

#include <cmath>
#include <limits>
#include <locale>
#include <sstream>
#include <string>
#include <utility>

namespace earshot {
namespace {

/// Where the digits that start at `at` end.
std::size_t after_digits(std::string_view text, std::size_t at) {
    while (at < text.size() && text[at] >= '0' && text[at] <= '9') {
        ++at;
    }
    return at;
}

std::size_t after_number(std::string_view text) {
    const std::size_t start = text.starts_with('-') ? 1 : 0;
    std::size_t end = after_digits(text, start);
    std::size_t digits = end - start;
    if (text.substr(end).starts_with('.')) {
        const std::size_t fraction = after_digits(text, end + 1);
        digits += fraction - end - 1;
        end = fraction;
    }
    if (digits == 0) {
        return 0;
    }
    if (text.substr(end).starts_with('e') || text.substr(end).starts_with('E')) {
        const std::string_view sign = text.substr(end + 1);
        const std::size_t first = end + (sign.starts_with('-') || sign.starts_with('+') ? 2 : 1);
        if (const std::size_t exponent = after_digits(text, first); exponent > first) {
            end = exponent;
        }
    }
    return end;
}

} // namespace

std::optional<LeadingNumber> leading_number(std::string_view text) {
    constexpr double infinity = std::numeric_limits<double>::infinity();
    for (const auto& [word, value] : {std::pair<std::string_view, double>{"inf", infinity},
                                      {"-inf", -infinity},
                                      {"nan", std::numeric_limits<double>::quiet_NaN()}}) {
        if (text.starts_with(word)) {
            return LeadingNumber{value, text.substr(word.size())};
        }
    }
    // Not std::from_chars, which not every library has for double.
    const std::size_t end = after_number(text);
    std::istringstream in{std::string(text.substr(0, end))};
    in.imbue(std::locale::classic());
    LeadingNumber number{0.0, text.substr(end)};
    return in >> number.value ? std::optional(number) : std::nullopt;
}

std::optional<double> number_in(std::string_view text) {
    const auto number = leading_number(text);
    return number && number->rest.empty() ? std::optional(number->value) : std::nullopt;
}

std::optional<double> finite_number_in(std::string_view text) {
    const std::optional<double> value = number_in(text);
    return value && std::isfinite(*value) ? value : std::nullopt;
}

std::optional<std::uint64_t> leading_digits(std::string_view text) {
    std::istringstream in{std::string(text.substr(0, after_digits(text, 0)))};
    in.imbue(std::locale::classic());
    std::uint64_t value = 0;
    return in >> value ? std::optional(value) : std::nullopt;
}

} // namespace earshot
