#include "plan/hearing.hpp"

#include "base/parallel.hpp"
#include "earshot/base/error.hpp"
#include "earshot/base/task.hpp"
#include "earshot/geo/position.hpp"
#include "earshot/link/path.hpp"
#include "earshot/propagation/p1812.hpp"
#include "earshot/terrain/profile.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <numbers>

namespace earshot::plan {
namespace {

void require_ground(const terrain::HeightGrid& ground, const link::Station& station) {
    if (std::isnan(ground.sample(station.position))) {
        throw_input(fmt::format("{} ({}) is off the elevation or in a void of it; move it, or give "
                                "elevation that covers it",
                                station.name, geo::format_decimal(station.position)));
    }
}

/// Predicts pairs one after the other; each thread has its own.
class PairPredictor {
public:
    PairPredictor(const terrain::HeightGrid& ground, const HearingRequest& request)
        : sampler_(ground, request.layers), request_(request), settings_(request.settings) {}

    void predict(std::span<const link::Station> stations, Pair& pair) {
        const link::Station& a = stations[pair.a];
        const link::Station& b = stations[pair.b];
        const geo::GeodesicPath line = geo::geodesic_between(a.position, b.position);
        pair.distance_m = line.distance_m;
        pair.bearing_deg = line.bearing_deg;
        pair.back_bearing_deg = line.back_bearing_deg;
        sampler_.sample(a.position, line.bearing_deg,
                        std::max(line.distance_m, least_pair_distance_m), request_.step_m,
                        profile_);
        settings_.p1812.path_centre_latitude_deg =
            propagation::path_centre_latitude_deg(a.position, b.position, profile_.length_km());
        propagation::PathLoss loss = predict(a, b, settings_);
        pair.line_of_sight = loss.sight.clear;
        pair.b_hears_a = hearing(a, b, loss);
        profile_ = terrain::reversed(profile_);
        loss = predict(b, a, settings_);
        pair.a_hears_b = hearing(b, a, loss);
    }

private:
    [[nodiscard]] propagation::PathLoss predict(const link::Station& talker,
                                                const link::Station& listener,
                                                const propagation::PathSettings& settings) const {
        return propagation::path_loss(profile_, talker.antenna_height_m, listener.antenna_height_m,
                                      settings);
    }

    [[nodiscard]] static double margin_db(const link::Station& talker,
                                          const link::Station& listener,
                                          const propagation::PathLoss& loss) {
        return link::link_budget(talker.radio, listener.radio, loss.basic_loss_db,
                                 loss.tx_woodland_db, loss.rx_woodland_db)
            .margin_db;
    }

    [[nodiscard]] Hearing hearing(const link::Station& talker, const link::Station& listener,
                                  const propagation::PathLoss& loss) const {
        Hearing result;
        result.basic_loss_db = loss.basic_loss_db;
        result.margin_db = margin_db(talker, listener, loss);
        if (std::isnan(result.margin_db)) {
            result.chance_percent = result.margin_db;
            return result;
        }
        // The chance counts from the margin of half of the times and places.
        propagation::PathSettings half = settings_;
        half.p1812.time_percent = 50.0;
        half.p1812.location_percent = 50.0;
        const propagation::PathLoss median = predict(talker, listener, half);
        const double deviation_db = link::loss_deviation_db(
            median, profile_, talker.antenna_height_m, listener.antenna_height_m, half);
        result.chance_percent =
            link::chance_percent(margin_db(talker, listener, median), deviation_db);
        result.readability = link::readability(result.margin_db).readability;
        result.heard = result.margin_db >= request_.wanted_margin_db;
        return result;
    }

    terrain::ProfileSampler sampler_;
    const HearingRequest& request_;
    propagation::PathSettings settings_;
    terrain::Profile profile_;
};

} // namespace

bool Pair::known() const {
    return !std::isnan(b_hears_a.margin_db);
}

double Pair::weaker_margin_db() const {
    return std::min(b_hears_a.margin_db, a_hears_b.margin_db);
}

double Pair::weaker_chance_percent() const {
    return std::min(b_hears_a.chance_percent, a_hears_b.chance_percent);
}

std::vector<Pair> hear_net(const terrain::HeightGrid& ground,
                           std::span<const link::Station> stations, const HearingRequest& request,
                           Task& task) {
    for (const link::Station& station : stations) {
        require_ground(ground, station);
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
    const auto threads = static_cast<unsigned>(
        std::clamp<std::size_t>(pairs.size(), 1, std::max(1U, request.threads)));
    // Made here, since copying a georeference reads one that threads must not share.
    std::vector<std::unique_ptr<PairPredictor>> predictors(threads);
    for (auto& predictor : predictors) {
        predictor = std::make_unique<PairPredictor>(ground, request);
    }
    parallel_for(pairs.size(), threads, [&](std::size_t index, unsigned worker) {
        task.throw_if_stopped();
        predictors[worker]->predict(stations, pairs[index]);
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
    if (circle.radius_m > quarter_turn_m) {
        throw_usage("the stations are spread over more than half of the earth; take fewer");
    }
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
        std::ranges::sort(net.mutual[station]);
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
