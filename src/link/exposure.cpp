#include "link/exposure.hpp"

#include "earshot/base/error.hpp"
#include "geo/units.hpp"
#include "propagation/basic.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace earshot::link {
namespace {

double factor_of(GroundReflection reflection) {
    switch (reflection) {
    case GroundReflection::none:
        return 1.0;
    case GroundReflection::typical:
        return 1.6 * 1.6;
    default:
        return 2.0 * 2.0;
    }
}

void require(bool sound, const char* what, double value) {
    if (!sound) {
        throw_usage(fmt::format("exposure: {} cannot be {:g}", what, value));
    }
}

double fcc_limit_w_m2(double frequency_mhz) {
    return std::clamp(frequency_mhz / 150.0, 2.0, 10.0);
}

double icnirp_limit_w_m2(double frequency_mhz) {
    return std::clamp(frequency_mhz / 200.0, 2.0, 10.0);
}

} // namespace

double distance_of_density_m(double eirp_w, double density_w_m2, GroundReflection reflection) {
    require(eirp_w >= 0.0, "a radiated power in W", eirp_w);
    require(density_w_m2 > 0.0, "a power density in W/m2", density_w_m2);
    return std::sqrt(factor_of(reflection) * eirp_w / (4.0 * std::numbers::pi * density_w_m2));
}

double public_exposure_limit_w_m2(double frequency_mhz) {
    require(frequency_mhz >= propagation::lowest_frequency_mhz &&
                frequency_mhz <= propagation::highest_frequency_mhz,
            "a frequency in MHz", frequency_mhz);
    return std::min(fcc_limit_w_m2(frequency_mhz), icnirp_limit_w_m2(frequency_mhz));
}

double exposure_distance_m(const Radio& radio, double frequency_mhz) {
    const double eirp_dbm = radio.power_dbm - radio.feeder_loss_db + radio.antenna_gain_dbi;
    return distance_of_density_m(geo::watts_from_dbm(eirp_dbm),
                                 public_exposure_limit_w_m2(frequency_mhz), GroundReflection::full);
}

} // namespace earshot::link
