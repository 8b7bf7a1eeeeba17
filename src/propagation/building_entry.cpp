#include "propagation/building_entry.hpp"

#include "earshot/base/error.hpp"
#include "propagation/basic.hpp"
#include "propagation/normal_quantile.hpp"

#include <fmt/format.h>

#include <cmath>

namespace earshot::propagation {
namespace {

// P.2109-2 table 1, in the order of its columns r to z.
struct Coefficients {
    double r, s, t, u, v, w, x, y, z;
};

constexpr Coefficients coefficients(BuildingType type) {
    return type == BuildingType::traditional
               ? Coefficients{12.64, 3.72, 0.96, 9.6, 2.0, 9.1, -3.0, 4.5, -2.0}
               : Coefficients{28.19, -3.00, 8.48, 13.5, 3.8, 27.8, -2.9, 9.4, -2.1};
}

void require_between(double value, double low, double high, const char* what) {
    if (!(value >= low && value <= high)) {
        throw_usage(fmt::format("{} is {}: give a value from {} to {}", what, value, low, high));
    }
}

double power_ratio(double level_db) {
    return std::pow(10.0, level_db / 10.0);
}

} // namespace

double building_entry_loss_db(BuildingType type, double frequency_mhz, double probability,
                              double elevation_deg) {
    require_between(frequency_mhz, lowest_frequency_mhz, 100e3, "frequency in MHz");
    require_between(probability, 1e-6, 1.0 - 1e-6, "building entry loss probability");
    require_between(elevation_deg, -90.0, 90.0, "elevation at the building in degrees");
    const Coefficients c = coefficients(type);
    const double log_f = std::log10(frequency_mhz / 1000.0);
    const double horizontal_db = c.r + c.s * log_f + c.t * log_f * log_f;
    const double elevation_db = 0.212 * std::abs(elevation_deg);
    const double deviate = -normal_exceedance_deviate(probability);
    const double through_wall_db = deviate * (c.u + c.v * log_f) + horizontal_db + elevation_db;
    const double other_ways_db = deviate * (c.y + c.z * log_f) + c.w + c.x * log_f;
    return 10.0 * std::log10(power_ratio(through_wall_db) + power_ratio(other_ways_db) +
                             power_ratio(-3.0));
}

BuildingEntry building_entry(BuildingType type, double frequency_mhz, double elevation_deg) {
    constexpr double one_deviation = 0.841344746; // normal distribution function at 1
    const auto at = [&](double probability) {
        return building_entry_loss_db(type, frequency_mhz, probability, elevation_deg);
    };
    return {at(0.5), (at(one_deviation) - at(1.0 - one_deviation)) / 2.0};
}

} // namespace earshot::propagation
