#include "scenario/strict_toml.hpp"

#include "base/input_file.hpp"
#include "base/named.hpp"
#include "base/require.hpp"
#include "geo/text.hpp"
#include "scenario/text_table.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

namespace earshot::scenario {
namespace {

std::string_view kind_words(const toml::node& node) {
    switch (node.type()) {
    case toml::node_type::string:
        return "a text";
    case toml::node_type::integer:
    case toml::node_type::floating_point:
        return "a number";
    case toml::node_type::boolean:
        return "true or false";
    case toml::node_type::array:
        return "a list";
    case toml::node_type::table:
        return "a section";
    default:
        return "a date or time";
    }
}

std::string shown_reason(std::string_view reason) {
    return "not valid TOML: " + geo::plain_text(reason);
}

} // namespace

std::string in_quotes(std::string_view text) {
    std::string out = "\"";
    for (const char c : text) {
        if (c == '"' || c == '\\') {
            out += '\\';
            out += c;
        } else if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) {
            out += fmt::format("\\u{:04X}", static_cast<unsigned>(c));
        } else {
            out += c;
        }
    }
    return out + '"';
}

std::string where(const std::string& file, const toml::source_region& source) {
    return fmt::format("{}, line {}, column {}: ", file, source.begin.line, source.begin.column);
}

Entry::Entry(const std::string& file, const toml::table& table, const Section& section,
             std::span<const Section> known)
    : file_(file), table_(table), section_(section), known_(known) {
    for (const auto& [key, node] : table_) {
        check_known(key, node);
    }
    for (const Key& key : section_.keys) {
        check_alternatives(key);
    }
    for (const auto& [key, node] : table_) {
        if (const Key* known = section_.find(key.str())) {
            check_value(*known, node);
        }
    }
}

std::vector<std::string> Entry::texts_in(const toml::node& node) {
    std::vector<std::string> texts;
    if (const toml::array* list = node.as_array()) {
        for (const toml::node& item : *list) {
            texts.push_back(*item.value<std::string>());
        }
    } else {
        texts.push_back(*node.value<std::string>());
    }
    return texts;
}

void Entry::check_known(const toml::key& key, const toml::node& node) const {
    if (section_.find(key.str()) != nullptr) {
        return;
    }
    const auto is_section = [&](const Section& other) {
        return !other.name.empty() && other.name == key.str();
    };
    if (section_.name.empty() && std::any_of(known_.begin(), known_.end(), is_section)) {
        return;
    }
    const std::string start =
        fmt::format("{}{}'{}' is not known in {}", where(file_, key.source()),
                    section_.name.empty() && node.is_table() ? "section " : "key ",
                    shown(key.str()), section_.label());
    throw_input(start + advice(key.str()));
}

std::string Entry::advice(std::string_view written) const {
    const std::vector<std::string_view> names = section_.name.empty()
                                                    ? names_of(section_.keys, known_.subspan(1))
                                                    : names_of(section_.keys);
    std::vector<std::string_view> with_unit;
    std::copy_if(
        names.begin(), names.end(), std::back_inserter(with_unit),
        [&](std::string_view name) { return name.starts_with(std::string(written) + "_"); });
    if (!with_unit.empty()) {
        return fmt::format("; write {}", fmt::join(with_unit, " or "));
    }
    for (const Section& other : known_) {
        if (other.find(written) != nullptr && nearest_name(written, names).empty()) {
            return other.name.empty()
                       ? "; it belongs at the top of the file, before the first section"
                       : fmt::format("; it belongs in {}", other.label());
        }
    }
    const std::string guess = did_you_mean(written, names);
    return guess.empty() ? fmt::format("; known are {}", fmt::join(names, ", ")) : guess;
}

