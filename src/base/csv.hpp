#pragma once

#include <string>
#include <string_view>

namespace earshot {

/// A field of CSV (RFC 4180): in double quotes if it holds a comma, a quote or a line break.
[[nodiscard]] inline std::string csv_field(const std::string& text) {
    if (text.find_first_of(",\"\r\n") == std::string::npos) {
        return text;
    }
    std::string field = "\"";
    for (const char c : text) {
        field += c == '"' ? "\"\"" : std::string(1, c);
    }
    return field + "\"";
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
