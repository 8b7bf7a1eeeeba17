#pragma once

#include <string>
#include <string_view>

namespace earshot::geo {

/// Each function reads a number with its unit, with or without a space between, case-sensitively
/// only where case carries meaning (mW against MW; MHz may be written mhz, since no radio works in
/// millihertz). Decimals take a point, whatever the locale; an exponent is accepted. `what` names
/// the value in messages, for example "--antenna-height". A missing or unknown unit, trailing text,
/// NaN or infinity throws Error(Fault::usage) that quotes the text and gives an example of what
/// is accepted.

/// m, km, cm, ft (international foot, 0.3048 m), in, yd, mi (international mile), nmi, and feet
/// and inches as 6', 5'6" or 5ft 6in. In metres, never negative.
[[nodiscard]] double parse_length_m(std::string_view text, std::string_view what);
/// The same, but what is below where one counts from is negative.
[[nodiscard]] double parse_height_m(std::string_view text, std::string_view what);

/// What parse_power_dbm, parse_gain_dbi and parse_loss_db take: no radio of people has more.
inline constexpr double lowest_power_dbm = -30.0;
inline constexpr double highest_power_dbm = 70.0;
inline constexpr double highest_gain_dbi = 40.0;
inline constexpr double highest_loss_db = 200.0;
/// Antenna heights above the ground that predictions take (P.1812-8, annex 1).
inline constexpr double highest_antenna_m = 3000.0;

/// W, mW, kW, dBm, dBW. In dBm. Zero or negative watts are refused.
[[nodiscard]] double parse_power_dbm(std::string_view text, std::string_view what);
/// Received level: dBm, or uV (or µV; microvolts across 50 ohms). In dBm. Zero or negative
/// microvolts are refused.
[[nodiscard]] double parse_level_dbm(std::string_view text, std::string_view what);
/// dBi, or dBd (dBi = dBd + 2.15). In dBi.
[[nodiscard]] double parse_gain_dbi(std::string_view text, std::string_view what);
/// dB. In dB; negative values are refused.
[[nodiscard]] double parse_loss_db(std::string_view text, std::string_view what);
/// Hz, kHz, MHz, GHz. In MHz; outside 30 MHz to 6 GHz is refused.
[[nodiscard]] double parse_frequency_mhz(std::string_view text, std::string_view what);
/// A plain number in [low, high], no unit.
[[nodiscard]] double parse_number(std::string_view text, std::string_view what, double low,
                                  double high);
/// "%" optional. In percent, within [low, high].
[[nodiscard]] double parse_percent(std::string_view text, std::string_view what, double low,
                                   double high);

/// By definition 0 dBm is 1 mW (ITU-R V.574). `power_w` and `voltage_uv` must be positive.
[[nodiscard]] double watts_from_dbm(double power_dbm);
[[nodiscard]] double dbm_from_watts(double power_w);
/// Level in dBm of a voltage across 50 ohms.
[[nodiscard]] double dbm_from_microvolts(double voltage_uv);

/// What people read lengths in. Set once, before anything is printed; metric until then.
enum class Units { metric, imperial };
void set_units(Units units);
[[nodiscard]] Units units();

/// "850 m", "12.4 km", or "850 ft", "7.7 mi": three significant figures at most, for people.
[[nodiscard]] std::string format_distance(double distance_m);
/// "5 W", "500 mW", "1.5 kW": three significant figures at most.
[[nodiscard]] std::string format_power(double power_dbm);

/// "north", "north-east", ... the nearest of eight.
[[nodiscard]] std::string_view compass_word(double bearing_deg);
/// "north-east (47 deg)", from true north.
[[nodiscard]] std::string direction_words(double bearing_deg);

inline constexpr double metres_per_foot = 0.3048;
inline constexpr double metres_per_mile = 1609.344;
inline constexpr double km2_per_square_mile = 2.589988110336;
/// Gain of a half-wave dipole over an isotropic radiator, 2.15 dB (ITU-R V.573, "antenna gain").
inline constexpr double dipole_gain_dbi = 2.15;

} // namespace earshot::geo
