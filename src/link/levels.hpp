#pragma once

#include <string_view>

/// Levels as radios show them.

namespace earshot::link {

/// S-meters of VHF and higher bands: S9 is -93 dBm from a carrier at the antenna connector and one
/// S-unit is 6 dB (IARU Region 1, VHF Managers' Handbook section 8.6.1, Technical Recommendation
/// R.1, Brighton 1981, Torremolinos 1990: above 144 MHz; handbook edition 9.0 of 2018: above
/// 30 MHz). Meters of real radios are often far from it.
inline constexpr double s9_dbm = -93.0;
inline constexpr double s_unit_db = 6.0;

/// `s_units` from 0 to 9, halves and other parts included; `over_db` above S9, 0 to 80, which only
/// S9 can have. Throws Error(Fault::usage) otherwise.
[[nodiscard]] double level_of_s_units_dbm(double s_units, double over_db = 0.0);

/// A level as people write it down: "-97 dBm", "-97" (dBm), "0.5 uV" (across 50 ohms), "S7",
/// "S9+10", "S9 + 10 dB". Case does not matter; decimals take a point. `what` names the value in
/// messages. Throws Error(Fault::usage) for anything else, and for levels outside -170 to
/// 30 dBm.
[[nodiscard]] double parse_level_reading_dbm(std::string_view text, std::string_view what);

} // namespace earshot::link
