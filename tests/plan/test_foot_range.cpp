#include "coverage/ground.hpp"
#include "earshot/base/error.hpp"
#include "earshot/link/path.hpp"
#include "plan/foot_range.hpp"
#include "report/say/plan_words.hpp"
#include "setting.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>

using namespace earshot;
using namespace earshot::plan;

namespace {

FootRequest request_of(double step_m, double range_m, int directions) {
    FootRequest request;
    request.step_m = step_m;
    request.range_m = range_m;
    request.directions = directions;
    return request;
}

/// Losses made up by hand: 100 dB is a contact for the radios below, 200 dB is none.
FootLosses made_up(const std::vector<std::vector<int>>& contacts) {
    FootLosses losses;
    losses.spacing_m = 100.0;
    losses.range_m = 2000.0;
    for (std::size_t r = 0; r < contacts.size(); ++r) {
        FootRadial radial;
        radial.bearing_deg = 360.0 * static_cast<double>(r) / static_cast<double>(contacts.size());
        for (const int contact : contacts[r]) {
            radial.out_db.push_back(contact != 0 ? 100.0F : 200.0F);
            radial.back_db.push_back(contact != 0 ? 100.0F : 200.0F);
        }
        losses.radials.push_back(std::move(radial));
    }
    return losses;
}

} // namespace

TEST_CASE("the reach of a direction forgives a dip but not a desert", "[foot_range]") {
    // Four directions of 20 points: all; the first five; a dip of one in twelve; a hilltop far off.
    const std::vector<int> all(20, 1);
    std::vector<int> five(20, 0);
    std::fill_n(five.begin(), 5, 1);
    std::vector<int> dip(20, 0);
    std::fill_n(dip.begin(), 12, 1);
    dip[9] = 0;
    std::vector<int> hilltop(20, 0);
    std::fill_n(hilltop.begin(), 2, 1);
    hilltop[18] = 1;
    const FootRange range = foot_range(made_up({all, five, dip, hilltop}), {}, {}, 0.0);
    CHECK(range.reaches[0].reach_m == 2000.0);
    CHECK(range.reaches[0].to_the_end);
    CHECK(range.reaches[1].reach_m == 500.0);
    CHECK_FALSE(range.reaches[1].to_the_end);
    CHECK(range.reaches[2].reach_m == 1200.0);
    CHECK(range.reaches[2].unbroken_m == 900.0);
    CHECK(range.reaches[3].reach_m == 200.0);
    CHECK(range.reaches[3].farthest_m == 1900.0);
    // Sorted 2000, 1200, 500, 200: half reach 1200, three quarters 500, one quarter 2000.
    CHECK(range.typical_m == 1200.0);
    CHECK(range.quarter_m == 500.0);
    CHECK(range.three_quarters_m == 2000.0);
    CHECK_THAT(report::range_words(range), Catch::Contains("half of directions reach 1.2 km") &&
                                               Catch::Contains("best 2 km or more north") &&
                                               Catch::Contains("worst 200 m west"));
    // Without a gap 2000, 900, 500, 200: half reach 900. The hilltop is the farthest but one.
    CHECK(range.typical_unbroken_m == 900.0);
    CHECK_THAT(report::range_words(range),
               Catch::Contains("without any gap half reach 900 m, and the worst 200 m west (270 "
                               "deg)") &&
                   Catch::Contains("farthest contact 2 km or more north (0 deg)"));
    // Each point of a direction stands for a quarter ring of 100 m.
    const double rings = 20 * 21 / 2 + 15 + (12 * 13 / 2 - 10) + (3 + 19);
    CHECK(range.area_km2 == Approx(rings * 0.01 * std::numbers::pi / 2.0));
}

