#pragma once

#include "report/say/colour.hpp"

#include <span>
#include <string>
#include <string_view>

namespace earshot::report {

/// A class of margin as maps show it. Bounds and words are those of link::readability_classes();
/// only the colour is added here.
struct MarginClass {
    std::string_view name;
    double lower_bound_db;    ///< the class reaches from here up to the next stronger class
    Rgb colour;               ///< the stronger the darker, evenly in OKLCH lightness
    std::string_view meaning; ///< for a voice call
};

/// The classes in which at least some words get through, the strongest first. Ground below the
/// last one is shown bare.
[[nodiscard]] std::span<const MarginClass> margin_classes();

/// "Clear, 16 dB and more: little noise even while walking".
[[nodiscard]] std::string class_words(const MarginClass& shown);

/// The class of a margin in dB; null if no words get through or the margin is not known (NaN).
[[nodiscard]] const MarginClass* margin_class_of(double margin_db);

} // namespace earshot::report
