#include "propagation/irregular_terrain/variability.hpp"

#include "propagation/normal_quantile.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace earshot::propagation::irregular {
namespace {

/// A curve over effective distance, equation (5.5): it begins as the square of distance and levels
/// off, with a hump.
struct Curve {
    double level_db, hump_db;
    double rise_km, hump_km, width_km;

    [[nodiscard]] double at_db(double distance_m) const {
        const double d = distance_m / 1000.0;
        const double from_hump = (d - hump_km) / width_km;
        const double risen = d / rise_km * (d / rise_km);
        return (level_db + hump_db / (1.0 + from_hump * from_hump)) * risen / (1.0 + risen);
    }
};

/// A factor that depends on frequency, equation (5.7).
struct Factor {
    double level, hump, width;

    [[nodiscard]] double at(double wave_number_per_m) const {
        const double x = width * std::log(0.133 * wave_number_per_m);
        return level + hump / (1.0 + x * x);
    }
};

/// One column of the table of climates.
struct ClimateTerms {
    Curve median;       ///< V_med
    Curve weak, strong; ///< sigma_T-, sigma_T+: signals below and above the median
    double beyond;      ///< C_D: sigma_TD over sigma_T+, the deviation far beyond z_D
    double knee;        ///< z_D
    Factor weak_factor, strong_factor;
};

constexpr Factor constant{1.0, 0.0, 0.0};

/// From memory of the table in the memo. NTIA's examples are of climates 1, 2, 4 and 5, and mostly
/// of signals above the median; the rest is not held by any.
constexpr std::array<ClimateTerms, 7> climates{{
    {{-9.67, 12.7, 144.9, 190.3, 133.8},
     {2.13, 159.5, 762.2, 123.6, 94.5},
     {2.11, 102.3, 636.9, 134.8, 95.6},
     1.224,
     1.282,
     constant,
     constant},
    {{-0.62, 9.19, 228.9, 205.2, 143.6},
     {2.66, 7.67, 100.4, 172.5, 136.4},
     {6.87, 15.53, 138.7, 143.7, 98.6},
     0.801,
     2.161,
     constant,
     {0.93, 0.31, 2.00}},
    {{1.26, 15.5, 262.6, 185.2, 99.8},
     {6.11, 6.65, 138.2, 242.2, 178.6},
     {10.08, 9.60, 165.3, 225.7, 129.7},
     1.380,
     1.282,
     constant,
     constant},
    {{-9.21, 9.05, 84.1, 101.1, 98.6},
     {1.98, 13.11, 139.1, 132.7, 193.5},
     {3.68, 159.3, 464.4, 93.1, 94.2},
     1.000,
     20.0,
     constant,
     {0.93, 0.19, 1.79}},
    {{-0.62, 9.19, 228.9, 205.2, 143.6},
     {2.68, 7.16, 93.7, 186.8, 133.5},
     {4.75, 8.12, 93.2, 135.9, 113.4},
     1.224,
     1.282,
     {0.92, 0.25, 1.77},
     {0.93, 0.31, 2.00}},
    {{-0.39, 2.86, 141.7, 315.9, 167.4},
     {6.86, 10.38, 187.8, 169.6, 108.9},
     {8.58, 13.97, 216.0, 152.0, 122.7},
     1.518,
     1.282,
     constant,
     constant},
    {{3.15, 857.9, 2222.0, 164.8, 116.3},
     {8.51, 169.8, 609.8, 119.9, 106.6},
     {8.43, 8.19, 136.2, 188.5, 122.9},
     1.518,
     1.282,
     constant,
     constant},
}};

const ClimateTerms& terms_of(Climate climate) {
    return climates[static_cast<std::size_t>(climate) - 1];
}

/// sigma_L, deviation among places, equation (5.9).
double place_deviation_db(const Geometry& geometry, double wave_number_per_m) {
    const double waves = wave_number_per_m * geometry.irregularity_at_m(geometry.distance_m);
    return 10.0 * waves / (waves + 13.0);
}

/// sigma_S, deviation among situations, equation (5.10).
double situation_deviation_db(double effective_distance_m) {
    return 5.0 + 3.0 * std::exp(-effective_distance_m / 100e3);
}

/// Attenuations below free space are bent so that they do not fall without end, equation (5.13).
double bent(double attenuation_db) {
    return attenuation_db >= 0.0
               ? attenuation_db
               : attenuation_db * (29.0 - attenuation_db) / (29.0 - 10.0 * attenuation_db);
}

} // namespace

