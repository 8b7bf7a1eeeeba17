#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

/// What our files may hold. The readers refuse everything else.

namespace earshot::scenario {

enum class KeyKind {
    text,
    texts, ///< one text or a list of them
    pairs, ///< a list of lists of two texts
    number,
    numbers, ///< a list of them
    choice,  ///< a text from a fixed list
};

struct Key {
    std::string_view name;
    KeyKind kind = KeyKind::text;
    bool required = false;
    /// Keys of one section with the same quantity say the same thing in different units: at most
    /// one of them may be given, and exactly one if they are required.
    std::string_view quantity;
    double low = 0.0; ///< of a number or each of a list, included
    double high = 0.0;
    std::vector<std::string_view> choices;
    std::string_view meaning;
};

/// Keys as the lists below put them together, not required by themselves.
[[nodiscard]] Key text(std::string_view name, std::string_view meaning);
[[nodiscard]] Key number(std::string_view name, double low, double high, std::string_view meaning);
[[nodiscard]] Key choice(std::string_view name, std::vector<std::string_view> choices,
                         std::string_view meaning);
[[nodiscard]] Key required(Key key);

struct Section {
    std::string_view name; ///< empty for the top of the file
    bool list = false;     ///< written [[name]], as often as needed
    bool required = false;
    std::vector<Key> keys;

    [[nodiscard]] const Key* find(std::string_view key) const;
    /// "[[stations]]", "[net]" or "the top of the file".
    [[nodiscard]] std::string label() const;
};

/// The one list of what a scenario file may hold, the top of the file first; a test holds
/// docs/scenario.schema.json to it.
[[nodiscard]] std::span<const Section> scenario_sections();

/// The list of what a correction file may hold; a test holds docs/correction.schema.json to it.
[[nodiscard]] std::span<const Section> correction_sections();

/// Number of letters to insert, remove, replace or swap with their neighbour to get from `a` to
/// `b`, each letter touched once (optimal string alignment). Case does not count, nor does - or
/// a blank for _.
[[nodiscard]] std::size_t edit_distance(std::string_view a, std::string_view b);

/// The name that was probably meant: the nearest by edit distance, if near enough to be likely.
/// Empty if none is.
[[nodiscard]] std::string_view nearest_name(std::string_view written,
                                            std::span<const std::string_view> known);

/// "; did you mean 'x'?" or nothing.
[[nodiscard]] std::string did_you_mean(std::string_view written,
                                       std::span<const std::string_view> known);

} // namespace earshot::scenario
