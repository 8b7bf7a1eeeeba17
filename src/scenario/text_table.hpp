#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

/// Tables as spreadsheets write them.

namespace earshot::scenario {

/// A record and where it starts. A record whose quotes do not match is that line, undivided, and
/// says so.
struct TableRow {
    std::size_t line = 0; ///< from 1
    std::vector<std::string> fields;
    bool open_quote = false;
};

/// Bytes as UTF-8: UTF-16 by its byte-order mark is converted, a mark of UTF-8 taken off, and text
/// that is no UTF-8 is taken for Latin-1. Zero bytes become blanks.
[[nodiscard]] std::string decoded(std::string_view bytes);

/// Cuts UTF-8 text into records by RFC 4180 with any delimiter and any line ends. Blanks around
/// fields are taken off; empty lines are left out. A quoted field may hold line ends, but not more
/// than 10000 bytes: beyond that its quote counts as forgotten.
[[nodiscard]] std::vector<TableRow> table_rows(std::string_view text, char delimiter);

/// The letters and digits of a name, in lower case: "Antenna height (m)" is "antennaheightm".
[[nodiscard]] std::string plain_name(std::string_view name);

/// Text from a file inside a message: on one line whatever it holds, and not too long.
[[nodiscard]] std::string shown(std::string_view text, std::size_t longest = 60);

} // namespace earshot::scenario
