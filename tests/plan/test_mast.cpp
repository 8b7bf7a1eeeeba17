#include "coverage/ground.hpp"
#include "earshot/base/error.hpp"
#include "earshot/link/path.hpp"
#include "plan/mast.hpp"
#include "report/say/plan_words.hpp"
#include "setting.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>

using namespace earshot;
using namespace earshot::plan;

namespace {

const terrain::HeightGrid& ground() {
    static const terrain::HeightGrid grid = test::cumberland();
    return grid;
}

link::Station station(const std::string& name, geo::LatLon position) {
    link::Station station;
    station.name = name;
    station.position = position;
    station.antenna_height_m = 1.5;
    return station;
}

MastRequest request_for(double wanted_db) {
    MastRequest request;
    request.wanted_margin_db = wanted_db;
    request.highest_m = 60.0;
    request.step_m = 90.0;
    return request;
}

/// The margin by way of the program's own path command, the height set by hand.
double margin_db(link::Station a, link::Station b, PathEnd end, double height_m,
                 const MastRequest& request) {
    (end == PathEnd::first ? a : b).antenna_height_m = height_m;
    const link::TwoWayPath path =
        link::two_way_path({&ground(), {}, request.conditions, request.step_m}, a, b);
    return std::min(path.outward.budget.margin_db, path.backward.budget.margin_db);
}

} // namespace

TEST_CASE("the least height has the margin and a little less has not", "[mast]") {
    const link::Station a = station("A", {36.60, -84.20});
    const link::Station b = station("B", {36.68, -84.10});
    for (const PathEnd end : {PathEnd::first, PathEnd::second}) {
        MastRequest request = request_for(0.0);
        request.end = end;
        // A margin that lies within what raising gains on this path.
        request.wanted_margin_db =
            (margin_db(a, b, end, 1.0, request) + margin_db(a, b, end, 60.0, request)) / 2.0;
        const MastAnswer answer = least_mast(a, b, test::on(ground(), request));
        REQUIRE(answer.least_height_m);
        const double height_m = *answer.least_height_m;
        CHECK(margin_db(a, b, end, height_m, request) >= request.wanted_margin_db - 1e-9);
        CHECK(margin_db(a, b, end, height_m - 0.011, request) < request.wanted_margin_db);
        for (std::size_t k = 0; k < answer.table.size(); k += 9) {
            const MastRow& row = answer.table[k];
            CHECK(row.margins.least_db() ==
                  Approx(margin_db(a, b, end, row.height_m, request)).margin(0.001));
        }
    }
}

TEST_CASE("the height that a second model asks for is told where it makes another mast", "[mast]") {
    const link::Station a = station("A", {36.60, -84.20});
    const link::Station b = station("B", {36.68, -84.10});
    MastRequest request = request_for(0.0);
    request.height_step_m = 3.0;
    const auto second_db = [&](double height_m) {
        link::Station raised = a;
        raised.antenna_height_m = height_m;
        return margin_db(a, b, PathEnd::first, height_m, request) -
               link::two_way_path({&ground(), {}, request.conditions, request.step_m}, raised, b)
                   .outward.apart_db;
    };
    for (const double at_22_m_db :
         {second_db(22.0), margin_db(a, b, PathEnd::first, 22.0, request)}) {
        const double wanted_db = at_22_m_db - 0.001;
        request.wanted_margin_db = wanted_db;
        const MastAnswer answer = least_mast(a, b, test::on(ground(), request));
        CHECK(answer.second_has_say);
        const auto first = std::ranges::find_if(
            answer.table, [&](const MastRow& row) { return second_db(row.height_m) >= wanted_db; });
        REQUIRE(answer.second_height_m.has_value() == (first != answer.table.end()));
        if (answer.second_height_m) {
            CHECK(*answer.second_height_m == first->height_m);
        }
        const bool another = !answer.least_height_m || !answer.second_height_m ||
                             *answer.second_height_m > 1.25 * *answer.least_height_m + 1.0;
        CHECK((report::mast_words(answer, "A", wanted_db).find("by a second model") !=
               std::string::npos) == another);
    }
    // Nothing is asked of a method that has no second.
    request.conditions.method = propagation::Method::deygout;
    CHECK_FALSE(least_mast(a, b, test::on(ground(), request)).second_has_say);
}

TEST_CASE("nobody stands beside an antenna on a mast", "[mast]") {
    link::Station a = station("A", {36.60, -84.20});
    const link::Station b = station("B", {36.68, -84.10});
    const MastRequest request = request_for(0.0);
    const MastAnswer clear = least_mast(a, b, test::on(ground(), request));
    a.radio.body_loss_db = 9.0;
    const MastAnswer held = least_mast(a, b, test::on(ground(), request));
    REQUIRE(clear.table.size() == held.table.size());
    for (std::size_t k = 0; k < held.table.size(); ++k) {
        const bool in_the_hand = held.table[k].height_m <= 2.5;
        CHECK(clear.table[k].margins.least_db() - held.table[k].margins.least_db() ==
              Approx(in_the_hand ? 9.0 : 0.0).margin(1e-9));
    }
}

