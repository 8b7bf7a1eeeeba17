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

std::string plain_text(std::string_view text, char in_place) {
    // Those of more than one byte, in UTF-8.
    const auto obeyed = [](std::string_view rest) -> std::size_t {
        const auto byte = [&](std::size_t k) {
            return k < rest.size() ? static_cast<unsigned char>(rest[k]) : 0U;
        };
        if (byte(0) < 0x20 || byte(0) == 0x7F) {
            return rest[0] == '\n' || rest[0] == '\r' || rest[0] == '\t' ? 0 : 1;
        }
        if (byte(0) == 0xC2 && byte(1) >= 0x80 && byte(1) < 0xA0) {
            return 2; // U+0080 to U+009F, controls as well
        }
        const bool turns =
            byte(0) == 0xE2 && ((byte(1) == 0x80 && byte(2) >= 0xAA && byte(2) <= 0xAE) ||
                                (byte(1) == 0x81 && byte(2) >= 0xA6 && byte(2) <= 0xA9));
        const bool none = byte(0) == 0xEF && byte(1) == 0xBF && byte(2) >= 0xBE;
        return turns || none ? 3 : 0;
    };
    std::string plain;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t length = obeyed(text.substr(at));
        plain += length == 0 ? text[at] : in_place;
        at += std::max<std::size_t>(length, 1);
    }
    return plain;
}

std::string one_line(std::string_view text, char in_place) {
    std::string line = plain_text(text, in_place);
    std::replace_if(
        line.begin(), line.end(), [](char c) { return c == '\n' || c == '\r' || c == '\t'; },
        in_place);
    return line;
}

std::string quoted(std::string_view text) {
    constexpr std::size_t longest = 60;
    std::size_t length = std::min(text.size(), longest);
    while (length < text.size() && length > 0 && is_utf8_continuation(text[length])) {
        --length;
    }
    std::string result(1, '"');
    result += one_line(text.substr(0, length), '?');
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