double effective_distance_m(const Geometry& geometry, double wave_number_per_m) {
    constexpr double radius_m = 9000e3;
    constexpr double reach_m = 130e3;
    double horizons_m = std::cbrt(575.7e12 / wave_number_per_m);
    for (const Terminal& end : geometry.ends) {
        horizons_m += std::sqrt(2.0 * radius_m * end.effective_height_m);
    }
    return geometry.distance_m < horizons_m ? reach_m * geometry.distance_m / horizons_m
                                            : reach_m + geometry.distance_m - horizons_m;
}

double climate_gain_db(Climate climate, double effective_distance_m) {
    return terms_of(climate).median.at_db(effective_distance_m);
}

double time_deviation_db(Climate climate, double effective_distance_m, double wave_number_per_m,
                         double deviate) {
    const ClimateTerms& terms = terms_of(climate);
    if (deviate < 0.0) {
        return terms.weak.at_db(effective_distance_m) * terms.weak_factor.at(wave_number_per_m);
    }
    const double near_db =
        terms.strong.at_db(effective_distance_m) * terms.strong_factor.at(wave_number_per_m);
    if (deviate <= terms.knee) {
        return near_db;
    }
    const double far_db = near_db * terms.beyond;
    return far_db + (near_db - far_db) * terms.knee / deviate;
}

double attenuation_db(const Geometry& geometry, double wave_number_per_m, double reference_db,
                      const Inputs& inputs) {
    const auto deviate = [](double percent) { return normal_exceedance_deviate(percent / 100.0); };
    double z_time = deviate(inputs.time_percent);
    double z_place = deviate(inputs.location_percent);
    const double z_situation = deviate(inputs.situation_percent);
    if (inputs.variability == Variability::single_message) {
        z_time = z_place = z_situation;
    } else if (inputs.variability == Variability::individual) {
        z_place = z_situation;
    } else if (inputs.variability == Variability::mobile) {
        z_place = z_time;
    }
    const double reach_m = effective_distance_m(geometry, wave_number_per_m);
    const double time_db = time_deviation_db(inputs.climate, reach_m, wave_number_per_m, z_time);
    const double place_db =
        inputs.places_vary ? place_deviation_db(geometry, wave_number_per_m) : 0.0;
    const double base_db = inputs.situations_vary ? situation_deviation_db(reach_m) : 0.0;
    const auto square = [](double x) { return x * x; };
    // Equations (5.11) and (5.12): situations differ the more, the rarer the time and the place.
    double spread = square(base_db) + square(time_db * z_time) / (7.8 + square(z_situation)) +
                    square(place_db * z_place) / (24.0 + square(z_situation));
    double gain_db = climate_gain_db(inputs.climate, reach_m);
    switch (inputs.variability) {
    case Variability::single_message:
        spread += square(time_db) + square(place_db);
        break;
    case Variability::individual:
        spread += square(place_db);
        gain_db += time_db * z_time;
        break;
    case Variability::mobile:
        gain_db += std::hypot(time_db, place_db) * z_time;
        break;
    case Variability::broadcast:
        gain_db += time_db * z_time + place_db * z_place;
        break;
    }
    return bent(reference_db - gain_db - std::sqrt(spread) * z_situation);
}

} // namespace earshot::propagation::irregular
