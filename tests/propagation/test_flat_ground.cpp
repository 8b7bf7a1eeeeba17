// Not run with the others: prints what the models say of two handhelds on a plain.
//
//     build/release/tests/propagation/test_propagation "[flat]"

#include "earshot/propagation/path_loss.hpp"
#include "propagation/basic.hpp"

#include <catch2/catch.hpp>
#include <fmt/format.h>

#include <cmath>
#include <string>

using namespace earshot;
using namespace earshot::propagation;

namespace {

constexpr double antenna_m = 1.5;

double model_db(double length_km, double frequency_mhz, Polarization polarization, Method method) {
    terrain::Profile profile;
    constexpr double step_km = 0.03;
    for (double d = 0.0; d < length_km - 1e-9; d += step_km) {
        profile.distance_km.push_back(d);
    }
    profile.distance_km.push_back(length_km);
    profile.ground_m.assign(profile.distance_km.size(), 200.0);
    profile.cover_m.assign(profile.distance_km.size(), 0.0);
    profile.centre_latitude_deg = 45.0;
    Conditions conditions;
    conditions.frequency_mhz = frequency_mhz;
    conditions.polarization = polarization;
    conditions.method = method;
    return path_loss(profile, {antenna_m, antenna_m}, conditions).basic_loss_db;
}

/// 40 log d - 20 log (h1 h2), d and h in m (K. Bullington, Proc. IRE 35, 1947).
double plane_earth_db(double length_km) {
    return 40.0 * std::log10(1000.0 * length_km) - 40.0 * std::log10(antenna_m);
}

/// J. J. Egli, "Radio propagation above 40 Mc over irregular terrain", Proc. IRE 45 (1957), in the
/// form with km and MHz for an antenna below 10 m, from memory; both antennas are far lower than
/// those it was made from.
double egli_db(double length_km, double frequency_mhz) {
    return 76.3 + 20.0 * std::log10(frequency_mhz) + 40.0 * std::log10(length_km) -
           20.0 * std::log10(antenna_m) - 10.0 * std::log10(antenna_m);
}

} // namespace

TEST_CASE("two handhelds at 1.5 m on level bare ground, by every account", "[.][flat]") {
    std::string text =
        fmt::format("\n{:>5} {:>6} {:>11} {:>12} {:>7} {:>23} {:>16}\n", "MHz", "km", "free space",
                    "plane earth", "Egli", "irregular terrain (v/h)", "P.1812 (v/h)");
    for (const double frequency_mhz : {146.0, 446.0}) {
        for (const double length_km : {0.5, 1.0, 2.0, 3.0, 5.0, 7.0, 10.0}) {
            const auto both = [&](Method method) {
                return fmt::format(
                    "{:.1f} / {:.1f}",
                    model_db(length_km, frequency_mhz, Polarization::vertical, method),
                    model_db(length_km, frequency_mhz, Polarization::horizontal, method));
            };
            text +=
                fmt::format("{:>5} {:>6} {:>11.1f} {:>12.1f} {:>7.1f} {:>23} {:>16}\n",
                            frequency_mhz, length_km, free_space_loss_db(length_km, frequency_mhz),
                            plane_earth_db(length_km), egli_db(length_km, frequency_mhz),
                            both(Method::irregular_terrain), both(Method::p1812));
        }
    }
    fmt::print("{}", text);
}