TEST_CASE("a contact needs both ways and the wanted margin", "[foot_range]") {
    FootLosses losses = made_up({std::vector<int>(20, 1), std::vector<int>(20, 1),
                                 std::vector<int>(20, 1), std::vector<int>(20, 1)});
    // 5 W into 0 dBi against -116 dBm: 36.99 + 116 = 152.99 dB for the path.
    CHECK(foot_range(losses, {}, {}, 52.9).typical_m == 2000.0);
    CHECK(foot_range(losses, {}, {}, 53.1).typical_m == 0.0);
    for (FootRadial& radial : losses.radials) {
        std::ranges::fill(radial.back_db, 200.0F);
    }
    const FootRange none = foot_range(losses, {}, {}, 0.0);
    CHECK(none.typical_m == 0.0);
    CHECK_THAT(report::range_words(none), Catch::Contains("no direction has contact"));
}

TEST_CASE("the losses are those of single paths", "[foot_range]") {
    const terrain::HeightGrid ground = test::cumberland();
    FootRequest request = request_of(90.0, 9000.0, 8);
    request.site_antenna_m = 3.0;
    request.conditions.location_percent = 80.0; // not the same both ways
    request.conditions.location_deviation_db = 5.5;
    const geo::LatLon site{36.60, -84.20};
    const FootLosses losses = foot_losses(site, test::on(ground, request));
    REQUIRE(losses.radials.size() == 8);
    link::Station a;
    a.name = "A";
    a.position = site;
    a.antenna_height_m = 3.0;
    link::Station b = a;
    b.name = "B";
    b.antenna_height_m = 1.5;
    for (const FootRadial& radial : losses.radials) {
        for (std::size_t k = 0; k < radial.out_db.size(); k += 17) {
            b.position = geo::geodesic_destination(site, radial.bearing_deg,
                                                   losses.spacing_m * static_cast<double>(k + 1));
            const link::TwoWayPath path =
                link::two_way_path({&ground, {}, request.conditions, request.step_m}, a, b);
            CHECK(static_cast<double>(radial.out_db[k]) ==
                  Approx(path.outward.loss.total_db()).margin(0.001));
            CHECK(static_cast<double>(radial.back_db[k]) ==
                  Approx(path.backward.loss.total_db()).margin(0.001));
        }
    }
}

TEST_CASE("on flat ground every direction reaches alike, on rough ground not", "[foot_range]") {
    terrain::HeightGrid flat = test::rough_ground(400, 400, 0.0);
    const geo::LatLon middle = flat.georeference.position_of({200.0, 200.0});
    const FootLosses losses = foot_losses(middle, test::on(flat, request_of(30.0, 5000.0, 12)));
    const FootRange range = foot_range(losses, {}, {}, 30.0);
    CHECK(range.typical_m > 200.0);
    CHECK(range.best.reach_m - range.worst.reach_m <= losses.spacing_m);
    CHECK(range.area_km2 ==
          Approx(std::numbers::pi * std::pow(range.typical_m / 1000.0, 2)).epsilon(0.1));
    const terrain::HeightGrid rough = test::rough_ground(400, 400, 150.0);
    const FootRange varied = foot_range(
        foot_losses(middle, test::on(rough, request_of(30.0, 5000.0, 12))), {}, {}, 30.0);
    CHECK(varied.best.reach_m > 1.5 * varied.worst.reach_m);
    CHECK(varied.quarter_m <= varied.typical_m);
    CHECK(varied.typical_m <= varied.three_quarters_m);
}

TEST_CASE("ranges that cannot be looked at are refused", "[foot_range]") {
    const terrain::HeightGrid ground = test::rough_ground(40, 40, 10.0);
    const geo::LatLon middle = ground.georeference.position_of({20.0, 20.0});
    CHECK_THROWS_WITH(foot_losses(middle, test::on(ground, request_of(-1.0, 500.0, 8))),
                      Catch::Contains("in steps of -1 m"));
    CHECK_THROWS_WITH(foot_losses(middle, test::on(ground, request_of(30.0, 10.0, 8))),
                      Catch::Contains("range of 10 m"));
    CHECK_THROWS_WITH(foot_losses(middle, test::on(ground, request_of(30.0, 500.0, 2))),
                      Catch::Contains("2 directions"));
    CHECK_THROWS_WITH(foot_losses({0.0, 0.0}, test::on(ground, request_of(30.0, 500.0, 8))),
                      Catch::Contains("off the elevation"));
}
