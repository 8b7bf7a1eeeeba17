#pragma once

#include "base/number.hpp"

#include <string>
#include <string_view>

namespace earshot {

/// Whether a spreadsheet would take a text for a formula and work it out.
[[nodiscard]] inline bool looks_like_formula(std::string_view text) {
    return !text.empty() && std::string_view("=+-@\t\r").find(text.front()) != std::string::npos &&
           !number_in(text);
}

/// A field of CSV (RFC 4180): in double quotes if it holds a comma, a quote or a line break. What
/// looks like a formula gets an apostrophe before it, which spreadsheets take for "a text", and
/// from_csv_field() takes away.
[[nodiscard]] inline std::string csv_field(std::string text) {
    if (looks_like_formula(text)) {
        text.insert(0, 1, '\'');
    }
    if (text.find_first_of(",\"\r\n") == std::string::npos) {
        return text;
    }
    std::string field = "\"";
    for (const char c : text) {
        field += c == '"' ? "\"\"" : std::string(1, c);
    }
    return field + "\"";
}

[[nodiscard]] inline std::string_view from_csv_field(std::string_view text) {
    const bool marked = text.starts_with('\'') && looks_like_formula(text.substr(1));
    return marked ? text.substr(1) : text;
}

/// A table of such fields with one more column at the end, the same in every row.
[[nodiscard]] inline std::string with_column(std::string_view csv, std::string_view name,
                                             std::string_view value) {
    std::string table;
    std::string added(1, ',');
    added += csv_field(std::string(name));
    bool quoted = false;
    for (const char c : csv) {
        quoted = quoted != (c == '"');
        if (c == '\n' && !quoted) {
            table += added;
            added.assign(1, ',');
            added += csv_field(std::string(value));
        }
        table += c;
    }
    return table;
}

} // namespace earshot
