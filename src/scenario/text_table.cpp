#include "scenario/text_table.hpp"

#include "base/csv.hpp"
#include "geo/text.hpp"

#include <algorithm>
#include <array>
#include <cstdint>
#include <optional>

namespace earshot::scenario {
namespace {

constexpr std::size_t longest_quoted_bytes = 10000;

/// The first byte says how many follow with six bits each.
void append_utf8(std::string& text, std::uint32_t code) {
    constexpr std::array<std::uint32_t, 4> first{0x00U, 0xC0U, 0xE0U, 0xF0U};
    unsigned following = code < 0x80U ? 0U : code < 0x800U ? 1U : code < 0x10000U ? 2U : 3U;
    text += static_cast<char>(first[following] | code >> (6U * following));
    while (following-- > 0U) {
        text += static_cast<char>(0x80U | (code >> (6U * following) & 0x3FU));
    }
}

std::string from_utf16(std::string_view bytes, bool big_endian) {
    constexpr std::uint32_t replacement = 0xFFFDU;
    const auto unit = [&](std::size_t at) {
        const auto first = static_cast<unsigned char>(bytes[at]);
        const auto second = static_cast<unsigned char>(bytes[at + 1]);
        return static_cast<std::uint32_t>(big_endian ? first << 8U | second : second << 8U | first);
    };
    std::string text;
    for (std::size_t at = 0; at + 1 < bytes.size(); at += 2) {
        std::uint32_t code = unit(at);
        if (code >= 0xD800U && code < 0xDC00U && at + 3 < bytes.size()) {
            const std::uint32_t low = unit(at + 2);
            if (low >= 0xDC00U && low < 0xE000U) {
                code = 0x10000U + ((code & 0x3FFU) << 10U) + (low & 0x3FFU);
                at += 2;
            }
        }
        append_utf8(text, code >= 0xD800U && code < 0xE000U ? replacement : code);
    }
    return text;
}

/// Length of the UTF-8 character at the start, 0 if there is none.
std::size_t utf8_length(std::string_view text) {
    const auto lead = static_cast<unsigned char>(text.front());
    const std::size_t length = lead < 0x80U                    ? 1
                               : lead >= 0xC2U && lead < 0xE0U ? 2
                               : lead >= 0xE0U && lead < 0xF0U ? 3
                               : lead >= 0xF0U && lead < 0xF5U ? 4
                                                               : 0;
    const auto follows = [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) == 0x80U; };
    const bool whole =
        length > 0 && length <= text.size() &&
        std::all_of(text.begin() + 1, text.begin() + static_cast<std::ptrdiff_t>(length), follows);
    return whole ? length : 0;
}

bool is_utf8(std::string_view text) {
    while (!text.empty()) {
        const std::size_t length = utf8_length(text);
        if (length == 0) {
            return false;
        }
        text.remove_prefix(length);
    }
    return true;
}

bool is_blank(char c) {
    return c == ' ' || c == '\t';
}
bool is_line_end(char c) {
    return c == '\n' || c == '\r';
}

class RecordReader {
public:
    RecordReader(std::string_view text, char delimiter) : text_(text), delimiter_(delimiter) {}

    std::vector<TableRow> read() {
        std::vector<TableRow> rows;
        while (at_ < text_.size()) {
            TableRow row = record();
            const bool empty = std::all_of(row.fields.begin(), row.fields.end(),
                                           [](const std::string& field) { return field.empty(); });
            if (!empty) {
                rows.push_back(std::move(row));
            }
        }
        return rows;
    }

private:
    TableRow record() {
        TableRow row;
        row.line = line_;
        const std::size_t start = at_;
        while (true) {
            std::optional<std::string> value = field();
            if (!value) {
                at_ = start;
                line_ = row.line;
                return undivided();
            }
            row.fields.emplace_back(from_csv_field(*value));
            if (at_ >= text_.size() || text_[at_] != delimiter_) {
                end_line();
                return row;
            }
            ++at_;
        }
    }

