#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string_view>

/// Losses by the body of the person who carries a radio, and gains of the antennas that go with
/// small radios. docs/woods-and-noise.md tells where each number comes from.

namespace earshot::link {

/// Where a radio is while it is used.
enum class Carried : std::uint8_t {
    clear_of_body, ///< on a pole, a pack frame or a table
    at_face,       ///< in the hand before the mouth, antenna upright
    on_chest,      ///< in a chest pack or on the shoulder strap
    on_hip,        ///< on the belt
};

/// How a number is known.
enum class Evidence : std::uint8_t {
    theory,          ///< follows from the kind of antenna
    reported,        ///< comparisons that others made and told of
    common_practice, ///< used in the trade; no source
};

/// What the body takes from a carried radio, dB, averaged over the directions it may face (with
/// one's back to the other station it is several dB more). By frequency from common practice,
/// interpolated over its logarithm from 150 to 850 MHz and held constant outside. 30 to 6000 MHz,
/// else Error(Fault::usage).
[[nodiscard]] double body_loss_db(Carried carried, double frequency_mhz);

/// clear, face, chest, hip. Throws Error(Fault::usage) that lists the names.
[[nodiscard]] Carried parse_carried(std::string_view name);
[[nodiscard]] std::string_view name_of(Carried carried);

/// Gain of an antenna in one band, toward the horizon, its losses included.
struct BandGain {
    double lowest_mhz;
    double highest_mhz;
    double gain_dbi;
    double spread_db; ///< likely to be within this much to either side
    Evidence evidence;
};

struct Antenna {
    std::string_view name;        ///< as the user writes it
    std::string_view description; ///< in plain words
    std::span<const BandGain> bands;
    bool on_radio; ///< screwed on a handheld, and held with it

    /// The gain in the band that holds the frequency; empty if there is none.
    [[nodiscard]] std::optional<BandGain> gain_at(double frequency_mhz) const;
};

/// All antennas, the weakest first.
[[nodiscard]] std::span<const Antenna> antennas();
/// Throws Error(Fault::usage) that lists the names.
[[nodiscard]] const Antenna& find_antenna(std::string_view name);

/// The gain of a named antenna at a frequency, dBi. Throws Error(Fault::usage) if there is no
/// such antenna or none of its bands holds the frequency.
[[nodiscard]] double antenna_gain_dbi(std::string_view name, double frequency_mhz);

/// What is taken for granted of a radio where nothing is said of it: what people really hold.
struct Assumed {
    bool stock_antenna = false; ///< the band's stock antenna, above
    bool at_face = false;       ///< held at the face, if the antenna is low enough to be held
    bool receiver = false;      ///< usual_sensitivity_dbm
    bool rural_noise = false;   ///< man-made noise of the countryside (ITU-R P.372)

    [[nodiscard]] bool any() const { return stock_antenna || at_face || receiver || rural_noise; }
};

/// Whether it is one of the usual antennas that are screwed on a handheld.
[[nodiscard]] bool is_on_radio(std::string_view name);

/// An antenna up to here may be in somebody's hand, m above the ground.
inline constexpr double held_up_to_m = 2.5;

/// 0.2 uV in 50 ohm for 12 dB SINAD: data sheets of small FM handhelds say 0.16 to 0.25 uV (common
/// practice, no source).
inline constexpr double usual_sensitivity_dbm = -120.97;

/// Loss of an antenna that spreads its power as a half-wave dipole does but has this gain, dB: what
/// it is short of 2.15 dBi, 0 for more gain. Noise from outside is weakened by it as signals are.
[[nodiscard]] double antenna_loss_db(double gain_dbi);

} // namespace earshot::link
