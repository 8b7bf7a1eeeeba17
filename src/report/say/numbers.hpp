#pragma once

#include <string>
#include <string_view>

/// Numbers as people read them, on screen, page, card and in files: each is rounded here and
/// nowhere else. src/browser/dom.js holds to the same rules.

namespace earshot::report {

/// A margin to so many decimals: the nearest, halves away from zero. But no margin is shown on the
/// other side of a limit: where the nearest number would reach one that the margin itself stays
/// below, it is the number below. Limits are those of the classes of readability, 0 dB among them,
/// and `wanted_db`. So -0.4 dB is -1 in whole dB, and 5.7 dB is 5. NaN stays NaN.
[[nodiscard]] double shown_margin_db(double margin_db, int decimals, double wanted_db = 0.0);

/// shown_margin_db() with its sign: "+2", "+1.9", "-1", "+0"; "?" if it is not known.
[[nodiscard]] std::string margin_number(double margin_db, int decimals = 0, double wanted_db = 0.0);
/// "+2 dB".
[[nodiscard]] std::string margin_text(double margin_db, int decimals = 0, double wanted_db = 0.0);

/// By how much a margin is short of the one wanted, in whole dB: "1 dB" at least. A pair is as
/// short as its weaker way: a call needs both.
[[nodiscard]] std::string short_text(double margin_db, double wanted_db = 0.0);

/// What something adds to a margin, with its sign, to a tenth: "+1.9 dB".
[[nodiscard]] std::string gain_text(double gain_db);

/// A chance in whole percent. Nothing is certain: "under 1 %" below one half, "over 99 %" from 99.5
/// on; "?" if it is not known.
[[nodiscard]] std::string chance_text(double percent);
/// The same where there is little room: "<1 %".
[[nodiscard]] std::string short_chance_text(double percent);

/// A height over something: to a tenth of a metre below 10 m, in whole metres from there on; or in
/// feet.
[[nodiscard]] std::string height_text(double height_m);
/// The same to so many decimals of a metre; feet below 10 to a tenth, else whole.
[[nodiscard]] std::string height_text(double height_m, int decimals);

/// "12.3 km2", or square miles, with the unit of area written as `two` says.
[[nodiscard]] std::string area_text(double area_km2, std::string_view two = "2");

} // namespace earshot::report
