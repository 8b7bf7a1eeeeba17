#include "earshot/propagation/path_loss.hpp"
#include "propagation/basic.hpp"
#include "propagation/low_antenna.hpp"
#include "propagation/p1812.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <array>
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
            // All for an earth of 4/3 of its radius, as NTIA's model takes it.
            Conditions standard_air = conditions_of(Method::short_range, f);
            standard_air.refractivity.delta_n = 157.0 / 4.0;
            const double here = path_loss(flat(d_km), {1.5, 1.5}, standard_air).total_db();
            std::array<double, 3> others{
                plane_earth_db(d_km, 1.5), egli_db(d_km, 1.5, f),
                loss_db(flat(d_km), {1.5, 1.5}, Method::irregular_terrain, f)};
            std::sort(others.begin(), others.end());
            CAPTURE(d_km, f, others[0], others[1], others[2]);
            CHECK(here == Approx(others[1]).margin(4.0).epsilon(0.0));
        }
    }
}

TEST_CASE("behind a ridge a low antenna gains by height what P.1546 says at most",
          "[short-range]") {
    // ITU-R P.1546-6 annex 5 section 9 (from memory): 3.2 + 6.2 log f dB per decade of height up to
    // 10 m over open country. The standard's edges alone give next to nothing.
    const auto behind = [](double ridge_m) {
        return ground_of(10.0, [=](double d) {
            return 100.0 + ridge_m * std::max(0.0, 1.0 - std::abs(d - 5.0));
        });
    };
    for (const double f : {146.0, 446.0}) {
        const double most_db = (3.2 + 6.2 * std::log10(f)) * std::log10(10.0 / 1.5);
        const auto gain_db = [&](double ridge_m, Method method) {
            return loss_db(behind(ridge_m), {1.5, 1.5}, method, f) -
                   loss_db(behind(ridge_m), {1.5, 10.0}, method, f);
        };
        CAPTURE(f);
        CHECK(gain_db(40.0, Method::p1812) < 2.0);
        CHECK(gain_db(40.0, Method::short_range) > 0.6 * most_db);
        CHECK(gain_db(40.0, Method::short_range) < most_db + 2.0);
        // The steeper the wave comes down, the less the ground matters.
        CHECK(gain_db(300.0, Method::short_range) < 0.3 * most_db);
        CHECK(gain_db(300.0, Method::short_range) > -0.1);
        // Two rays by hand: a wave that grazes the top of a ridge 40 m high 5 km away comes in at
        // 8 mrad; an antenna 6 m up acts at hypot(6, 1.57) m (146 MHz, vertical): field
        // 4 pi 6.20 / 2.053 x 0.008 = 0.30, 10.4 dB, but by P.1546 no more than 3.7 dB.
        const LowAntenna low = low_antenna(6.0, 146.0, Polarization::vertical);
        CHECK(low.field_per_slope * 8.0 == Approx(0.3037).epsilon(0.01));
        CHECK(ground_beside_db(low, 8.0) == Approx(16.62 * std::log10(10.0 / 6.0)).epsilon(0.01));
        CHECK(ground_beside_db(low, 30.0) == 0.0);
    }
}

TEST_CASE("the least effective height of an antenna is Bullington's", "[short-range]") {
    // By hand at 146 MHz over P.1812's land: lambda 2.0534 m, permittivity 22 - j 0.36986, so
    // lambda / (2 pi sqrt|eps - 1|) = 0.07131 m across, times |eps| = 22.003 upright.
    CHECK(least_effective_height_m(146.0, land_ground, Polarization::horizontal) ==
          Approx(0.07131).epsilon(1e-3));
    CHECK(least_effective_height_m(146.0, land_ground, Polarization::vertical) ==
          Approx(1.569).epsilon(1e-3));
}

TEST_CASE("high antennas and far ones lose what the standard says", "[short-range]") {
    // From 10 m up there is no ground beside, and from 100 km on scatter counts as in P.1812.
    const auto hills = ground_of(120.0, [](double d) { return 80.0 * std::sin(d) + 90.0; });
    for (const double f : {146.0, 446.0}) {
        CHECK(loss_db(hills, {10.0, 12.0}, Method::short_range, f) ==
              loss_db(hills, {10.0, 12.0}, Method::p1812, f));
    }
    // Just short of that it fades, and nothing jumps.
    const auto at = [](double d_km) {
        return loss_db(flat(d_km), {10.0, 10.0}, Method::short_range);
    };
    CHECK(at(99.95) == Approx(at(100.05)).margin(0.2));
    CHECK(at(70.0) > loss_db(flat(70.0), {10.0, 10.0}, Method::p1812) + 10.0);
}

