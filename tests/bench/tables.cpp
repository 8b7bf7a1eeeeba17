#include "tables.hpp"

#include "base/output_file.hpp"
#include "earshot/base/error.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <sstream>

namespace earshot::bench {
namespace {

std::vector<std::size_t> column_widths(const Table& table) {
    std::vector<std::size_t> widths;
    for (const std::string& cell : table.head) {
        widths.push_back(std::max<std::size_t>(cell.size(), 3));
    }
    for (const auto& row : table.rows) {
        for (std::size_t k = 0; k < widths.size(); ++k) {
            widths[k] = std::max(widths[k], row.at(k).size());
        }
    }
    return widths;
}

/// The first column holds names, the others numbers.
std::string format_row(const std::vector<std::string>& row, const std::vector<std::size_t>& widths,
                       Style style) {
    std::string line = style == Style::markdown ? "|" : "";
    for (std::size_t k = 0; k < widths.size(); ++k) {
        const std::string cell = k == 0 ? fmt::format("{:<{}}", row.at(k), widths[k])
                                        : fmt::format("{:>{}}", row.at(k), widths[k]);
        line += style == Style::markdown ? fmt::format(" {} |", cell) : fmt::format("  {}", cell);
    }
    return line + "\n";
}

} // namespace

std::string format_tables(const std::vector<Table>& tables, Style style) {
    std::string text;
    for (const Table& table : tables) {
        const std::vector<std::size_t> widths = column_widths(table);
        if (!text.empty()) {
            text += "\n";
        }
        text += style == Style::markdown ? fmt::format("**{}**\n\n", table.title)
                                         : fmt::format("{}\n", table.title);
        text += format_row(table.head, widths, style);
        std::vector<std::string> rule;
        for (std::size_t k = 0; k < widths.size(); ++k) {
            rule.emplace_back(widths[k], '-');
            if (style == Style::markdown && k > 0) {
                rule.back().back() = ':'; // numbers to the right
            }
        }
        text += format_row(rule, widths, style);
        for (const auto& row : table.rows) {
            text += format_row(row, widths, style);
        }
        for (const std::string& note : table.notes) {
            text += style == Style::markdown ? fmt::format("\n{}\n", note)
                                             : fmt::format("  {}\n", note);
        }
    }
    return text;
}

void update_document(const std::filesystem::path& document, const std::string& name,
                     const std::string& markdown) {
    std::ifstream file(document);
    std::stringstream content;
    content << file.rdbuf();
    if (!file) {
        throw_input(fmt::format("cannot read {}; give an existing document", document.string()));
    }
    std::string text = content.str();
    const std::string begin = fmt::format("<!-- measured: {} -->\n", name);
    const std::string end = fmt::format("<!-- end: {} -->", name);
    const std::size_t from = text.find(begin);
    const std::size_t to = text.find(end);
    if (from == std::string::npos || to == std::string::npos || to < from) {
        throw_input(fmt::format("{} has no place for the tables '{}'; add the lines\n{}{}",
                                document.string(), name, begin, end));
    }
    text.replace(from + begin.size(), to - from - begin.size(), fmt::format("\n{}\n", markdown));
    write_text_file(document, text);
}

std::string format_seconds(double seconds) {
    const auto scaled = [](double value, const char* unit) {
        return fmt::format("{:.{}f} {}", value, value < 10.0 ? 2 : value < 100.0 ? 1 : 0, unit);
    };
    if (seconds >= 1.0) {
        return scaled(seconds, "s");
    }
    if (seconds >= 1e-3) {
        return scaled(seconds * 1e3, "ms");
    }
    return seconds >= 1e-6 ? scaled(seconds * 1e6, "us") : scaled(seconds * 1e9, "ns");
}

std::string format_share(double part, double whole, int decimals) {
    return fmt::format("{:.{}f} %", 100.0 * part / whole, decimals);
}

std::string format_count(double value) {
    std::string digits = fmt::format("{:.0f}", std::round(value));
    for (std::ptrdiff_t at = static_cast<std::ptrdiff_t>(digits.size()) - 3; at > 0; at -= 3) {
        digits.insert(static_cast<std::size_t>(at), 1, ',');
    }
    return digits;
}

} // namespace earshot::bench
