#pragma once

#include <filesystem>
#include <string>
#include <vector>

namespace earshot::bench {

/// What a benchmark has measured, ready to print.
struct Table {
    std::string title;
    std::vector<std::string> head;
    std::vector<std::vector<std::string>> rows;
    std::vector<std::string> notes; ///< a paragraph each
};

enum class Style { text, markdown };

[[nodiscard]] std::string format_tables(const std::vector<Table>& tables, Style style);

/// Replaces what stands in `document` between the lines `<!-- measured: NAME -->` and
/// `<!-- end: NAME -->`. Throws Error(Fault::input) if the file cannot be read or lacks a line.
void update_document(const std::filesystem::path& document, const std::string& name,
                     const std::string& markdown);

/// A time with the digits that matter, in s, ms, us or ns.
[[nodiscard]] std::string format_seconds(double seconds);
/// A share of a whole in percent.
[[nodiscard]] std::string format_share(double part, double whole, int decimals = 2);
/// Digits in groups of three.
[[nodiscard]] std::string format_count(double value);

} // namespace earshot::bench
