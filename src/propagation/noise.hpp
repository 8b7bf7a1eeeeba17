#pragma once

#include <cstdint>
#include <span>
#include <string_view>

/// Noise from outside the receiver (Recommendation ITU-R P.372-16) and the level that a receiver
/// needs in it. docs/woods-and-noise.md tells where the numbers come from.

namespace earshot::propagation {

/// Boltzmann constant, J/K (exact, SI).
inline constexpr double boltzmann_j_k = 1.380649e-23;
/// Reference temperature of noise figures, K (ITU-R P.372-16 part 1).
inline constexpr double noise_reference_k = 290.0;

/// Surroundings as P.372 sorts them by their man-made noise.
enum class NoiseEnvironment : std::uint8_t { city, residential, rural, quiet_rural };

/// The surrounding with this name: city, residential, rural, quiet-rural. Throws
/// Error(Fault::usage) that lists the names.
[[nodiscard]] NoiseEnvironment parse_noise_environment(std::string_view name);
[[nodiscard]] std::string_view name_of(NoiseEnvironment environment);

/// Noise that a short vertical antenna without losses picks up, against k T0 b.
struct NoiseFigure {
    double median_db = 0.0;       ///< F_am; below 0 dB where the sky is colder than 290 K
    double upper_decile_db = 0.0; ///< D_u: exceeded by this for 10 percent of the time
    double lower_decile_db = 0.0; ///< D_l: below by this for 10 percent of the time
    bool extrapolated = false;    ///< the frequency lies outside the range of the formula
};

/// F_am = c - d log10 f (P.372-16 part 3, man-made noise), f in MHz. The table holds from 0.3 to
/// 250 MHz, for a quiet rural place to 30 MHz; beyond, the line is carried on and marked, except in
/// a city, where 44.3 - 12.3 log10 f takes over at the crossing (129 MHz) and holds to 900 MHz
/// (CCIR Report 258, in P.372 until edition 8). 30 to 6000 MHz, else Error(Fault::usage).
[[nodiscard]] NoiseFigure man_made_noise(NoiseEnvironment environment, double frequency_mhz);

/// Noise of the sky, 52 - 23 log10 f (P.372-16 part 4, equation (13)), which holds to 100 MHz.
[[nodiscard]] NoiseFigure galactic_noise(double frequency_mhz);

/// f_a: both together, powers added, dB. That is the median if both keep their own; P.372
/// adds their distributions, which at VHF differs by a fraction of a decibel.
[[nodiscard]] double external_noise_figure_db(NoiseEnvironment environment, double frequency_mhz);

/// Noise figure at the antenna connector, dB: f = f_r + (f_a - 1) / l, where f_r is that of the
/// receiver and l >= 1 the loss of antenna and feeder together (P.372-16 part 1, noise factor of a
/// receiving system with both at 290 K, carried from the antenna to the connector). Loss weakens
/// noise and signal alike: a poor antenna hears less noise. Negative `receiver_db` or
/// `antenna_loss_db` throw Error(Fault::usage).
[[nodiscard]] double connector_noise_figure_db(double receiver_db, double external_db,
                                               double antenna_loss_db);

/// k T0 b f in dBm. `bandwidth_hz` > 0, else Error(Fault::usage).
[[nodiscard]] double noise_floor_dbm(double noise_figure_db, double bandwidth_hz);

/// Analogue FM channels.
enum class FmChannel : std::uint8_t {
    wide,   ///< 25 kHz apart, 5 kHz peak deviation
    narrow, ///< 12.5 kHz apart, 2.5 kHz peak deviation
};

/// How well speech gets through.
enum class VoiceQuality : std::uint8_t {
    twelve_db_sinad,       ///< 12 dB SINAD with a steady signal: the receiver's own sensitivity
    occasional_repetition, ///< understood with slight effort while fading (DAQ 3)
    rare_repetition,       ///< the same with repetition only rarely (DAQ 3.4)
    easily_understood,     ///< occasional noise (DAQ 4)
};

/// Ratios of carrier to noise that an FM receiver needs.
struct FmDemands {
    double noise_bandwidth_hz;       ///< of its filter
    double steady_12db_sinad_db;     ///< carrier to noise for 12 dB SINAD, no fading
    double occasional_repetition_db; ///< mean carrier to noise while fading
    double rare_repetition_db;
    double easily_understood_db;

    [[nodiscard]] double carrier_to_noise_db(VoiceQuality quality) const;
};

/// Values of TIA TSB-88 (table of projected channel performance), as remembered.
[[nodiscard]] const FmDemands& fm_demands(FmChannel channel);

/// Noise figure of a receiver that reaches 12 dB SINAD at `sensitivity_dbm` on the bench:
/// sensitivity less k T0 b less the carrier to noise ratio that 12 dB SINAD takes. Throws
/// Error(Fault::usage) for a sensitivity that a noise figure below 0 dB would need.
[[nodiscard]] double receiver_noise_figure_db(double sensitivity_dbm, FmChannel channel);

} // namespace earshot::propagation
