#include "propagation/noise.hpp"

#include "earshot/base/error.hpp"
#include "propagation/basic.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

namespace earshot::propagation {
namespace {

/// A line c - d log10 f and the spread around it.
struct NoiseLine {
    std::string_view name;
    double c, d;
    double highest_mhz; ///< where it ceases to hold
    double upper_decile_db, lower_decile_db;
};

// P.372-16 part 3, constants and deciles, in the order of NoiseEnvironment.
constexpr std::array man_made_lines{
    NoiseLine{"city", 76.8, 27.7, 250.0, 11.0, 6.7},
    NoiseLine{"residential", 72.5, 27.7, 250.0, 10.6, 5.3},
    NoiseLine{"rural", 67.2, 27.7, 250.0, 9.2, 4.6},
    NoiseLine{"quiet-rural", 53.6, 28.6, 30.0, 9.2, 4.6},
};
constexpr NoiseLine city_uhf_line{"city", 44.3, 12.3, 900.0, 11.0, 6.7};
constexpr NoiseLine galactic_line{"galactic", 52.0, 23.0, 100.0, 2.0, 2.0};

constexpr FmDemands wide_demands{12600.0, 4.0, 17.0, 20.0, 27.0};
constexpr FmDemands narrow_demands{7800.0, 7.0, 23.0, 26.0, 33.0};

double value_db(const NoiseLine& line, double frequency_mhz) {
    return line.c - line.d * std::log10(frequency_mhz);
}

NoiseFigure figure(const NoiseLine& line, double frequency_mhz) {
    return {value_db(line, frequency_mhz), line.upper_decile_db, line.lower_decile_db,
            frequency_mhz > line.highest_mhz};
}

void require_frequency(double frequency_mhz) {
    if (!(frequency_mhz >= lowest_frequency_mhz && frequency_mhz <= highest_frequency_mhz)) {
        throw_usage(fmt::format("noise at {} MHz: give a frequency from {} to {} MHz",
                                frequency_mhz, lowest_frequency_mhz, highest_frequency_mhz));
    }
}

void require_not_negative(double value_db, const char* what) {
    if (!(value_db >= 0.0)) {
        throw_usage(fmt::format("{} is {} dB: give 0 dB or more", what, value_db));
    }
}

double ratio(double level_db) {
    return std::pow(10.0, level_db / 10.0);
}

double decibels(double power_ratio) {
    return 10.0 * std::log10(power_ratio);
}

} // namespace

NoiseEnvironment parse_noise_environment(std::string_view name) {
    const auto line = std::find_if(man_made_lines.begin(), man_made_lines.end(),
                                   [=](const NoiseLine& l) { return l.name == name; });
    if (line == man_made_lines.end()) {
        throw_usage(fmt::format("noise '{}' is not known; give city, residential, rural or "
                                "quiet-rural",
                                name));
    }
    return static_cast<NoiseEnvironment>(line - man_made_lines.begin());
}

std::string_view name_of(NoiseEnvironment environment) {
    return man_made_lines[static_cast<std::size_t>(environment)].name;
}

NoiseFigure man_made_noise(NoiseEnvironment environment, double frequency_mhz) {
    require_frequency(frequency_mhz);
    const NoiseLine& line = man_made_lines[static_cast<std::size_t>(environment)];
    if (environment == NoiseEnvironment::city &&
        value_db(city_uhf_line, frequency_mhz) > value_db(line, frequency_mhz)) {
        return figure(city_uhf_line, frequency_mhz);
    }
    return figure(line, frequency_mhz);
}

NoiseFigure galactic_noise(double frequency_mhz) {
    require_frequency(frequency_mhz);
    return figure(galactic_line, frequency_mhz);
}

double external_noise_figure_db(NoiseEnvironment environment, double frequency_mhz) {
    return decibels(ratio(man_made_noise(environment, frequency_mhz).median_db) +
                    ratio(galactic_noise(frequency_mhz).median_db));
}

double connector_noise_figure_db(double receiver_db, double external_db, double antenna_loss_db) {
    require_not_negative(receiver_db, "the noise figure of the receiver");
    require_not_negative(antenna_loss_db, "the loss of antenna and feeder");
    return decibels(ratio(receiver_db) + (ratio(external_db) - 1.0) / ratio(antenna_loss_db));
}

double noise_floor_dbm(double noise_figure_db, double bandwidth_hz) {
    if (!(bandwidth_hz > 0.0)) {
        throw_usage(fmt::format("a bandwidth of {} Hz: give more than 0 Hz", bandwidth_hz));
    }
    constexpr double milliwatts_per_watt = 1000.0;
    return decibels(boltzmann_j_k * noise_reference_k * bandwidth_hz * milliwatts_per_watt) +
           noise_figure_db;
}

double FmDemands::carrier_to_noise_db(VoiceQuality quality) const {
    switch (quality) {
    case VoiceQuality::twelve_db_sinad:
        return steady_12db_sinad_db;
    case VoiceQuality::occasional_repetition:
        return occasional_repetition_db;
    case VoiceQuality::rare_repetition:
        return rare_repetition_db;
    case VoiceQuality::easily_understood:
        break;
    }
    return easily_understood_db;
}

const FmDemands& fm_demands(FmChannel channel) {
    return channel == FmChannel::wide ? wide_demands : narrow_demands;
}

double receiver_noise_figure_db(double sensitivity_dbm, FmChannel channel) {
    const FmDemands& demands = fm_demands(channel);
    const double best_dbm =
        noise_floor_dbm(0.0, demands.noise_bandwidth_hz) + demands.steady_12db_sinad_db;
    if (!(sensitivity_dbm >= best_dbm)) {
        throw_usage(fmt::format("a sensitivity of {:.1f} dBm for 12 dB SINAD is below what any "
                                "receiver can reach, {:.1f} dBm: check the value and its unit",
                                sensitivity_dbm, best_dbm));
    }
    return sensitivity_dbm - best_dbm;
}

} // namespace earshot::propagation
