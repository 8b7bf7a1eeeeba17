#include "earshot/propagation/path_loss.hpp"
#include "propagation/basic.hpp"
#include "propagation/low_antenna.hpp"
#include "propagation/p1812.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <functional>

using namespace earshot;
using namespace earshot::propagation;

namespace {

/// Invented ground, a point every 50 m.
terrain::Profile ground_of(double length_km, const std::function<double(double)>& height_m) {
    terrain::Profile profile;
    const int parts = static_cast<int>(std::ceil(length_km / 0.05));
    for (int i = 0; i <= parts; ++i) {
        const double d = length_km * i / parts;
        profile.distance_km.push_back(d);
        profile.ground_m.push_back(height_m(d));
        profile.cover_m.push_back(0.0);
    }
    profile.centre_latitude_deg = 36.0;
    return profile;
}

terrain::Profile flat(double length_km) {
    return ground_of(length_km, [](double) { return 100.0; });
}

Conditions conditions_of(Method method, double frequency_mhz) {
    Conditions conditions;
    conditions.method = method;
    conditions.frequency_mhz = frequency_mhz;
    return conditions;
}

double loss_db(const terrain::Profile& profile, AntennaHeights heights, Method method,
               double frequency_mhz = 146.0) {
    return path_loss(profile, heights, conditions_of(method, frequency_mhz)).total_db();
}

/// A plane earth (Bullington 1947; ITU-R P.1411, its limit at a distance): 40 log d - 20 log h1 h2.
double plane_earth_db(double d_km, double height_m) {
    return 40.0 * std::log10(1000.0 * d_km) - 40.0 * std::log10(height_m);
}

/// Egli, "Radio propagation above 40 Mc over irregular terrain", Proc. IRE 45 (1957): the median
/// over rolling country, 76.3 + 40 log d + 20 log f - 20 log h1 - 10 log h2, the lower antenna h2
/// below 10 m (from memory).
double egli_db(double d_km, double height_m, double frequency_mhz) {
    return 76.3 + 40.0 * std::log10(d_km) + 20.0 * std::log10(frequency_mhz) -
           30.0 * std::log10(height_m);
}

} // namespace

TEST_CASE("over flat ground small radios lose what plane earth and its kin say", "[short-range]") {
    for (const double d_km : {0.5, 1.0, 2.0, 3.0, 5.0, 7.0, 10.0}) {
        for (const double f : {146.0, 446.0}) {
            const double here = loss_db(flat(d_km), {1.5, 1.5}, Method::short_range, f);
            const double pure = loss_db(flat(d_km), {1.5, 1.5}, Method::p1812, f);
            WARN(d_km << " km " << f << " MHz: " << here << " p1812 " << pure << " plane "
                      << plane_earth_db(d_km, 1.5) << " egli " << egli_db(d_km, 1.5, f));
        }
    }
}

TEST_CASE("height behind a ridge", "[short-range]") {
    for (const double f : {146.0, 446.0}) {
        for (const double ridge_m : {40.0, 100.0, 300.0}) {
            const auto hill = ground_of(10.0, [&](double d) {
                return 100.0 + ridge_m * std::max(0.0, 1.0 - std::abs(d - 5.0) / 1.0);
            });
            for (const Method m : {Method::p1812, Method::short_range}) {
                WARN(f << " MHz ridge " << ridge_m << " " << method_info(m).name << ": 1.5 m "
                       << loss_db(hill, {1.5, 1.5}, m, f) << " 6 m "
                       << loss_db(hill, {1.5, 6.0}, m, f) << " 10 m "
                       << loss_db(hill, {1.5, 10.0}, m, f) << " 30 m "
                       << loss_db(hill, {1.5, 30.0}, m, f));
            }
        }
    }
}

TEST_CASE("in the woods", "[short-range]") {
    auto profile = flat(4.0);
    profile.cover_m.assign(profile.size(), 16.0);
    profile.woodland.assign(profile.size(), 1);
    for (const double f : {146.0, 446.0}) {
        for (const double h : {0.5, 1.5, 3.0, 5.0, 6.0, 10.0, 14.0, 15.0, 15.9, 16.0, 16.1, 17.0,
                               20.0, 25.0, 30.0}) {
            const auto l = path_loss(profile, {h, h}, conditions_of(Method::short_range, f));
            WARN(f << " " << h << " m: " << l.total_db() << " basic " << l.basic_loss_db
                   << " woods " << l.tx_woodland_db);
        }
    }
}