TEST_CASE("margins both ways count", "[mast]") {
    link::Station a = station("A", {36.60, -84.20});
    link::Station b = station("B", {36.68, -84.10});
    const MastRequest request = request_for(-1000.0);
    const double both = least_mast(a, b, test::on(ground(), request)).table[0].margins.least_db();
    b.radio.power_dbm -= 7.0; // only the way back is worse
    CHECK(least_mast(a, b, test::on(ground(), request)).table[0].margins.least_db() ==
          Approx(both - 7.0).margin(0.001));
}

TEST_CASE("a path beyond any mast says so", "[mast]") {
    const link::Station a = station("A", {36.60, -84.20});
    const link::Station b = station("B", {36.68, -84.10});
    const MastRequest request = request_for(80.0);
    const MastAnswer answer = least_mast(a, b, test::on(ground(), request));
    CHECK_FALSE(answer.least_height_m);
    CHECK_THAT(report::mast_words(answer, "A", request.wanted_margin_db),
               Catch::Contains("no height of the antenna of A up to 60 m"));
}

TEST_CASE("a station that needs no mast is told so", "[mast]") {
    const MastRequest request = request_for(0.0);
    const MastAnswer answer = least_mast(
        station("A", {36.60, -84.20}), station("B", {36.601, -84.20}), test::on(ground(), request));
    REQUIRE(answer.least_height_m);
    CHECK(*answer.least_height_m == 1.0);
    CHECK_THAT(report::mast_words(answer, "A", request.wanted_margin_db),
               Catch::Contains("needs no raising"));
}

TEST_CASE("where higher is worse, the table and the words say so", "[mast]") {
    // Free space: the loss grows with the slant distance, so raising an antenna close by costs
    // 20 log10 of the ratio of the distances (ITU-R P.525-4, equation (3)).
    const link::Station a = station("A", {36.60, -84.20});
    link::Station b = station("B", {36.60, -84.20});
    b.position = geo::geodesic_destination(a.position, 90.0, 100.0);
    MastRequest request = request_for(0.0);
    request.conditions.method = propagation::Method::free_space;
    request.highest_m = 200.0;
    const double rise_m = ground().sample(a.position) - ground().sample(b.position);
    const auto slant = [&](double height_m) { return std::hypot(100.0, rise_m + height_m - 1.5); };
    const MastAnswer top = least_mast(a, b, test::on(ground(), request));
    REQUIRE_FALSE(top.falls.empty());
    const MarginFall& fall = top.falls.back();
    CHECK(fall.to_m == 200.0);
    CHECK(fall.fall_db ==
          Approx(20.0 * std::log10(slant(200.0) / slant(fall.from_m))).margin(0.01));
    CHECK_THAT(report::mast_words(top, "A", request.wanted_margin_db),
               Catch::Contains("higher is not always better"));
    // A margin that the low antenna has and the high one loses again.
    request.wanted_margin_db = top.table.back().margins.least_db() + 1.0;
    const MastAnswer lost = least_mast(a, b, test::on(ground(), request));
    REQUIRE(lost.least_height_m);
    CHECK_FALSE(lost.safe_from_m);
    CHECK_THAT(report::mast_words(lost, "A", request.wanted_margin_db),
               Catch::Contains("falls below that again"));
}

TEST_CASE("heights that make no sense are refused", "[mast]") {
    const link::Station a = station("A", {36.60, -84.20});
    const link::Station b = station("B", {36.68, -84.10});
    const auto refused = [&](auto change, const char* words) {
        MastRequest request = request_for(0.0);
        change(request);
        CHECK_THROWS_WITH(least_mast(a, b, test::on(ground(), request)), Catch::Contains(words));
    };
    refused([](MastRequest& r) { r.highest_m = 0.5; }, "limit must be above the lowest");
    refused([](MastRequest& r) { r.lowest_m = -1.0; }, "0 m or more");
    refused([](MastRequest& r) { r.height_step_m = 0.0; }, "between heights");
    refused([](MastRequest& r) { r.height_step_m = 1e-6; }, "heights");
    refused([](MastRequest& r) { r.wanted_margin_db = NAN; }, "wanted margin");
    CHECK_THROWS_WITH(
        least_mast(station("Far", {0.0, 0.0}), b, test::on(ground(), request_for(0.0))),
        Catch::Contains("Far"));
}
