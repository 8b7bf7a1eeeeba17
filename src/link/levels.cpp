#include "link/levels.hpp"

#include "base/number.hpp"
#include "earshot/base/error.hpp"
#include "geo/units.hpp"

#include <fmt/format.h>

#include <optional>
#include <string>

namespace earshot::link {
namespace {

constexpr double lowest_dbm = -170.0; // some 25 dB below the noise of a narrow receiver
constexpr double highest_dbm = 30.0;
constexpr double most_over_db = 80.0;

/// Without blanks, letters small.
std::string plain(std::string_view text) {
    std::string result;
    for (const char c : text) {
        if (c != ' ' && c != '\t') {
            result += c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
        }
    }
    return result;
}

/// "7", "9+10", "9+10db": what follows the S. Empty if it is something else.
std::optional<double> s_reading_dbm(std::string_view reading) {
    const std::size_t plus = reading.find('+');
    const auto units = number_in(reading.substr(0, plus));
    std::optional<double> over_db = 0.0;
    if (plus != std::string_view::npos) {
        std::string_view over = reading.substr(plus + 1);
        if (over.ends_with("db")) {
            over.remove_suffix(2);
        }
        over_db = number_in(over);
    }
    if (!units || !over_db) {
        return std::nullopt;
    }
    return level_of_s_units_dbm(*units, *over_db);
}

} // namespace

double level_of_s_units_dbm(double s_units, double over_db) {
    if (!(s_units >= 0.0 && s_units <= 9.0)) {
        throw_usage(fmt::format("S{}: the scale goes from S0 to S9, and on as S9+10", s_units));
    }
    if (!(over_db >= 0.0 && over_db <= most_over_db) || (over_db > 0.0 && s_units != 9.0)) {
        throw_usage(fmt::format("S{}+{}: only S9 takes decibels on top, up to {}", s_units, over_db,
                                most_over_db));
    }
    return s9_dbm + s_unit_db * (s_units - 9.0) + over_db;
}

double parse_level_reading_dbm(std::string_view text, std::string_view what) {
    const std::string reading = plain(text);
    std::optional<double> level_dbm = number_in(reading);
    if (!level_dbm && reading.starts_with('s')) {
        level_dbm = s_reading_dbm(std::string_view(reading).substr(1));
        if (!level_dbm) {
            throw_usage(fmt::format("{} cannot be read; write for example S7 or S9+10", what));
        }
    }
    if (!level_dbm) {
        level_dbm = geo::parse_level_dbm(text, what);
    }
    if (!(*level_dbm >= lowest_dbm && *level_dbm <= highest_dbm)) {
        throw_usage(fmt::format("{} is {:g} dBm, which no radio receives; received levels are "
                                "negative, from {:g} to {:g} dBm",
                                what, *level_dbm, lowest_dbm, highest_dbm));
    }
    return *level_dbm;
}

} // namespace earshot::link
