#include "coverage/ground.hpp"
#include "earshot/link/path.hpp"
#include "plan/hearing.hpp"
#include "scenario/scenario_text.hpp"
#include "setting.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

namespace earshot::plan {
namespace {

using test::rough_ground;

/// Invented stations on a ring within `rough_ground(200, 200)`, unlike in power and height.
std::vector<link::Station> ring_of_stations(const terrain::HeightGrid& ground, std::size_t count) {
    std::vector<link::Station> stations;
    for (std::size_t i = 0; i < count; ++i) {
        const double angle =
            6.283185307179586 * static_cast<double>(i) / static_cast<double>(count);
        link::Station station;
        station.name = std::string("S") + std::to_string(i);
        station.position = ground.georeference.position_of(
            {100.0 + 85.0 * std::cos(angle),
             100.0 + (60.0 + 5.0 * static_cast<double>(i)) * std::sin(angle)});
        station.antenna_height_m = 1.5 + 2.0 * static_cast<double>(i % 3);
        station.radio.power_dbm = 20.0 + 3.0 * static_cast<double>(i);
        station.radio.threshold_dbm = -105.0 - static_cast<double>(i % 2);
        stations.push_back(station);
    }
    return stations;
}

HearingRequest request_at(double time_percent, double places_percent) {
    HearingRequest request;
    request.conditions.frequency_mhz = 446.1;
    request.conditions.time_percent = time_percent;
    request.conditions.location_percent = places_percent;
    request.step_m = 30.0;
    return request;
}

Pair pair_of(std::size_t a, std::size_t b, double b_hears_a_db, double a_hears_b_db) {
    Pair pair;
    pair.a = a;
    pair.b = b;
    pair.b_hears_a.margin_db = b_hears_a_db;
    pair.a_hears_b.margin_db = a_hears_b_db;
    pair.b_hears_a.heard = b_hears_a_db >= 0.0;
    pair.a_hears_b.heard = a_hears_b_db >= 0.0;
    return pair;
}

} // namespace

TEST_CASE("each pair is what link::two_way_path makes of it") {
    const terrain::HeightGrid ground = rough_ground(200, 200, 250.0);
    const std::vector<link::Station> stations = ring_of_stations(ground, 7);
    const terrain::GroundCover woods =
        terrain::GroundCover::uniform({0, "woods", terrain::Clutter::urban_or_trees, 12.0, true});
    const auto [time_percent, places_percent, wooded, method] =
        GENERATE(std::tuple(50.0, 50.0, false, propagation::Method::p1812),
                 std::tuple(10.0, 90.0, false, propagation::Method::p1812),
                 std::tuple(50.0, 50.0, true, propagation::Method::p1812),
                 std::tuple(50.0, 50.0, true, propagation::Method::deygout));
    HearingRequest request = request_at(time_percent, places_percent);
    request.conditions.method = method;
    request.wanted_margin_db = 3.0;
    if (wooded) {
        request.layers.cover = &woods;
    }
    ThreadedTask task(3);
    const std::vector<Pair> pairs = hear_net(stations, test::on(ground, request), task);
    REQUIRE(pairs.size() == 21);
    std::size_t heard = 0;
    for (const Pair& pair : pairs) {
        const link::TwoWayPath path =
            link::two_way_path({&ground, request.layers, request.conditions, request.step_m},
                               stations[pair.a], stations[pair.b]);
        CHECK(pair.a < pair.b);
        CHECK(pair.distance_m == path.line.distance_m);
        CHECK(pair.line_of_sight == path.outward.loss.sight.clear);
        const auto try_first = [](const link::Direction& way) {
            return link::try_first(way.budget.margin_db, way.apart_db, 3.0);
        };
        CHECK(pair.try_first == (try_first(path.outward) || try_first(path.backward)));
        // Deygout's has no second model.
        CHECK(std::isnan(pair.apart_db) == (method == propagation::Method::deygout));
        if (method == propagation::Method::p1812) {
            CHECK(pair.apart_db == Approx(path.outward.apart_db).margin(1e-9));
        }
        for (const auto& [ours, theirs] :
             {std::pair(pair.b_hears_a, path.outward), std::pair(pair.a_hears_b, path.backward)}) {
            CHECK(ours.margin_db == Approx(theirs.budget.margin_db).margin(1e-9));
            CHECK(ours.basic_loss_db == Approx(theirs.loss.basic_loss_db).margin(1e-9));
            CHECK(ours.heard == (theirs.budget.margin_db >= 3.0));
            CHECK(ours.readability == link::readability(theirs.budget.margin_db).readability);
            CHECK(ours.chance_percent == Approx(theirs.chance_percent).margin(1e-9));
            heard += ours.heard ? 1 : 0;
        }
    }
    if (!wooded) {
        CHECK((heard > 0 && heard < 42)); // the ground of the test tells stations apart
    }
}

TEST_CASE("the chance does not depend on the share of time and places asked for") {
    const terrain::HeightGrid ground = rough_ground(200, 200, 250.0);
    const std::vector<link::Station> stations = ring_of_stations(ground, 4);
    const std::vector<Pair> half = hear_net(stations, test::on(ground, request_at(50.0, 50.0)));
    const std::vector<Pair> strict = hear_net(stations, test::on(ground, request_at(50.0, 95.0)));
    for (std::size_t i = 0; i < half.size(); ++i) {
        CHECK(strict[i].b_hears_a.margin_db < half[i].b_hears_a.margin_db);
        CHECK(strict[i].b_hears_a.chance_percent ==
              Approx(half[i].b_hears_a.chance_percent).margin(1e-9));
    }
}

TEST_CASE("an uncertain prediction brings the chance nearer to even") {
    const terrain::HeightGrid ground = rough_ground(200, 200, 250.0);
    const std::vector<link::Station> stations = ring_of_stations(ground, 4);
    HearingRequest request = request_at(50.0, 50.0);
    request.conditions.prediction_deviation_db = 0.0;
    const std::vector<Pair> sure = hear_net(stations, test::on(ground, request));
    request.conditions.prediction_deviation_db = 12.0;
    const std::vector<Pair> unsure = hear_net(stations, test::on(ground, request));
    for (std::size_t i = 0; i < sure.size(); ++i) {
        CHECK(sure[i].b_hears_a.margin_db == unsure[i].b_hears_a.margin_db);
        CHECK(std::abs(unsure[i].b_hears_a.chance_percent - 50.0) <
              std::abs(sure[i].b_hears_a.chance_percent - 50.0));
    }
}

TEST_CASE("the number of threads does not matter") {
    const terrain::HeightGrid ground = test::cumberland();
    std::vector<link::Station> stations;
    for (int i = 0; i < 6; ++i) {
        link::Station station;
        station.name = std::to_string(i);
        station.position = {36.55 + 0.02 * i, -84.25 + 0.03 * (i * i % 5)};
        station.antenna_height_m = 2.0;
        stations.push_back(station);
    }
    HearingRequest request = request_at(50.0, 50.0);
    request.step_m = 90.0;
    const std::vector<Pair> one = hear_net(stations, test::on(ground, request));
    ThreadedTask task(4);
    const std::vector<Pair> four = hear_net(stations, test::on(ground, request), task);
    REQUIRE(one.size() == four.size());
    for (std::size_t i = 0; i < one.size(); ++i) {
        CHECK(one[i].b_hears_a.margin_db == four[i].b_hears_a.margin_db);
        CHECK(one[i].a_hears_b.margin_db == four[i].a_hears_b.margin_db);
    }
}

TEST_CASE("voids make a pair unknown and refuse a station") {
    terrain::HeightGrid ground = rough_ground(200, 200, 250.0);
    for (int row = 0; row < 200; ++row) {
        ground.height_m[static_cast<std::size_t>(row * 200 + 100)] =
            std::numeric_limits<float>::quiet_NaN();
    }
    const auto station = [&](const std::string& name, double column) {
        link::Station made;
        made.name = name;
        made.position = ground.georeference.position_of({column, 50.0});
        made.antenna_height_m = 2.0;
        return made;
    };
    const HearingRequest request = request_at(50.0, 50.0);
    const std::vector<link::Station> across{station("west", 60.0), station("mid", 80.0),
                                            station("east", 140.0)};
    const std::vector<Pair> pairs = hear_net(across, test::on(ground, request));
    REQUIRE(pairs.size() == 3);
    CHECK(pairs[0].known());
    CHECK_FALSE(pairs[1].known());
    CHECK_FALSE(pairs[1].mutual());
    CHECK(std::isnan(pairs[1].b_hears_a.chance_percent));
    CHECK(net_structure(3, pairs).cut_off == maths::Nodes{2});

    const std::vector<link::Station> in_void{station("west", 60.0), station("lost", 100.0)};
    CHECK_THAT(
        test::refusal_of(Fault::input, [&] { (void)hear_net(in_void, test::on(ground, request)); }),
        Catch::StartsWith("lost ("));
    const std::vector<link::Station> off{station("west", 60.0), station("beyond", 250.0)};
    CHECK_THAT(
        test::refusal_of(Fault::input, [&] { (void)hear_net(off, test::on(ground, request)); }),
        Catch::StartsWith("beyond ("));
}

TEST_CASE("stations at one spot hear each other") {
    const terrain::HeightGrid ground = rough_ground(200, 200, 250.0);
    std::vector<link::Station> stations = ring_of_stations(ground, 2);
    stations[1].position = stations[0].position;
    const std::vector<Pair> pairs = hear_net(stations, test::on(ground, request_at(50.0, 50.0)));
    CHECK(pairs.at(0).mutual());
    CHECK(pairs.at(0).distance_m == 0.0);
}

TEST_CASE("structure of a net worked by hand") {
    // 0 - 1 - 2 - 3 in a chain with a stronger way round from 1 to 3 over 4; 5 hears 0 but cannot
    // answer; 6 and 7 talk with each other only.
    const std::vector<Pair> pairs{pair_of(0, 1, 12.0, 9.0), pair_of(1, 2, 2.0, 5.0),
                                  pair_of(2, 3, 8.0, 8.0),  pair_of(1, 4, 6.0, 7.0),
                                  pair_of(3, 4, 10.0, 4.0), pair_of(0, 5, 1.0, -1.0),
                                  pair_of(6, 7, 0.0, 0.0),  pair_of(0, 3, -5.0, -5.0)};
    const NetStructure net = net_structure(8, pairs);
    CHECK(net.mutual[0] == maths::Nodes{1});
    CHECK(net.mutual[1] == maths::Nodes{0, 2, 4});
    CHECK(net.cut_off == maths::Nodes{5});
    CHECK(net.parts == std::vector<maths::Nodes>{{0, 1, 2, 3, 4}, {6, 7}, {5}});
    CHECK(net.splitting == maths::Nodes{1});
    CHECK(net.groups.groups ==
          std::vector<maths::Nodes>{{0, 1}, {1, 2}, {1, 4}, {2, 3}, {3, 4}, {6, 7}, {5}});
    CHECK(net.most_hops == 3);
    CHECK(net.unreachable_pairs == 28 - 10 - 1); // pairs of 8, within the first part, within {6, 7}
    // 0 to 2, 0 to 4 over 1; 0 to 3 and 1 to 3 over 4, where the weakest hop has 4 dB instead of 2;
    // 2 to 4 over 3 (4 dB) instead of 1 (2 dB).
    REQUIRE(net.relayed.size() == 5);
    CHECK(net.relayed[0].stations == std::vector<std::size_t>{0, 1, 2});
    CHECK(net.relayed[0].weakest_margin_db == 2.0);
    CHECK(net.relayed[1].stations == std::vector<std::size_t>{0, 1, 4, 3});
    CHECK(net.relayed[1].weakest_margin_db == 4.0);
    CHECK(net.relayed[2].stations == std::vector<std::size_t>{0, 1, 4});
    CHECK(net.relayed[3].stations == std::vector<std::size_t>{1, 4, 3});
    CHECK(net.relayed[4].stations == std::vector<std::size_t>{2, 3, 4});
    CHECK(net.passes_on == std::vector<std::size_t>{0, 3, 0, 1, 2, 0, 0, 0});
}

TEST_CASE("the circle around stations holds them, across the 180 degree meridian too") {
    const auto at = [](double lat_deg, double lon_deg) {
        link::Station station;
        station.position = {lat_deg, lon_deg};
        return station;
    };
    const std::vector<link::Station> fiji{at(-17.0, 179.9), at(-17.2, -179.8), at(-16.9, 179.7)};
    const Circle circle = circle_around(fiji);
    CHECK(circle.radius_m < 50e3);
    for (const link::Station& station : fiji) {
        CHECK(geo::geodesic_between(circle.centre, station.position).distance_m <=
              circle.radius_m * (1.0 + 1e-12));
    }
    CHECK(circle_around(std::vector{at(10.0, 20.0)}).radius_m < 1e-3);
    CHECK_THAT(
        test::refusal_of(
            Fault::usage,
            [&] {
                (void)circle_around(std::vector{at(0.0, 0.0), at(0.0, 179.0), at(1.0, -60.0)});
            }),
        Catch::Contains("half of the earth"));
}

} // namespace earshot::plan
