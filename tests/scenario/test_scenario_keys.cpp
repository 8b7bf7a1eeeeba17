#include "scenario/scenario.hpp"
#include "scenario/scenario_keys.hpp"

#include <catch2/catch.hpp>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>
#include <fstream>
#include <iterator>
#include <set>
#include <string>

namespace earshot::scenario {
namespace {

using nlohmann::json;

json schema() {
    std::ifstream file(EARSHOT_SOURCE_DIR "/docs/scenario.schema.json");
    return json::parse(file);
}

/// The part of the schema that describes one section.
const json& section_schema(const json& root, const Section& section) {
    if (section.name.empty()) {
        return root;
    }
    const json& part = root.at("properties").at(std::string(section.name));
    CHECK(part.at("type") == (section.list ? "array" : "object"));
    return section.list ? part.at("items") : part;
}

std::set<std::string> names(const json& list) {
    return {list.begin(), list.end()};
}

/// What the schema says of keys that exclude one another: the keys, and whether one is needed.
std::set<std::pair<std::set<std::string>, bool>> alternatives_in(const json& part) {
    std::set<std::pair<std::set<std::string>, bool>> all;
    for (const json& rule : part.value("allOf", json::array())) {
        std::set<std::string> keys;
        if (rule.contains("oneOf")) {
            for (const json& option : rule.at("oneOf")) {
                keys.merge(names(option.at("required")));
            }
            all.emplace(keys, true);
        } else {
            all.emplace(names(rule.at("not").at("required")), false);
        }
    }
    return all;
}

void check_key(const Key& key, const json& described) {
    INFO(key.name);
    switch (key.kind) {
    case KeyKind::number:
        if (described.contains("enum")) { // the reader takes two channel widths only
            CHECK(key.name == "bandwidth_khz");
            for (const json& value : described.at("enum")) {
                CHECK((value >= key.low && value <= key.high));
            }
            break;
        }
        CHECK((described.at("type") == "number" || described.at("type") == "integer"));
        CHECK(described.at("minimum") == key.low);
        CHECK(described.at("maximum") == key.high);
        break;
    case KeyKind::numbers:
        CHECK(described.at("minItems") == 1);
        CHECK(described.at("items").at("minimum") == key.low);
        CHECK(described.at("items").at("maximum") == key.high);
        break;
    case KeyKind::choice:
        CHECK(names(described.at("enum")) ==
              std::set<std::string>(key.choices.begin(), key.choices.end()));
        break;
    case KeyKind::text:
        CHECK(described.at("type") == "string");
        break;
    case KeyKind::pairs:
        CHECK(described.at("items").at("minItems") == 2);
        CHECK(described.at("items").at("maxItems") == 2);
        break;
    case KeyKind::texts:
        CHECK(described.at("oneOf").size() == 2);
        break;
    }
}

} // namespace

TEST_CASE("the schema has the keys that the reader takes, and no others") {
    const json root = schema();
    std::set<std::string> sections;
    std::set<std::string> required_sections;
    for (const Section& section : scenario_sections()) {
        INFO(section.label());
        if (!section.name.empty()) {
            sections.emplace(section.name);
            if (section.required) {
                required_sections.emplace(section.name);
            }
        }
        const json& part = section_schema(root, section);
        CHECK(part.at("additionalProperties") == false);
        std::set<std::string> expected;
        std::set<std::string> required;
        std::set<std::pair<std::set<std::string>, bool>> alternatives;
        for (const Key& key : section.keys) {
            expected.emplace(key.name);
            REQUIRE(part.at("properties").contains(key.name));
            check_key(key, part.at("properties").at(std::string(key.name)));
            if (key.quantity.empty()) {
                if (key.required) {
                    required.emplace(key.name);
                }
                continue;
            }
            std::set<std::string> together;
            for (const Key& other : section.keys) {
                if (other.quantity == key.quantity) {
                    together.emplace(other.name);
                }
            }
            alternatives.emplace(together, key.required);
        }
        std::set<std::string> described;
        for (const auto& [key, value] : part.at("properties").items()) {
            described.insert(key);
        }
        if (section.name.empty()) {
            for (const Section& other : scenario_sections()) {
                described.erase(std::string(other.name));
            }
        } else {
            CHECK(names(part.value("required", json::array())) == required);
            CHECK(alternatives_in(part) == alternatives);
        }
        CHECK(described == expected);
    }
    CHECK(names(root.at("required")) == required_sections);
    for (const std::string& section : sections) {
        CHECK(root.at("properties").contains(section));
    }
}

TEST_CASE("the page on the scenario file names every key") {
    std::ifstream file(EARSHOT_SOURCE_DIR "/docs/scenario-file.md");
    const std::string page{std::istreambuf_iterator<char>(file), {}};
    for (const Section& section : scenario_sections()) {
        for (const Key& key : section.keys) {
            INFO(section.label() << " " << key.name);
            CHECK(page.find(fmt::format("`{}`", key.name)) != std::string::npos);
        }
    }
}

TEST_CASE("edit distance counts insertions, removals, replacements and swaps") {
    // Worked by hand; kitten and sitting is the usual example (V. Levenshtein, 1966), ca and abc
    // tells optimal string alignment (3) from the unrestricted distance (2).
    CHECK(edit_distance("", "") == 0);
    CHECK(edit_distance("", "abc") == 3);
    CHECK(edit_distance("kitten", "sitting") == 3);
    CHECK(edit_distance("gian_dbi", "gain_dbi") == 1);
    CHECK(edit_distance("ca", "abc") == 3);
    CHECK(edit_distance("Power-W", "power_w") == 0);
}

TEST_CASE("a name far from all others has no nearest") {
    constexpr std::array<std::string_view, 3> known{"power_w", "power_dbm", "name"};
    CHECK(nearest_name("powr_w", known) == "power_w");
    CHECK(nearest_name("colour", known).empty());
    CHECK(did_you_mean("nmae", known) == "; did you mean 'name'?");
    CHECK(did_you_mean("colour", known).empty());
}

} // namespace earshot::scenario
