#include "geo/units.hpp"

#include "base/require.hpp"
#include "earshot/geo/geodesic.hpp"
#include "geo/text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <initializer_list>
#include <optional>
#include <span>

namespace earshot::geo {
namespace {

constexpr double metres_per_yard = 0.9144;
constexpr double metres_per_nautical_mile = 1852.0;
constexpr double receiver_impedance_ohm = 50.0;
constexpr double lowest_frequency_mhz = 30.0;
constexpr double highest_frequency_mhz = 6000.0;

/// A unit as people write it, and its size in the unit the caller works in.
struct Unit {
    std::string_view name;
    double size = 1.0;
};

struct Quantity {
    double value = 0.0;
    Unit unit;
    std::string_view unit_as_written;
};

void require(bool fits, std::string_view what, std::string_view text, std::string_view reason,
             std::string_view advice) {
    if (!fits) {
        throw_usage("{}: {} {}; {}", what, geo::quoted(text), reason, advice);
    }
}

std::string unit_list(std::span<const Unit> units) {
    std::string list;
    for (const Unit& unit : units) {
        if (!list.empty()) {
            list += &unit == &units.back() ? " or " : ", ";
        }
        list += unit.name;
    }
    return list;
}

/// The number at the start of `text`, or a refusal that says why there is none.
LeadingNumber require_number(std::string_view text, std::string_view what,
                             std::string_view advice) {
    const std::string_view body = trimmed(text);
    require(!body.empty(), what, text, "is empty", advice);
    auto number = leading_number(body);
    require(number.has_value(), what, text, "does not start with a number that can be used",
            advice);
    require(!number->rest.starts_with(','), what, text,
            "has a comma in its number, and decimals take a point", advice);
    number->rest = trimmed(number->rest);
    return *number;
}

Quantity parse_quantity(std::string_view text, std::string_view what, std::span<const Unit> units,
                        std::string_view examples) {
    const std::string advice = fmt::format("write for example {}", examples);
    const LeadingNumber number = require_number(text, what, advice);
    require(!number.rest.empty(), what, text, "has no unit", advice);
    const auto unit = std::find_if(units.begin(), units.end(), [&](const Unit& known) {
        return upper(known.name) == upper(number.rest);
    });
    require(unit != units.end(), what, text,
            fmt::format("has the unit {}, and only {} can be used here", geo::quoted(number.rest),
                        unit_list(units)),
            advice);
    require(std::isfinite(number.value * unit->size), what, text, "is too large", advice);
    return {number.value, *unit, number.rest};
}

/// A number in [low, high], with or without the suffix.
double parse_within(std::string_view text, std::string_view what, double low, double high,
                    std::string_view noun, std::string_view suffix) {
    const std::string advice = fmt::format("give {} from {} to {}", noun, low, high);
    const LeadingNumber number = require_number(text, what, advice);
    require(number.rest.empty() || number.rest == suffix, what, text,
            fmt::format("has {} after the number", geo::quoted(number.rest)), advice);
    require(number.value >= low && number.value <= high, what, text, "is out of range",
            fmt::format("give a number from {} to {}", low, high));
    return number.value;
}
double round_to_three_figures(double value) {
    if (value == 0.0 || !std::isfinite(value)) {
        return value;
    }
    const double step = std::pow(10.0, std::floor(std::log10(std::abs(value))) - 2.0);
    return std::round(value / step) * step;
}

/// A value already rounded to three figures, without an exponent and without trailing zeros.
std::string plain_decimal(double value) {
    const double magnitude = value == 0.0 ? 0.0 : std::floor(std::log10(std::abs(value)) + 1e-9);
    const int decimals = std::clamp(2 - static_cast<int>(magnitude), 0, 12);
    std::string digits = fmt::format("{:.{}f}", value, decimals);
    if (decimals > 0) {
        digits.erase(digits.find_last_not_of('0') + 1);
        if (digits.ends_with('.')) {
            digits.pop_back();
        }
    }
    return digits;
}

} // namespace

namespace {

/// The rest after one of the marks at the start of `text`; empty if there is none.
std::optional<std::string_view> after_mark(std::string_view text,
                                           std::initializer_list<std::string_view> marks) {
    for (const std::string_view mark : marks) {
        if (upper(text.substr(0, mark.size())) == upper(mark)) {
            return trimmed(text.substr(mark.size()));
        }
    }
    return std::nullopt;
}

/// Feet and inches by their marks, 6' or 5'6" or 5ft 6in; empty if it is something else. Prime,
/// right quotation mark and acute accent stand for the typewriter's marks.
std::optional<double> feet_and_inches_m(std::string_view text) {
    const auto feet = leading_number(trimmed(text));
    if (!feet || !std::isfinite(feet->value)) {
        return std::nullopt;
    }
    const std::string_view unit = trimmed(feet->rest);
    const auto marked = after_mark(unit, {"'", "\u2032", "\u2019", "\u00B4"});
    if (marked && marked->empty()) {
        return feet->value * metres_per_foot;
    }
    const auto rest = marked ? marked : after_mark(unit, {"ft"});
    const auto inches = rest ? leading_number(*rest) : std::nullopt;
    constexpr double inches_per_foot = 12.0;
    if (!inches ||
        !(feet->value >= 0.0 && inches->value >= 0.0 && inches->value < inches_per_foot)) {
        return std::nullopt;
    }
    const std::string_view mark = trimmed(inches->rest);
    const auto end = after_mark(mark, {"in", "\"", "''", "\u2033", "\u201D", "\u2019\u2019"});
    if (mark.empty() ? !marked : !(end && end->empty())) {
        return std::nullopt;
    }
    return (feet->value + inches->value / inches_per_foot) * metres_per_foot;
}

} // namespace

double parse_height_m(std::string_view text, std::string_view what) {
    if (const auto length_m = feet_and_inches_m(text)) {
        return *length_m;
    }
    static constexpr std::array units = {Unit{"m", 1.0},
                                         Unit{"km", 1000.0},
                                         Unit{"cm", 0.01},
                                         Unit{"ft", metres_per_foot},
                                         Unit{"in", metres_per_foot / 12.0},
                                         Unit{"yd", metres_per_yard},
                                         Unit{"mi", metres_per_mile},
                                         Unit{"nmi", metres_per_nautical_mile}};
    const Quantity length = parse_quantity(text, what, units, "6ft or 2m");
    return length.value * length.unit.size;
}

double parse_length_m(std::string_view text, std::string_view what) {
    const double length_m = parse_height_m(text, what);
    require(length_m >= 0.0, what, text, "is less than nothing", "write for example 6ft or 2m");
    return length_m;
}

double parse_power_dbm(std::string_view text, std::string_view what) {
    // Sizes in watts; the decibel units are told apart by name below.
    static constexpr std::array units = {Unit{"W", 1.0}, Unit{"mW", 1e-3}, Unit{"kW", 1e3},
                                         Unit{"dBm"}, Unit{"dBW"}};
    const std::string_view examples = "5W, 500mW or 37dBm";
    const Quantity power = parse_quantity(text, what, units, examples);
    const std::string advice = fmt::format("write for example {}", examples);
    const auto bounded = [&](double power_dbm) {
        require(power_dbm >= lowest_power_dbm && power_dbm <= highest_power_dbm, what, text,
                "is no power of a radio", "give one from 0.001mW to 10kW");
        return power_dbm;
    };
    if (power.unit.name == "dBm") {
        return bounded(power.value);
    }
    if (power.unit.name == "dBW") {
        return bounded(power.value + 30.0);
    }
    // Here alone case carries meaning: a capital M stands for a million.
    require(power.unit.name != "mW" || power.unit_as_written.front() != 'M', what, text,
            "is in megawatts, and milliwatts are written mW", advice);
    const double power_w = power.value * power.unit.size;
    require(power_w > 0.0, what, text, "is not a power above zero", advice);
    return bounded(dbm_from_watts(power_w));
}

double parse_level_dbm(std::string_view text, std::string_view what) {
    // The micro sign and the Greek mu look alike and are both in use.
    static constexpr std::array units = {Unit{"dBm"}, Unit{"uV"}, Unit{"\u00B5V"}, Unit{"\u03BCV"}};
    const std::string_view examples = "-119dBm or 0.25uV";
    const Quantity level = parse_quantity(text, what, units, examples);
    if (level.unit.name == "dBm") {
        return level.value;
    }
    require(level.value > 0.0, what, text, "is not a voltage above zero",
            fmt::format("write for example {}", examples));
    return dbm_from_microvolts(level.value);
}

double parse_gain_dbi(std::string_view text, std::string_view what) {
    static constexpr std::array units = {Unit{"dBi"}, Unit{"dBd"}};
    const Quantity gain = parse_quantity(text, what, units, "2.15dBi or 0dBd");
    const double gain_dbi = gain.unit.name == "dBd" ? gain.value + dipole_gain_dbi : gain.value;
    require(std::abs(gain_dbi) <= highest_gain_dbi, what, text, "is no gain of an antenna",
            "give one from -40dBi to 40dBi");
    return gain_dbi;
}

double parse_loss_db(std::string_view text, std::string_view what) {
    static constexpr std::array units = {Unit{"dB"}};
    const Quantity loss = parse_quantity(text, what, units, "1.5dB");
    require(loss.value >= 0.0, what, text, "is negative",
            "write a loss as a positive number, for example 1.5dB");
    require(loss.value <= highest_loss_db, what, text, "is more than anything can lose",
            "give 200dB at most");
    return loss.value;
}

double parse_frequency_mhz(std::string_view text, std::string_view what) {
    static constexpr std::array units = {Unit{"Hz", 1e6}, Unit{"kHz", 1e3}, Unit{"MHz", 1.0},
                                         Unit{"GHz", 1e-3}};
    const Quantity frequency = parse_quantity(text, what, units, "146.52MHz");
    // Here a size is units to the megahertz: dividing by a power of ten keeps 146520 kHz exact.
    const double frequency_mhz = frequency.value / frequency.unit.size;
    require(frequency_mhz >= lowest_frequency_mhz && frequency_mhz <= highest_frequency_mhz, what,
            text, "is outside the range of the propagation methods",
            "give a frequency from 30MHz to 6GHz");
    return frequency_mhz;
}

double parse_number(std::string_view text, std::string_view what, double low, double high) {
    return parse_within(text, what, low, high, "a number", "");
}

double parse_percent(std::string_view text, std::string_view what, double low, double high) {
    return parse_within(text, what, low, high, "a percentage", "%");
}

double watts_from_dbm(double power_dbm) {
    return std::pow(10.0, (power_dbm - 30.0) / 10.0);
}

double dbm_from_watts(double power_w) {
    return 10.0 * std::log10(power_w) + 30.0;
}

double dbm_from_microvolts(double voltage_uv) {
    // 20 log10 of the ratio, rather than the power of a squared voltage, which could underflow.
    return 20.0 * std::log10(voltage_uv * 1e-6) - 10.0 * std::log10(receiver_impedance_ohm) + 30.0;
}

namespace {
Units shown_units = Units::metric;
} // namespace

void set_units(Units units) {
    shown_units = units;
}

Units units() {
    return shown_units;
}

std::string format_distance(double distance_m) {
    if (shown_units == Units::imperial) {
        const double feet = round_to_three_figures(distance_m / metres_per_foot);
        return std::abs(feet) < 1000.0
                   ? plain_decimal(feet) + " ft"
                   : plain_decimal(round_to_three_figures(distance_m / metres_per_mile)) + " mi";
    }
    const double rounded_m = round_to_three_figures(distance_m);
    return std::abs(rounded_m) < 1000.0 ? plain_decimal(rounded_m) + " m"
                                        : plain_decimal(rounded_m / 1000.0) + " km";
}

std::string format_power(double power_dbm) {
    const double rounded_w = round_to_three_figures(watts_from_dbm(power_dbm));
    if (rounded_w < 1.0) {
        return plain_decimal(rounded_w * 1000.0) + " mW";
    }
    return rounded_w < 1000.0 ? plain_decimal(rounded_w) + " W"
                              : plain_decimal(rounded_w / 1000.0) + " kW";
}

std::string_view compass_word(double bearing_deg) {
    constexpr std::array<std::string_view, 8> words{"north", "north-east", "east", "south-east",
                                                    "south", "south-west", "west", "north-west"};
    const double turned = normalize_bearing_deg(bearing_deg + 22.5);
    return words[static_cast<std::size_t>(turned / 45.0) % words.size()];
}

std::string direction_words(double bearing_deg) {
    const double whole_deg = normalize_bearing_deg(std::round(bearing_deg));
    return fmt::format("{} ({:.0f} deg)", compass_word(bearing_deg), whole_deg);
}

} // namespace earshot::geo
