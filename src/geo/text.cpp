#include "geo/text.hpp"

#include <algorithm>

namespace earshot::geo {
namespace {

constexpr std::string_view unicode_minus = "\u2212";

bool is_space(char character) {
    return character == ' ' || (character >= '\t' && character <= '\r');
}

bool is_utf8_continuation(char character) {
    return (static_cast<unsigned char>(character) & 0xC0U) == 0x80U;
}

} // namespace

std::string_view trimmed(std::string_view text) {
    while (!text.empty() && is_space(text.front())) {
        text.remove_prefix(1);
    }
    while (!text.empty() && is_space(text.back())) {
        text.remove_suffix(1);
    }
    return text;
}

std::string quoted(std::string_view text) {
    constexpr std::size_t longest = 60;
    std::size_t length = std::min(text.size(), longest);
    while (length < text.size() && length > 0 && is_utf8_continuation(text[length])) {
        --length;
    }
    std::string result = "\"";
    for (const char character : text.substr(0, length)) {
        const auto code = static_cast<unsigned char>(character);
        result += code < 0x20U || code == 0x7FU ? '?' : character;
    }
    result += length < text.size() ? "...\"" : "\"";
    return result;
}

bool is_digit(char character) {
    return character >= '0' && character <= '9';
}

char upper(char character) {
    return character >= 'a' && character <= 'z' ? static_cast<char>(character - 'a' + 'A')
                                                : character;
}

std::string upper(std::string_view text) {
    std::string result(text);
    std::transform(result.begin(), result.end(), result.begin(),
                   [](char character) { return upper(character); });
    return result;
}

std::optional<LeadingNumber> leading_number(std::string_view text) {
    bool negative = false;
    if (text.starts_with(unicode_minus)) {
        negative = true;
        text.remove_prefix(unicode_minus.size());
    } else if (text.starts_with('-') || text.starts_with('+')) {
        negative = text.front() == '-';
        text.remove_prefix(1);
    }
    // Neither a second minus sign nor "inf" and "nan".
    if (text.empty() || !(is_digit(text.front()) || text.front() == '.')) {
        return std::nullopt;
    }
    auto number = earshot::leading_number(text);
    if (number && negative) {
        number->value = -number->value;
    }
    return number;
}

} // namespace earshot::geo
