#include "plan/hearing.hpp"

#include "base/parallel.hpp"
#include "base/require.hpp"
#include "plan/candidates.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace earshot::plan {
namespace {
Hearing hearing_of(const link::Direction& way, double wanted_margin_db) {
    Hearing result;
    result.basic_loss_db = way.loss.basic_loss_db;
    result.margin_db = way.budget.margin_db;
    result.chance_percent = way.chance_percent;
    result.readability = link::readability(result.margin_db).readability;
    result.heard = result.margin_db >= wanted_margin_db;
    return result;
}

} // namespace

std::vector<Pair> hear_net(std::span<const link::Station> stations, const HearingRequest& request,
                           Task& task) {
    for (const link::Station& station : stations) {
        require_known_ground(*request.ground, station.position, station.name);
    }
    std::vector<Pair> pairs;
    for (std::size_t a = 0; a < stations.size(); ++a) {
        for (std::size_t b = a + 1; b < stations.size(); ++b) {
            Pair& pair = pairs.emplace_back();
            pair.a = a;
            pair.b = b;
        }
    }
    task.begin("Paths", pairs.size());
    std::vector<link::PathPredictor> workers = link::predictors(request, task.threads());
    parallel_for(pairs.size(), task.threads(), [&](std::size_t index, unsigned worker) {
        task.throw_if_stopped();
        Pair& pair = pairs[index];
        const link::TwoWayPath path = workers[worker].path(stations[pair.a], stations[pair.b]);
        pair.distance_m = path.line.distance_m;
        pair.bearing_deg = path.line.bearing_deg;
        pair.back_bearing_deg = path.line.back_bearing_deg;
        pair.line_of_sight = path.outward.loss.sight.clear;
        pair.b_hears_a = hearing_of(path.outward, request.wanted_margin_db);
        pair.a_hears_b = hearing_of(path.backward, request.wanted_margin_db);
        pair.apart_db = path.outward.apart_db;
        const auto try_first = [&](const link::Direction& way) {
            return link::try_first(way.budget.margin_db, way.apart_db, request.wanted_margin_db);
        };
        pair.try_first = try_first(path.outward) || try_first(path.backward);
        task.advance(1);
    });
    return pairs;
}

Circle circle_around(std::span<const link::Station> stations) {
    constexpr double degree = std::numbers::pi / 180.0;
    double x = 0.0;
    double y = 0.0;
    double z = 0.0;
    for (const link::Station& station : stations) {
        const double lat = station.position.lat_deg * degree;
        const double lon = station.position.lon_deg * degree;
        x += std::cos(lat) * std::cos(lon);
        y += std::cos(lat) * std::sin(lon);
        z += std::sin(lat);
    }
    Circle circle;
    circle.centre = {std::atan2(z, std::hypot(x, y)) / degree, std::atan2(y, x) / degree};
    for (const link::Station& station : stations) {
        circle.radius_m = std::max(
            circle.radius_m, geo::geodesic_between(circle.centre, station.position).distance_m);
    }
    constexpr double quarter_turn_m = 9.9e6; // a circle below a quarter turn is convex
    require_usage(circle.radius_m <= quarter_turn_m,
                  "the stations are spread over more than half of the earth; take fewer");
    return circle;
}

NetStructure net_structure(std::size_t stations, std::span<const Pair> pairs) {
    NetStructure net;
    net.mutual.resize(stations);
    net.passes_on.resize(stations);
    std::vector<double> margin_db(stations * stations, 0.0);
    for (const Pair& pair : pairs) {
        if (pair.mutual()) {
            net.mutual[pair.a].push_back(pair.b);
            net.mutual[pair.b].push_back(pair.a);
            margin_db[pair.a * stations + pair.b] = pair.weaker_margin_db();
            margin_db[pair.b * stations + pair.a] = pair.weaker_margin_db();
        }
    }
    for (std::size_t station = 0; station < stations; ++station) {
        std::sort(net.mutual[station].begin(), net.mutual[station].end());
        if (net.mutual[station].empty()) {
            net.cut_off.push_back(station);
        }
    }
    net.parts = maths::connected_parts(net.mutual);
    net.groups = maths::full_groups(net.mutual, most_groups);
    net.splitting = maths::splitting_nodes(net.mutual);
    const auto strength = [&](std::size_t a, std::size_t b) { return margin_db[a * stations + b]; };
    for (std::size_t from = 0; from < stations; ++from) {
        const auto ways = maths::shortest_ways(net.mutual, from, strength);
        for (std::size_t to = from + 1; to < stations; ++to) {
            const std::vector<std::size_t>& way = ways[to];
            if (way.empty()) {
                ++net.unreachable_pairs;
                continue;
            }
            net.most_hops = std::max(net.most_hops, way.size() - 1);
            if (way.size() == 2) {
                continue;
            }
            Relayed relayed{way, strength(way[0], way[1])};
            for (std::size_t i = 1; i + 1 < way.size(); ++i) {
                ++net.passes_on[way[i]];
                relayed.weakest_margin_db =
                    std::min(relayed.weakest_margin_db, strength(way[i], way[i + 1]));
            }
            net.relayed.push_back(std::move(relayed));
        }
    }
    return net;
}

} // namespace earshot::plan