TEST_CASE("a ridge that grows never makes the loss jump", "[short-range]") {
    for (const double f : {146.0, 446.0}) {
        double before_db = 0.0;
        for (int k = 0; k <= 600; ++k) {
            const double ridge_m = 0.25 * k;
            const auto profile = ground_of(10.0, [=](double d) {
                return 100.0 + ridge_m * std::max(0.0, 1.0 - std::abs(d - 4.0) / 2.0);
            });
            const double now_db = loss_db(profile, {1.5, 1.5}, Method::short_range, f);
            CHECK(loss_db(terrain::Profile(profile), {1.5, 1.5}, Method::short_range, f) == now_db);
            CAPTURE(f, ridge_m, before_db, now_db);
            if (k > 0) {
                CHECK(std::abs(now_db - before_db) < 1.5);
            }
            before_db = now_db;
        }
    }
}

TEST_CASE("in woods the loss falls all the way from the ground to above the tops",
          "[short-range]") {
    terrain::Profile woods = flat(4.0);
    woods.cover_m.assign(woods.size(), 16.0);
    woods.woodland.assign(woods.size(), 1);
    for (const double f : {146.0, 446.0}) {
        const auto at = [&](double height_m) {
            return path_loss(woods, {height_m, height_m}, conditions_of(Method::short_range, f));
        };
        double before_db = at(0.2).total_db();
        for (int k = 3; k <= 400; ++k) {
            const PathLoss now = at(0.1 * k);
            CAPTURE(f, 0.1 * k, before_db, now.total_db());
            CHECK(now.total_db() <= before_db + 0.05);
            CHECK(now.total_db() > before_db - 6.0);
            CHECK(now.total_db() >= now.basic_loss_db);
            before_db = now.total_db();
        }
        // Well above the tops all of the height counts.
        CHECK(at(40.0).total_db() ==
              Approx(path_loss(flat(4.0), {40.0, 40.0}, conditions_of(Method::short_range, f))
                         .total_db()));
    }
    // Below them height is worth a fraction of what it is over open ground.
    const auto gain_db = [](const terrain::Profile& profile) {
        return loss_db(profile, {1.5, 1.5}, Method::short_range) -
               loss_db(profile, {6.0, 6.0}, Method::short_range);
    };
    CHECK(gain_db(woods) < 0.5 * gain_db(flat(4.0)));
    CHECK(gain_db(woods) > 4.0);
    // Tamir's lateral wave (IEEE Trans. AP-15, 1967) against P.833 and the ground together. From
    // antennas at the tops the wave runs as over a plane earth under antennas of h0 = 1.03 m, and
    // is weakened by 0.517 dB for each of 14.5 m on the way up and down.
    const double lateral_db = 40.0 * std::log10(4000.0 / 1.03) + 2.0 * 14.5 * 0.517;
    CHECK(loss_db(woods, {1.5, 1.5}, Method::short_range) == Approx(lateral_db).margin(4.0));
}

TEST_CASE("a short-range path knows what the standard would say", "[short-range]") {
    const auto ridge =
        ground_of(8.0, [](double d) { return 100.0 + (std::abs(d - 3.0) < 0.1 ? 40.0 : 0.0); });
    for (const double time_percent : {50.0, 10.0}) {
        Conditions conditions;
        conditions.time_percent = time_percent;
        const PathLoss loss = path_loss(ridge, {1.5, 2.0}, conditions);
        conditions.method = Method::p1812;
        const PathLoss pure = path_loss(ridge, {1.5, 2.0}, conditions);
        CHECK(standard_loss_db(loss) == Approx(pure.total_db()).margin(1e-9));
        CHECK(standard_loss_db(pure) == pure.total_db());
        CHECK(std::abs(loss.total_db() - pure.total_db()) > 3.0);
    }
}
