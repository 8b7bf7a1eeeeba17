#include "earshot/base/error.hpp"
#include "propagation/irregular_terrain.hpp"
#include "propagation/irregular_terrain/attenuation.hpp"
#include "propagation/irregular_terrain/geometry.hpp"
#include "propagation/irregular_terrain/variability.hpp"
#include "propagation/normal_quantile.hpp"

#include <fmt/format.h>

#include <cmath>
#include <limits>

namespace earshot::propagation::irregular {
namespace {

void require_between(double value, double low, double high, const char* what, const char* unit) {
    if (!(value >= low && value <= high)) {
        throw_usage(fmt::format("{} is {:g} {}: give a value from {:g} to {:g} {}", what, value,
                                unit, low, high, unit));
    }
}

void validate(AntennaHeights heights, const Inputs& inputs) {
    require_between(heights.transmitter_m, 0.0, 20e3, "transmitter height", "m");
    require_between(heights.receiver_m, 0.0, 20e3, "receiver height", "m");
    require_between(inputs.frequency_mhz, 20.0, 20000.0, "frequency", "MHz");
    require_between(inputs.sea_level_refractivity, 100.0, 600.0, "refractivity at sea level",
                    "N-units");
    require_between(inputs.ground.relative_permittivity, 1.0001, 100.0,
                    "permittivity of the ground", "(relative)");
    require_between(inputs.ground.conductivity_s_m, 0.0, 100.0, "conductivity of the ground",
                    "S/m");
    require_between(inputs.time_percent, 0.01, 99.99, "share of time", "%");
    require_between(inputs.location_percent, 0.01, 99.99, "share of places", "%");
    require_between(inputs.situation_percent, 0.01, 99.99, "share of situations", "%");
}

void warn_outside(std::vector<std::string>& list, double value, double low, double high,
                  std::string_view what, std::string_view unit) {
    if (value < low || value > high) {
        list.push_back(fmt::format("{} of {:g} {} is outside the range from {:g} to {:g} {} that "
                                   "the irregular terrain model was made for",
                                   what, value, unit, low, high, unit));
    }
}

void warn_of_path(std::vector<std::string>& list, const Geometry& geometry, const Wave& wave) {
    warn_outside(list, geometry.distance_m / 1000.0, 1.0, 2000.0, "path length", "km");
    warn_outside(list, geometry.surface_refractivity, 250.0, 400.0, "refractivity at the ground",
                 "N-units");
    const auto& [a, b] = geometry.ends;
    if (geometry.distance_m < std::abs(a.effective_height_m - b.effective_height_m) / 0.2) {
        list.emplace_back("path is so steep that the irregular terrain model's small angles do "
                          "not hold");
    }
    for (const std::size_t end : {0U, 1U}) {
        const Terminal& terminal = geometry.ends[end];
        const char* who = end == 0 ? "transmitter" : "receiver";
        if (std::abs(terminal.horizon_elevation_rad) > 0.2) {
            list.push_back(fmt::format("{}'s horizon is {:.0f} mrad from level; the irregular "
                                       "terrain model was made for 200 mrad at most",
                                       who, 1000.0 * terminal.horizon_elevation_rad));
        }
        const double share = terminal.horizon_m / geometry.smooth_horizon_m(end);
        if (share < 0.1 || share > 3.0) {
            list.push_back(fmt::format("{}'s horizon is {:.2g} times as far as over smooth ground; "
                                       "the irregular terrain model was made for 0.1 to 3 times",
                                       who, share));
        }
    }
    if (wave.ground.real() <= std::abs(wave.ground.imag())) {
        list.emplace_back("the ground conducts so well at this frequency that the irregular "
                          "terrain model's reflections do not hold");
    }
}

bool within_limits(AntennaHeights heights, const Geometry& geometry) {
    const auto between = [](double value, double low, double high) {
        return value >= low && value <= high;
    };
    return between(heights.transmitter_m, 0.5, 3000.0) &&
           between(heights.receiver_m, 0.5, 3000.0) && between(geometry.distance_m, 1e3, 2000e3) &&
           between(geometry.surface_refractivity, 250.0, 400.0);
}

void warn_of_shares(std::vector<std::string>& list, const Inputs& inputs) {
    for (const double percent :
         {inputs.time_percent, inputs.location_percent, inputs.situation_percent}) {
        if (std::abs(normal_exceedance_deviate(percent / 100.0)) > 3.1) {
            list.push_back(fmt::format("a share of {:g} % is farther out than the irregular "
                                       "terrain model's statistics reach (0.1 to 99.9 %)",
                                       percent));
        }
    }
}

} // namespace

std::string_view mechanism_name(Mechanism mechanism) {
    switch (mechanism) {
    case Mechanism::line_of_sight:
        return "line of sight";
    case Mechanism::diffraction:
        return "diffraction";
    case Mechanism::scatter:
        return "scatter";
    }
    return "";
}

std::vector<std::string> warnings(double frequency_mhz, AntennaHeights heights) {
    std::vector<std::string> list;
    // Nearer to the ends than this, the model's own limits warn of caution alone.
    warn_outside(list, frequency_mhz, 40.0, 10000.0, "frequency", "MHz");
    warn_outside(list, heights.transmitter_m, 1.0, 1000.0, "transmitter height", "m");
    warn_outside(list, heights.receiver_m, 1.0, 1000.0, "receiver height", "m");
    for (const double height_m : {heights.transmitter_m, heights.receiver_m}) {
        if (height_m < 0.5) {
            list.push_back(fmt::format("an antenna at {:g} m counts as one at 0.5 m, the lowest "
                                       "that the irregular terrain model takes",
                                       height_m));
        }
    }
    return list;
}

Inputs inputs_of(const Conditions& conditions) {
    Inputs inputs;
    inputs.frequency_mhz = conditions.frequency_mhz;
    inputs.sea_level_refractivity = conditions.refractivity.n0;
    inputs.polarization = conditions.polarization;
    inputs.time_percent = conditions.time_percent;
    inputs.situation_percent = conditions.location_percent;
    return inputs;
}

namespace {

/// All of a result but its words.
Result numbers(const Geometry& geometry, AntennaHeights heights, const Inputs& inputs,
               const Wave& wave) {
    Result result;
    result.geometry = geometry;
    const Reference reference = reference_attenuation(geometry, wave);
    result.mechanism = reference.mechanism;
    result.reference_db = reference.attenuation_db;
    result.free_space_db = 32.45 + 20.0 * std::log10(inputs.frequency_mhz) +
                           20.0 * std::log10(geometry.distance_m / 1000.0);
    result.attenuation_db =
        attenuation_db(geometry, wave.number_per_m, result.reference_db, inputs);
    result.loss_db = result.free_space_db + result.attenuation_db;
    result.within_limits = within_limits(heights, geometry);
    return result;
}

} // namespace

Result predict(std::span<const double> distance_km, std::span<const double> ground_m,
               AntennaHeights heights, const Inputs& inputs) {
    validate(heights, inputs);
    check(distance_km, ground_m);
    const Wave wave = wave_over(inputs.ground, inputs.frequency_mhz, inputs.polarization);
    Result result = numbers(analyse(distance_km, ground_m, heights, inputs.sea_level_refractivity),
                            heights, inputs, wave);
    result.warnings = warnings(inputs.frequency_mhz, heights);
    warn_of_path(result.warnings, result.geometry, wave);
    warn_of_shares(result.warnings, inputs);
    return result;
}

MapModel::MapModel(AntennaHeights heights, const Inputs& inputs)
    : heights_(heights), inputs_(inputs),
      wave_(wave_over(inputs.ground, inputs.frequency_mhz, inputs.polarization)) {}

AntennaHeights MapModel::counted_heights() const {
    return counted(heights_);
}

double MapModel::loss_db(std::span<const double> distance_km,
                         std::span<const double> ground_m) const {
    try {
        return loss_db(analyse(distance_km, ground_m, heights_, inputs_.sea_level_refractivity));
    } catch (const Error& refused) { // air that the model does not take
        if (refused.fault() != Fault::usage) {
            throw;
        }
        return std::numeric_limits<double>::quiet_NaN();
    }
}

double MapModel::loss_db(const Geometry& geometry) const {
    return within_limits(heights_, geometry) ? numbers(geometry, heights_, inputs_, wave_).loss_db
                                             : std::numeric_limits<double>::quiet_NaN();
}

} // namespace earshot::propagation::irregular