void Entry::check_alternatives(const Key& key) const {
    if (key.quantity.empty()) {
        if (key.required && !has(key.name)) {
            fail(fmt::format("{} has no {} ({})", label(), key.name, key.meaning));
        }
        return;
    }
    std::vector<std::string_view> all;
    std::vector<std::string_view> given;
    for (const Key& other : section_.keys) {
        if (other.quantity == key.quantity) {
            all.push_back(other.name);
            if (has(other.name)) {
                given.push_back(other.name);
            }
        }
    }
    if (given.size() > 1) {
        fail_at(given.back(), fmt::format("{} gives the {} twice, as {}; keep one", label(),
                                          key.quantity, fmt::join(given, " and as ")));
    }
    if (key.required && given.empty()) {
        fail(fmt::format("{} has no {}; give {}", label(), key.quantity, fmt::join(all, " or ")));
    }
}

void Entry::check_number(const Key& key, const toml::node& node) const {
    if (!node.is_number()) {
        fail_at(key.name, fmt::format("{} is {} but must be a number without quotes, its unit is "
                                      "in the key",
                                      key.name, kind_words(node)));
    }
    const double value = *node.value<double>();
    if (!(value >= key.low && value <= key.high)) {
        fail_at(key.name, fmt::format("{} = {} is out of range; give {} to {}", key.name, value,
                                      key.low, key.high));
    }
}

void Entry::check_value(const Key& key, const toml::node& node) const {
    switch (key.kind) {
    case KeyKind::number:
        check_number(key, node);
        break;
    case KeyKind::numbers:
        if (const toml::array* list = node.as_array(); list == nullptr || list->empty()) {
            fail_at(key.name, fmt::format("{} is {} but must be a list of numbers, for example "
                                          "[1, 5]",
                                          key.name, kind_words(node)));
        }
        for (const toml::node& item : *node.as_array()) {
            check_number(key, item);
        }
        break;
    case KeyKind::texts:
        if (const toml::array* list = node.as_array()) {
            if (list->empty()) {
                fail_at(key.name, fmt::format("{} names nothing", key.name));
            }
            for (const toml::node& item : *list) {
                check_text(key, item);
            }
            break;
        }
        check_text(key, node);
        break;
    case KeyKind::pairs:
        check_pairs(key, node);
        break;
    case KeyKind::choice:
    case KeyKind::text:
        check_text(key, node);
        break;
    }
    if (key.kind == KeyKind::choice && std::find(key.choices.begin(), key.choices.end(),
                                                 *node.value<std::string>()) == key.choices.end()) {
        fail_at(key.name,
                fmt::format("{} = '{}' is not known; give {}", key.name,
                            shown(*node.value<std::string>()), fmt::join(key.choices, ", ")));
    }
}

void Entry::check_pairs(const Key& key, const toml::node& node) const {
    const auto is_pair = [](const toml::node& item) {
        return item.is_array() && item.as_array()->size() == 2;
    };
    const toml::array* list = node.as_array();
    if (list == nullptr || !std::all_of(list->begin(), list->end(), is_pair)) {
        fail_at(key.name,
                fmt::format("{} must be a list of pairs, for example [[\"Camp\", \"School\"]]",
                            key.name));
    }
    for (const toml::node& item : *list) {
        for (const toml::node& text : *item.as_array()) {
            check_text(key, text);
        }
    }
}

void Entry::check_text(const Key& key, const toml::node& node) const {
    const auto value = node.value<std::string>();
    if (!node.is_string()) {
        fail_at(key.name,
                fmt::format("{} is {} but must be a text in quotes", key.name, kind_words(node)));
    }
    if (value->find_first_not_of(" \t\r\n") == std::string::npos) {
        fail_at(key.name, fmt::format("{} is empty", key.name));
    }
    if (geo::plain_text(*value) != *value) {
        fail_at(key.name,
                fmt::format("{} holds a character that cannot be seen but would be obeyed "
                            "by screens and printers; type it anew",
                            key.name));
    }
}

