#pragma once

#include "earshot/base/error.hpp"
#include "scenario/scenario_keys.hpp"

#include <toml++/toml.h>

#include <filesystem>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

/// Reads TOML files that may hold what a list of keys says and nothing else. Every error names
/// file, line and column.

namespace earshot::scenario {

/// "net.toml, line 3, column 1: "
[[nodiscard]] std::string where(const std::string& file, const toml::source_region& source);

/// A text as it is written, in quotes.
[[nodiscard]] std::string in_quotes(std::string_view text);

/// One section of the file, checked against the list of keys: what it holds is known, complete, of
/// the right type and in range.
class Entry {
public:
    /// `known` are all sections of this kind of file. All three must outlive the entry.
    Entry(const std::string& file, const toml::table& table, const Section& section,
          std::span<const Section> known);

    [[nodiscard]] bool has(std::string_view key) const { return find(key) != nullptr; }

    [[nodiscard]] std::optional<double> number(std::string_view key) const {
        const toml::node* node = find(key);
        return node == nullptr ? std::nullopt : node->value<double>();
    }
    [[nodiscard]] double number(std::string_view key, double otherwise) const {
        return number(key).value_or(otherwise);
    }
    [[nodiscard]] std::optional<std::string> text(std::string_view key) const {
        const toml::node* node = find(key);
        return node == nullptr ? std::nullopt : node->value<std::string>();
    }
    [[nodiscard]] std::string text(std::string_view key, std::string_view otherwise) const {
        return text(key).value_or(std::string(otherwise));
    }
    [[nodiscard]] std::vector<double> numbers(std::string_view key) const {
        std::vector<double> numbers;
        if (const toml::node* node = find(key)) {
            for (const toml::node& item : *node->as_array()) {
                numbers.push_back(*item.value<double>());
            }
        }
        return numbers;
    }
    [[nodiscard]] std::vector<std::string> texts(std::string_view key) const {
        const toml::node* node = find(key);
        return node == nullptr ? std::vector<std::string>() : texts_in(*node);
    }
    [[nodiscard]] std::vector<std::pair<std::string, std::string>>
    pairs(std::string_view key) const {
        std::vector<std::pair<std::string, std::string>> pairs;
        if (const toml::node* node = find(key)) {
            for (const toml::node& item : *node->as_array()) {
                const std::vector<std::string> both = texts_in(item);
                pairs.emplace_back(both.front(), both.back());
            }
        }
        return pairs;
    }
    /// The paths of a key, those that are relative starting from the folder of the file.
    [[nodiscard]] std::vector<std::filesystem::path> paths(std::string_view key) const {
        std::vector<std::filesystem::path> paths;
        for (const std::string& text : texts(key)) {
            paths.push_back(std::filesystem::path(file_).parent_path() / text);
        }
        return paths;
    }

    [[noreturn]] void fail(const std::string& what) const {
        throw_input(where(file_, table_.source()) + what);
    }
    [[noreturn]] void fail_at(std::string_view key, const std::string& what) const {
        const toml::node* node = find(key);
        throw_input(where(file_, node == nullptr ? table_.source() : node->source()) + what);
    }
    /// Calls something that refuses values with a message of its own, and adds the place to it.
    template <typename Call>
    auto located(std::string_view key, Call&& call) const {
        try {
            return call();
        } catch (const Error& error) {
            fail_at(key, error.what());
        }
    }

private:
    [[nodiscard]] const toml::node* find(std::string_view key) const { return table_.get(key); }
    /// One text or a list of them; checked before.
    [[nodiscard]] static std::vector<std::string> texts_in(const toml::node& node);

    void check_known(const toml::key& key, const toml::node& node) const;
    /// What may have been meant by an unknown key.
    [[nodiscard]] std::string advice(std::string_view written) const;

    void check_alternatives(const Key& key) const;

    void check_value(const Key& key, const toml::node& node) const;

    void check_pairs(const Key& key, const toml::node& node) const;

    void check_text(const Key& key, const toml::node& node) const;

    void check_number(const Key& key, const toml::node& node) const;
    /// The section, by the name in it where it has one.
    [[nodiscard]] std::string label() const;

    const std::string& file_;
    const toml::table& table_;
    const Section& section_;
    std::span<const Section> known_;
};

/// A whole file. Entries refer to it.
class StrictToml {
public:
    /// `kind` is what the file is called in messages ("scenario"). The first of `sections` is the
    /// top of the file. Throws Error(Fault::input): the file is missing, a folder or no TOML, or
    /// its sections are not those.
    StrictToml(const std::filesystem::path& file, std::string kind,
               std::span<const Section> sections);
    StrictToml(const StrictToml&) = delete;
    StrictToml& operator=(const StrictToml&) = delete;

    [[nodiscard]] Entry top() const { return {file_, root_, sections_.front(), sections_}; }
    /// The sections of that name, none if there are none.
    [[nodiscard]] std::vector<Entry> entries(std::string_view name) const;

private:
    [[nodiscard]] toml::table parse() const;
    /// A section must be written as what it is: once, or as a list.
    void check_shape(const Section& section) const;

    std::string file_, kind_;
    std::span<const Section> sections_;
    toml::table root_;
};

} // namespace earshot::scenario
