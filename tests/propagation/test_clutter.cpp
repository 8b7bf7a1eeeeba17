#include "earshot/propagation/path_loss.hpp"
#include "propagation/basic.hpp"
#include "propagation/clutter.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>

using namespace earshot;
using namespace earshot::propagation;

namespace {

/// Flat ground 5 km long, a point every 50 m, under what stands on it.
terrain::Profile covered_plain(double cover_m, bool woods = false) {
    terrain::Profile profile;
    for (int k = 0; k <= 100; ++k) {
        profile.distance_km.push_back(0.05 * k);
    }
    profile.ground_m.assign(profile.size(), 200.0);
    profile.cover_m.assign(profile.size(), cover_m);
    profile.woodland.assign(profile.size(), woods ? 1 : 0);
    profile.centre_latitude_deg = 45.0;
    return profile;
}

Conditions uhf_with(Houses houses = Houses::below_roofs) {
    Conditions conditions;
    conditions.frequency_mhz = 446.0;
    conditions.houses = houses;
    return conditions;
}

} // namespace

TEST_CASE("below the roofs: the values of NTIA for ITU-R P.2108-1 section 3.1") {
    // From the test data that accompany NTIA's reference implementation (works of the United States
    // Government), in dB to one decimal, for streets of 27 m: suburban, urban, dense urban.
    CHECK(below_roofs_db(1500.0, 2.0, 10.0) == Approx(20.5).margin(0.05));
    CHECK(below_roofs_db(1500.0, 2.0, 6.0) == Approx(14.6).margin(0.05));
    CHECK(below_roofs_db(1500.0, 2.0, 15.0) == Approx(24.5).margin(0.05));
    CHECK(below_roofs_db(1500.0, 2.0, 20.0) == Approx(27.1).margin(0.05));
    CHECK(below_roofs_db(1700.0, 30.0, 30.0) == 0.0);
    // It dies out as the antenna rises to the roofs.
    CHECK(below_roofs_db(446.0, 9.99, 10.0) < 0.05);
    CHECK(below_roofs_db(446.0, 5.0, 10.0) < below_roofs_db(446.0, 1.5, 10.0));
    CHECK(below_roofs_db(146.0, 1.5, 10.0) < below_roofs_db(446.0, 1.5, 10.0));
}

TEST_CASE("statistical clutter: the values of ITU-R P.2108-1 section 3.2") {
    // NTIA's example: 26.6 GHz, 15.8 km, 45 % of places, 32.5 dB.
    CHECK(statistical_clutter_db(26600.0, 15.8, 45.0) == Approx(32.5).margin(0.05));
    // By hand, 1 GHz and 2 km: L_l = -2 log10(10^-12.5 + 10^-16.5) = 25.00 dB, L_s = 32.98 + 23.9 *
    // 0.30103 = 40.17 dB; -5 log10(10^-5.000 + 10^-8.035) = 24.998 dB.
    CHECK(statistical_clutter_db(1000.0, 2.0) == Approx(24.998).margin(0.002));
    CHECK(statistical_clutter_db(1000.0, 50.0) == statistical_clutter_db(1000.0, 2.0));
    CHECK(statistical_clutter_db(1000.0, 0.25) < statistical_clutter_db(1000.0, 1.0));
    // Below what it is made for it goes on, and never gains.
    CHECK(statistical_clutter_db(146.0, 5.0) ==
          Approx(25.0 + 10.0 * std::log10(0.146)).margin(0.01));
    CHECK(statistical_clutter_db(30.0, 0.001) == 0.0);
}

TEST_CASE("an antenna below the roofs counts from them, and pays for the way down") {
    const AntennaHeights heights{30.0, 1.5};
    const PathLoss street = path_loss(covered_plain(10.0), heights, uhf_with());
    const PathLoss roof = path_loss(covered_plain(0.0), {30.0, 10.0}, uhf_with());
    CHECK(street.tx_houses_db == 0.0);
    CHECK(street.rx_houses_db == Approx(below_roofs_db(446.0, 1.5, 10.0)));
    CHECK(street.basic_loss_db == Approx(roof.basic_loss_db).margin(1e-9));
    CHECK(street.total_db() == Approx(roof.total_db() + street.rx_houses_db).margin(1e-9));
    // Houses as obstacles stand in the way to the last step: much darker.
    const PathLoss blocked = path_loss(covered_plain(10.0), heights, uhf_with(Houses::obstacles));
    CHECK(blocked.rx_houses_db == 0.0);
    CHECK(blocked.total_db() > street.total_db() + 5.0);
    const PathLoss statistical =
        path_loss(covered_plain(10.0), heights, uhf_with(Houses::statistical));
    CHECK(statistical.basic_loss_db == street.basic_loss_db);
    CHECK(statistical.rx_houses_db == Approx(statistical_clutter_db(446.0, 5.0)));
    // Both ways alike, and no jump as the antenna rises past the roofs.
    const PathLoss back = path_loss(covered_plain(10.0), {1.5, 30.0}, uhf_with());
    CHECK(back.total_db() == Approx(street.total_db()).margin(1e-6));
    CHECK(
        path_loss(covered_plain(10.0), {30.0, 9.999}, uhf_with()).total_db() ==
        Approx(path_loss(covered_plain(10.0), {30.0, 10.001}, uhf_with()).total_db()).margin(0.02));
}

TEST_CASE("no cover counts twice") {
    // Woods are the terminal's own loss by P.833 and nothing of P.2108.
    const PathLoss woods = path_loss(covered_plain(15.0, true), {30.0, 1.5}, uhf_with());
    CHECK(woods.rx_woodland_db > 5.0);
    CHECK(woods.rx_houses_db == 0.0);
    // A wood between open ends stands in the way whatever houses do.
    terrain::Profile between = covered_plain(0.0);
    for (std::size_t k = 40; k < 60; ++k) {
        between.cover_m[k] = 15.0;
        between.woodland[k] = 1;
    }
    const double as_told_db = path_loss(between, {5.0, 1.5}, uhf_with()).total_db();
    CHECK(as_told_db == path_loss(between, {5.0, 1.5}, uhf_with(Houses::obstacles)).total_db());
    CHECK(as_told_db > path_loss(covered_plain(0.0), {5.0, 1.5}, uhf_with()).total_db() + 3.0);
    // Over a surface that holds it already, it adds nothing to the height ...
    between.surface = true;
    CHECK(path_loss(between, {5.0, 1.5}, uhf_with()).total_db() ==
          path_loss(covered_plain(0.0), {5.0, 1.5}, uhf_with()).total_db());
    // ... while terminals still lose what it costs to be in it.
    terrain::Profile wide = covered_plain(15.0, true);
    wide.surface = true;
    const PathLoss below_tops = path_loss(wide, {30.0, 1.5}, uhf_with());
    CHECK(below_tops.rx_woodland_db == Approx(woods.rx_woodland_db));
    terrain::Profile town = covered_plain(10.0);
    town.surface = true;
    const PathLoss in_street = path_loss(town, {30.0, 1.5}, uhf_with());
    CHECK(in_street.rx_houses_db == Approx(below_roofs_db(446.0, 1.5, 10.0)));
    CHECK(in_street.basic_loss_db ==
          Approx(path_loss(covered_plain(0.0), {30.0, 1.5}, uhf_with()).basic_loss_db));
}
