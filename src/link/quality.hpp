#pragma once

#include <cstdint>
#include <span>
#include <string_view>

/// What a margin means to people: the chance of contact and how well speech gets through.

namespace earshot::link {

/// Standard deviations around a predicted margin, dB, each >= 0. They are taken for independent
/// and normal, as ITU-R P.1812 and P.1546 take the first.
struct Deviations {
    double place_db = 0.0;      ///< among places around the receiver: sigma_L
    double time_db = 0.0;       ///< over the year: time_deviation_db()
    double prediction_db = 0.0; ///< of the method itself against measurements

    /// Root of the sum of squares. Throws Error(Fault::usage) if one is negative.
    [[nodiscard]] double combined_db() const;
};

/// Kind of surroundings of a receiver in ITU-R P.1546-6.
enum class Surroundings : std::uint8_t {
    rural,
    rooftop,  ///< antenna near the height of the cover
    built_up, ///< antenna below the cover in a town
};

/// sigma_L = K + 1.3 log10 f, dB, f in MHz: deviation of the loss among places within an area of up
/// to 500 m by 500 m (ITU-R P.1546-6 annex 5 section 12). For methods without one of their own;
/// P.1812 has its own. 30 to 4000 MHz, else Error(Fault::usage).
[[nodiscard]] double location_deviation_p1546_db(Surroundings surroundings, double frequency_mhz);

/// Deviation over time from the loss of half the time and the lesser one of 10 percent of it, dB:
/// their difference over the 1.2816 deviations between those points of a normal distribution.
/// Throws Error(Fault::usage) if the second is the greater.
[[nodiscard]] double time_deviation_db(double loss_50_percent_db, double loss_10_percent_db);

/// Chance that a contact succeeds at a random place and time, percent: 100 Phi(margin / sigma). The
/// margin is the one for half of the places and times. With no deviation it is 0 below margin 0,
/// 50 at it and 100 above. NaN stays NaN. Throws Error(Fault::usage) for a negative deviation.
[[nodiscard]] double chance_percent(double margin_db, double deviation_db);

/// How speech gets through, from 0 to 5.
enum class Readability : std::uint8_t {
    nothing = 0,
    barely_there = 1,
    some_words = 2,
    with_effort = 3,
    easy = 4,
    clear = 5,
};

struct ReadabilityClass {
    Readability readability;
    double least_margin_db; ///< the class starts here, included; minus infinity for the first
    std::string_view name;  ///< a few plain words, for legends
    std::string_view meaning;
};

/// All six, worst first. Margin 0 dB is 12 dB SINAD, the usual limit of useful speech.
[[nodiscard]] std::span<const ReadabilityClass> readability_classes();

/// The class of a margin. A margin that is not known (NaN) counts as nothing heard.
[[nodiscard]] const ReadabilityClass& readability(double margin_db);

/// A second model that differs from the first by this, dB, is told of: nearly twice the deviation
/// of the difference of two predictions that each miss by 8 dB (common practice, no source).
inline constexpr double models_part_db = 20.0;

/// Whether people should try a contact before they count on it: one of two models has the margin
/// wanted, and the other has not or is farther from it than models_part_db. `apart_db` is
/// Direction::apart_db; false where it is not known, and where neither model has the margin.
[[nodiscard]] bool try_first(double margin_db, double apart_db, double wanted_db = 0.0);

} // namespace earshot::link