std::string Entry::label() const {
    const toml::node* name = find("name");
    if (section_.list && name != nullptr && name->is_string()) {
        return fmt::format("'{}' in {}", shown(*name->value<std::string>()), section_.label());
    }
    return section_.label();
}

StrictToml::StrictToml(const std::filesystem::path& file, std::string kind,
                       std::span<const Section> sections)
    : file_(file.string()), kind_(std::move(kind)), sections_(sections), root_(parse()) {
    (void)top();
    for (const Section& section : sections_.subspan(1)) {
        check_shape(section);
    }
}

/// The most parts of one key or header, and the most brackets within one another: the library that
/// parses goes as deep as these are.
constexpr int deepest = 100;

/// The line where a text goes deeper than that; 0 if it does not.
int too_deep_at(std::string_view text) {
    int line = 1;
    int parts = 0;
    int brackets = 0;
    for (std::size_t i = 0; i < text.size(); ++i) {
        const char c = text[i];
        if (c == '\n') {
            ++line;
            parts = 0;
        } else if (c == '#') {
            i = std::min(text.find('\n', i), text.size()) - 1;
        } else if (c == '"' || c == '\'') {
            // A text, in one mark or in three, which hide what is in it.
            const std::string_view mark =
                text.substr(i, text.substr(i, 3) == std::string(3, c) ? 3 : 1);
            std::size_t end = i + mark.size();
            while (end < text.size() && text.substr(end, mark.size()) != mark &&
                   (mark.size() == 3 || text[end] != '\n')) {
                line += text[end] == '\n' ? 1 : 0;
                end += text[end] == '\\' && c == '"' ? 2 : 1;
            }
            i = end < text.size() && text[end] == '\n' ? end - 1 : end + mark.size() - 1;
        } else if (c == '.') {
            ++parts;
        } else if (c == '[' || c == '{') {
            ++brackets;
            parts = 0;
        } else if (c == ']' || c == '}') {
            --brackets;
        } else if (c == '=' || c == ',') {
            parts = 0;
        }
        if (parts >= deepest || brackets > deepest) {
            return line;
        }
    }
    return 0;
}

toml::table StrictToml::parse() const {
    const std::string content = read_text_file(file_, kind_);
    const int deep = too_deep_at(content);
    require_input(deep == 0, "{}, line {}: more than {} levels within one another; a {} needs two",
                  file_, deep, deepest, kind_);
    try {
        return toml::parse(content);
    } catch (const toml::parse_error& error) {
        throw_input(where(file_, error.source()) + shown_reason(error.description()));
    }
}

void StrictToml::check_shape(const Section& section) const {
    const toml::node* node = root_.get(section.name);
    if (node == nullptr) {
        require_input(!section.required, "{}: there is no {}; a {} needs one", file_,
                      section.label(), kind_);
        return;
    }
    const auto wrong = [&](const toml::node& at) {
        throw_input(
            "{}{} is not written as a section; put {} on a line of its own and its keys below",
            where(file_, at.source()), section.name, section.label());
    };
    if (!section.list) {
        if (!node->is_table()) {
            wrong(*node);
        }
        return;
    }
    const toml::array* list = node->as_array();
    if (list == nullptr) {
        wrong(*node);
    }
    require_input(!list->empty() || !section.required, "{}{} is empty; a {} needs one",
                  where(file_, node->source()), section.label(), kind_);
    for (const toml::node& item : *list) {
        if (!item.is_table()) {
            wrong(item);
        }
    }
}

std::vector<Entry> StrictToml::entries(std::string_view name) const {
    const Section& section = *named(sections_, name);
    std::vector<Entry> list;
    const toml::node* node = root_.get(name);
    if (node == nullptr) {
        return list;
    }
    if (!section.list) {
        list.emplace_back(file_, *node->as_table(), section, sections_);
        return list;
    }
    for (const toml::node& item : *node->as_array()) {
        list.emplace_back(file_, *item.as_table(), section, sections_);
    }
    return list;
}

} // namespace earshot::scenario
