#include "report/say/margin_classes.hpp"

#include "link/quality.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>

namespace earshot::report {
namespace {

MarginClass shown(link::Readability readability, const Rgb& colour) {
    const auto words = link::readability_classes();
    const auto found = std::ranges::find(words, readability, &link::ReadabilityClass::readability);
    return {found->name, found->least_margin_db, colour, found->meaning};
}

} // namespace

std::span<const MarginClass> margin_classes() {
    // From deep violet over rose to pale apricot: hue helps those who see it, and lightness alone
    // tells the classes apart for everybody else and in grey print.
    static const std::array<MarginClass, 4> classes{
        shown(link::Readability::clear, from_oklch(0.520, 0.140, 285.0)),
        shown(link::Readability::easy, from_oklch(0.635, 0.135, 335.0)),
        shown(link::Readability::with_effort, from_oklch(0.745, 0.120, 33.0)),
        shown(link::Readability::some_words, from_oklch(0.855, 0.110, 82.0))};
    return classes;
}

std::string class_words(const MarginClass& shown) {
    std::string name(shown.name);
    name.front() = static_cast<char>(std::toupper(static_cast<unsigned char>(name.front())));
    return fmt::format("{}, {:g} dB and more: {}", name, shown.lower_bound_db, shown.meaning);
}

const MarginClass* margin_class_of(double margin_db) {
    const auto classes = margin_classes();
    const auto found = std::ranges::find_if(classes, [margin_db](const MarginClass& candidate) {
        return margin_db >= candidate.lower_bound_db;
    });
    return found == classes.end() ? nullptr : &*found;
}

} // namespace earshot::report
