#include "link/handheld.hpp"

#include "base/named.hpp"
#include "earshot/base/error.hpp"
#include "geo/units.hpp"
#include "propagation/basic.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <string>

namespace earshot::link {
namespace {

struct BodyLoss {
    std::string_view name;
    double at_150_mhz_db, at_450_mhz_db, at_850_mhz_db;
};

// In the order of Carried. Common practice, no source: at VHF the body is part of the antenna, and
// a belt clip puts the antenna against it.
constexpr std::array body_losses{
    BodyLoss{"clear", 0.0, 0.0, 0.0},
    BodyLoss{"face", 3.0, 3.0, 3.0},
    BodyLoss{"chest", 8.0, 7.0, 6.0},
    BodyLoss{"hip", 16.0, 12.0, 9.0},
};

using geo::dipole_gain_dbi;

constexpr std::array stock_gains{
    BandGain{30.0, 88.0, -14.0, 4.0, Evidence::common_practice},
    BandGain{136.0, 174.0, -4.5, 1.5, Evidence::reported},
    BandGain{200.0, 260.0, -4.0, 2.0, Evidence::common_practice},
    BandGain{380.0, 520.0, -3.0, 2.0, Evidence::reported},
    BandGain{698.0, 960.0, -1.5, 2.0, Evidence::common_practice},
};
constexpr std::array quarter_wave_gains{
    BandGain{30.0, 88.0, -5.0, 3.0, Evidence::common_practice},
    BandGain{136.0, 174.0, -1.0, 2.0, Evidence::common_practice},
    BandGain{200.0, 260.0, -0.5, 2.0, Evidence::common_practice},
    BandGain{380.0, 520.0, 0.0, 2.0, Evidence::common_practice},
    BandGain{698.0, 960.0, 0.0, 2.0, Evidence::common_practice},
};
// Whip and wire make a bent dipole.
constexpr std::array counterpoise_gains{
    BandGain{30.0, 960.0, 1.0, 1.0, Evidence::common_practice},
};
// Four sloping radials; a dipole's gain less what the bent lower half costs.
constexpr std::array ground_plane_gains{
    BandGain{30.0, 960.0, 1.5, 0.5, Evidence::common_practice},
};
// A dipole fed at its end, less the loss of the matching network in its base.
constexpr std::array half_wave_gains{
    BandGain{136.0, 960.0, dipole_gain_dbi - 0.5, 0.5, Evidence::common_practice},
};
constexpr std::array dipole_gains{
    BandGain{30.0, 960.0, dipole_gain_dbi, 0.0, Evidence::theory},
};
// The half wave above the matching stub is what radiates.
constexpr std::array j_pole_gains{
    BandGain{30.0, 960.0, dipole_gain_dbi, 0.5, Evidence::theory},
};

constexpr std::array antenna_table{
    Antenna{"stock", "the short rubber antenna that comes with the radio", stock_gains, true},
    Antenna{"quarter-wave", "quarter-wave whip on the radio, nothing below it", quarter_wave_gains,
            true},
    Antenna{"quarter-wave-counterpoise",
            "quarter-wave whip on the radio with a quarter-wave wire hanging below",
            counterpoise_gains, true},
    Antenna{"ground-plane", "quarter wave over radials on a mast", ground_plane_gains, false},
    Antenna{"half-wave", "telescopic half-wave whip on the radio", half_wave_gains, true},
    Antenna{"dipole", "upright half-wave dipole", dipole_gains, false},
    Antenna{"j-pole", "J-pole, also of twin lead hung from a branch", j_pole_gains, false},
};

template <typename Table>
std::string list_names(const Table& table) {
    std::string text;
    for (const auto& entry : table) {
        text += (text.empty() ? "" : ", ") + std::string(entry.name);
    }
    return text;
}

} // namespace

double body_loss_db(Carried carried, double frequency_mhz) {
    if (!(frequency_mhz >= propagation::lowest_frequency_mhz &&
          frequency_mhz <= propagation::highest_frequency_mhz)) {
        throw_usage(fmt::format("body loss at {} MHz: give a frequency from {} to {} MHz",
                                frequency_mhz, propagation::lowest_frequency_mhz,
                                propagation::highest_frequency_mhz));
    }
    const BodyLoss& loss = body_losses[static_cast<std::size_t>(carried)];
    const double f = std::clamp(frequency_mhz, 150.0, 850.0);
    if (f < 450.0) {
        return std::lerp(loss.at_150_mhz_db, loss.at_450_mhz_db,
                         std::log(f / 150.0) / std::log(450.0 / 150.0));
    }
    return std::lerp(loss.at_450_mhz_db, loss.at_850_mhz_db,
                     std::log(f / 450.0) / std::log(850.0 / 450.0));
}

Carried parse_carried(std::string_view name) {
    const auto loss = std::find_if(body_losses.begin(), body_losses.end(),
                                   [&](const BodyLoss& b) { return b.name == name; });
    if (loss == body_losses.end()) {
        throw_usage(fmt::format("'{}' is no way to carry a radio: give one of {}", name,
                                list_names(body_losses)));
    }
    return static_cast<Carried>(loss - body_losses.begin());
}

std::string_view name_of(Carried carried) {
    return body_losses[static_cast<std::size_t>(carried)].name;
}

std::optional<BandGain> Antenna::gain_at(double frequency_mhz) const {
    const auto band = std::find_if(bands.begin(), bands.end(), [&](const BandGain& b) {
        return frequency_mhz >= b.lowest_mhz && frequency_mhz <= b.highest_mhz;
    });
    return band == bands.end() ? std::nullopt : std::optional(*band);
}

std::span<const Antenna> antennas() {
    return antenna_table;
}

const Antenna& find_antenna(std::string_view name) {
    const Antenna* antenna = named(antenna_table, name);
    if (antenna == nullptr) {
        throw_usage(fmt::format("antenna '{}' is not known; give one of {}, or a gain in dBi", name,
                                list_names(antenna_table)));
    }
    return *antenna;
}

double antenna_gain_dbi(std::string_view name, double frequency_mhz) {
    const std::optional<BandGain> band = find_antenna(name).gain_at(frequency_mhz);
    if (!band) {
        throw_usage(fmt::format("antenna '{}' is not known for {} MHz: give its gain in dBi", name,
                                frequency_mhz));
    }
    return band->gain_dbi;
}

bool is_on_radio(std::string_view name) {
    const Antenna* antenna = named(antenna_table, name);
    return antenna != nullptr && antenna->on_radio;
}

double antenna_loss_db(double gain_dbi) {
    return std::max(0.0, dipole_gain_dbi - gain_dbi);
}

} // namespace earshot::link