    TableRow undivided() {
        TableRow row;
        row.line = line_;
        row.open_quote = true;
        const std::size_t end = std::min(text_.find_first_of("\r\n", at_), text_.size());
        row.fields.emplace_back(text_.substr(at_, end - at_));
        at_ = end;
        end_line();
        return row;
    }

    /// Up to the delimiter or the end of the line; empty if a quote is not closed.
    std::optional<std::string> field() {
        while (at_ < text_.size() && is_blank(text_[at_]) && text_[at_] != delimiter_) {
            ++at_;
        }
        if (at_ < text_.size() && text_[at_] == '"') {
            return quoted_field();
        }
        const std::size_t start = at_;
        while (at_ < text_.size() && text_[at_] != delimiter_ && !is_line_end(text_[at_])) {
            ++at_;
        }
        return without_blanks(text_.substr(start, at_ - start));
    }

    std::optional<std::string> quoted_field() {
        const std::size_t start = ++at_;
        const std::size_t first_line = line_;
        std::string value;
        while (true) {
            if (at_ >= text_.size() || at_ - start > longest_quoted_bytes) {
                return std::nullopt;
            }
            const char c = text_[at_];
            if (c == '"' && at_ + 1 < text_.size() && text_[at_ + 1] == '"') {
                ++at_;
            } else if (c == '"') {
                ++at_;
                break;
            } else if (is_line_end(c)) {
                end_line();
                value += ' ';
                continue;
            }
            value += c;
            ++at_;
        }
        // What stands between the closing quote and the delimiter belongs to the field.
        const std::size_t rest = at_;
        while (at_ < text_.size() && text_[at_] != delimiter_ && !is_line_end(text_[at_])) {
            ++at_;
        }
        const std::string after = without_blanks(text_.substr(rest, at_ - rest));
        if (line_ != first_line && !after.empty()) {
            return std::nullopt; // the quote of another field: that of this one was forgotten
        }
        return without_blanks(value + after);
    }

    void end_line() {
        if (at_ < text_.size()) {
            at_ += text_.substr(at_).starts_with("\r\n") ? 2 : 1;
            ++line_;
        }
    }

    static std::string without_blanks(std::string_view text) {
        const std::size_t first = text.find_first_not_of(" \t");
        if (first == std::string_view::npos) {
            return {};
        }
        return std::string(text.substr(first, text.find_last_not_of(" \t") - first + 1));
    }

    std::string_view text_;
    char delimiter_;
    std::size_t at_ = 0;
    std::size_t line_ = 1;
};

} // namespace

std::string decoded(std::string_view bytes) {
    std::string text;
    if (bytes.starts_with("\xFF\xFE")) {
        text = from_utf16(bytes.substr(2), false);
    } else if (bytes.starts_with("\xFE\xFF")) {
        text = from_utf16(bytes.substr(2), true);
    } else if (bytes.starts_with("\xEF\xBB\xBF")) {
        text = bytes.substr(3);
    } else {
        text = bytes;
    }
    if (!is_utf8(text)) {
        std::string latin;
        for (const char c : text) {
            append_utf8(latin, static_cast<unsigned char>(c));
        }
        text = std::move(latin);
    }
    return geo::plain_text(text);
}

std::vector<TableRow> table_rows(std::string_view text, char delimiter) {
    return RecordReader(text, delimiter).read();
}

std::string plain_name(std::string_view name) {
    std::string plain;
    for (const char c : name) {
        if (c >= 'A' && c <= 'Z') {
            plain += static_cast<char>(c - 'A' + 'a');
        } else if ((c >= 'a' && c <= 'z') || (c >= '0' && c <= '9')) {
            plain += c;
        }
    }
    return plain;
}

std::string shown(std::string_view text, std::size_t longest) {
    const std::string line = geo::plain_text(text.substr(0, longest), '?');
    return text.size() > longest ? line + "..." : line;
}

} // namespace earshot::scenario
