#include "propagation/clutter.hpp"

#include "propagation/knife_edge.hpp"
#include "propagation/normal_quantile.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace earshot::propagation {
namespace {

constexpr std::array rules{
    HousesInfo{Houses::below_roofs, "below-roofs"},
    HousesInfo{Houses::statistical, "statistical"},
    HousesInfo{Houses::obstacles, "obstacles"},
};

} // namespace

std::span<const HousesInfo> house_rules() {
    return rules;
}

std::string_view name_of(Houses houses) {
    return std::find_if(rules.begin(), rules.end(),
                        [houses](const HousesInfo& rule) { return rule.houses == houses; })
        ->name;
}

double below_roofs_db(double frequency_mhz, double antenna_m, double roofs_m) {
    constexpr double street_m = 27.0; // w_s
    if (antenna_m >= roofs_m) {
        return 0.0;
    }
    const double below_m = roofs_m - antenna_m;
    const double steepness_deg = std::atan(below_m / street_m) * 180.0 / std::numbers::pi;
    const double nu =
        0.342 * std::sqrt(frequency_mhz / 1000.0) * std::sqrt(below_m * steepness_deg);
    // J(0) is 6.03 dB: what an edge at the height of the antenna costs is in the path already.
    return std::max(0.0, knife_edge_loss_db(nu, KnifeEdgeForm::itu) - 6.03);
}

double statistical_clutter_db(double frequency_mhz, double distance_km, double places_percent) {
    const double log_ghz = std::log10(frequency_mhz / 1000.0);
    constexpr double full_km = 2.0; // from where on it grows no more, equation (6)
    const double long_db =
        -2.0 * std::log10(std::pow(10.0, -5.0 * log_ghz - 12.5) + std::pow(10.0, -16.5));
    const double short_db =
        32.98 + 23.9 * std::log10(std::min(distance_km, full_km)) + 3.0 * log_ghz;
    const double long_share = std::pow(10.0, -0.2 * long_db);
    const double short_share = std::pow(10.0, -0.2 * short_db);
    constexpr double long_deviation_db = 4.0;
    constexpr double short_deviation_db = 6.0;
    const double deviation_db = std::sqrt((long_deviation_db * long_deviation_db * long_share +
                                           short_deviation_db * short_deviation_db * short_share) /
                                          (long_share + short_share));
    return std::max(0.0, -5.0 * std::log10(long_share + short_share) -
                             deviation_db * normal_exceedance_deviate(places_percent / 100.0));
}

bool below_roofs(Houses houses, const AmongHouses& terminal) {
    return houses != Houses::obstacles && terminal.antenna_m < terminal.roofs_m;
}

double path_height_m(Houses houses, const AmongHouses& terminal) {
    return below_roofs(houses, terminal) ? terminal.roofs_m : terminal.antenna_m;
}

double houses_db(const Conditions& conditions, const AmongHouses& terminal, double distance_km) {
    if (!below_roofs(conditions.houses, terminal)) {
        return 0.0;
    }
    return conditions.houses == Houses::statistical
               ? statistical_clutter_db(conditions.frequency_mhz, distance_km)
               : below_roofs_db(conditions.frequency_mhz, terminal.antenna_m, terminal.roofs_m);
}

} // namespace earshot::propagation
