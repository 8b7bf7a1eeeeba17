#include "plan/hearing.hpp"

#include "base/parallel.hpp"
#include "base/require.hpp"
#include "plan/candidates.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
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

/// Somebody who has no radio for it hears nothing, and that is known.
Hearing silence() {
    Hearing none;
    none.basic_loss_db = std::numeric_limits<double>::quiet_NaN();
    none.margin_db = -std::numeric_limits<double>::infinity();
    return none;
}

/// Every pair of a net, and every station with what every repeater does.
class NetHearing {
public:
    NetHearing(const scenario::Scenario& scenario, const HearingRequest& request)
        : air_(scenario.air), request_(request), stations_(air_.channels_of.size()),
          legs_(stations_ * air_.repeats.size()) {}

    [[nodiscard]] std::vector<Pair> pairs(const scenario::Scenario& scenario, Task& task) {
        std::vector<Pair> pairs;
        for (std::size_t a = 0; a < stations_; ++a) {
            for (std::size_t b = a + 1; b < stations_; ++b) {
                if (request_.only && *request_.only != a && *request_.only != b) {
                    continue;
                }
                Pair& pair = pairs.emplace_back();
                pair.a = a;
                pair.b = b;
                pair.a_repeats = air_.is_repeater(a);
                pair.b_repeats = air_.is_repeater(b);
            }
        }
        task.begin("Paths", pairs.size() + legs_.size());
        std::vector<NetPredictor> workers;
        for (unsigned k = 0; k < std::max(1U, task.threads()); ++k) {
            workers.emplace_back(scenario, request_);
        }
        parallel_for(pairs.size() + legs_.size(), task.threads(),
                     [&](std::size_t index, unsigned worker) {
                         task.throw_if_stopped();
                         if (index < pairs.size()) {
                             predict_direct(pairs[index], workers[worker]);
                         } else {
                             predict_leg(index - pairs.size(), workers[worker]);
                         }
                         task.advance(1);
                     });
        for (Pair& pair : pairs) {
            if (pair.with_repeater()) {
                put_leg(pair);
            } else {
                put_through(pair);
            }
        }
        return pairs;
    }

private:
    const scenario::Air& air_;
    const HearingRequest& request_;
    std::size_t stations_;
    /// Station by station and repeat by repeat: `a` is the station, `b` the repeater.
    std::vector<Pair> legs_;

    [[nodiscard]] const Pair& leg(std::size_t station, std::size_t repeat) const {
        return legs_[station * air_.repeats.size() + repeat];
    }

    void put_path(const link::TwoWayPath& path, Pair& pair) const {
        pair.distance_m = path.line.distance_m;
        pair.bearing_deg = path.line.bearing_deg;
        pair.back_bearing_deg = path.line.back_bearing_deg;
        pair.line_of_sight = path.outward.loss.sight.clear;
        pair.b_hears_a = hearing_of(path.outward, request_.wanted_margin_db);
        pair.a_hears_b = hearing_of(path.backward, request_.wanted_margin_db);
        pair.apart_db = path.outward.apart_db;
        const auto try_first = [&](const link::Direction& way) {
            return link::try_first(way.budget.margin_db, way.apart_db, request_.wanted_margin_db);
        };
        pair.try_first = try_first(path.outward) || try_first(path.backward);
    }

    void predict_direct(Pair& pair, NetPredictor& predictor) const {
        const Pair blank = pair;
        bool any = false;
        for (const std::size_t channel : channels_between(air_, pair.a, pair.b)) {
            const std::vector<link::Station>& on = air_.heard[channel].stations;
            Pair here = blank;
            put_path(predictor.heard(channel).path(on[pair.a], on[pair.b]), here);
            here.channel = channel;
            if (!any || here.weaker_margin_db() > pair.weaker_margin_db()) {
                pair = here;
            }
            any = true;
        }
        if (!any) {
            put_apart(pair);
        }
    }

    /// Two that have no channel for each other.
    void put_apart(Pair& pair) const {
        const std::vector<link::Station>& all = air_.heard.front().stations;
        const geo::GeodesicPath line =
            geo::geodesic_between(all[pair.a].position, all[pair.b].position);
        pair.distance_m = line.distance_m;
        pair.bearing_deg = line.bearing_deg;
        pair.back_bearing_deg = line.back_bearing_deg;
        pair.channel = no_channel;
        pair.b_hears_a = pair.a_hears_b = silence();
    }

    /// What the repeater takes in is predicted on that frequency, what it gives out on the other.
    void predict_leg(std::size_t index, NetPredictor& predictor) {
        Pair& leg = legs_[index];
        const scenario::Repeat& repeat = air_.repeats[index % air_.repeats.size()];
        leg.a = index / air_.repeats.size();
        leg.b = repeat.station;
        leg.b_hears_a = leg.a_hears_b = silence();
        leg.channel = no_channel;
        if (air_.has(leg.a, repeat.gives_out)) {
            const std::vector<link::Station>& on = air_.heard[repeat.gives_out].stations;
            put_path(predictor.heard(repeat.gives_out).path(on[leg.a], on[leg.b]), leg);
            leg.b_hears_a = silence();
            leg.channel = repeat.gives_out;
        }
        if (air_.has(leg.a, repeat.takes_in)) {
            const std::vector<link::Station>& on = air_.talked[repeat.takes_in].stations;
            const Hearing heard = leg.a_hears_b;
            const bool try_first = leg.try_first;
            put_path(predictor.talked(repeat.takes_in).path(on[leg.a], on[leg.b]), leg);
            leg.a_hears_b = heard;
            leg.try_first = leg.try_first || try_first;
            leg.channel = repeat.takes_in;
        }
    }

    /// Between a station and a repeater: of all that it does, what serves the station best, either
    /// way.
    void put_leg(Pair& pair) const {
        put_apart(pair);
        const std::size_t station = pair.a_repeats ? pair.b : pair.a;
        const std::size_t repeater = pair.a_repeats ? pair.a : pair.b;
        Hearing& taken_in = pair.a_repeats ? pair.a_hears_b : pair.b_hears_a;
        Hearing& given_out = pair.a_repeats ? pair.b_hears_a : pair.a_hears_b;
        for (std::size_t r = 0; r < air_.repeats.size(); ++r) {
            const Pair& its = leg(station, r);
            if (air_.repeats[r].station != repeater || its.channel == no_channel) {
                continue;
            }
            const bool hears_better = !(its.b_hears_a.margin_db <= taken_in.margin_db);
            if (hears_better || pair.channel == no_channel) {
                pair.channel = its.channel;
                pair.line_of_sight = its.line_of_sight;
                pair.apart_db = its.apart_db;
            }
            taken_in = hears_better ? its.b_hears_a : taken_in;
            given_out =
                !(its.a_hears_b.margin_db <= given_out.margin_db) ? its.a_hears_b : given_out;
            pair.try_first = pair.try_first || its.try_first;
        }
    }

    /// The best repeater for two stations, by the weakest leg of a conversation over it.
    void put_through(Pair& pair) const {
        for (std::size_t r = 0; r < air_.repeats.size(); ++r) {
            for (std::size_t back = 0; back < air_.repeats.size(); ++back) {
                if (air_.repeats[back].station != air_.repeats[r].station) {
                    continue;
                }
                const Through through = through_of(pair, r, back);
                if (std::isfinite(through.margin_db) &&
                    (!pair.through || through.margin_db > pair.through->margin_db)) {
                    pair.through = through;
                }
            }
        }
    }

    /// A conversation where the repeater does `out` for a to b, and `back` for b to a. NaN if the
    /// ground under one of its legs is unknown.
    [[nodiscard]] Through through_of(const Pair& pair, std::size_t out, std::size_t back) const {
        Through through;
        through.repeater = air_.repeats[out].station;
        through.from_a = air_.repeats[out].takes_in;
        through.from_b = air_.repeats[back].takes_in;
        through.margin_db = std::numeric_limits<double>::infinity();
        const auto take = [&](std::size_t talker, std::size_t listener, const Hearing& hearing) {
            if (!(hearing.margin_db >= through.margin_db)) {
                through.talker = talker;
                through.listener = listener;
                through.margin_db = hearing.margin_db;
                through.chance_percent = hearing.chance_percent;
                through.heard = hearing.heard;
            }
        };
        take(pair.a, through.repeater, leg(pair.a, out).b_hears_a);
        take(through.repeater, pair.b, leg(pair.b, out).a_hears_b);
        take(pair.b, through.repeater, leg(pair.b, back).b_hears_a);
        take(through.repeater, pair.a, leg(pair.a, back).a_hears_b);
        return through;
    }
};

} // namespace

NetPredictor::NetPredictor(const scenario::Scenario& scenario, const link::Setting& setting) {
    std::vector<double> known_mhz;
    const auto add = [&](const std::vector<scenario::Tuned>& side, std::vector<std::size_t>& use) {
        for (const scenario::Tuned& tuned : side) {
            const auto known = std::find(known_mhz.begin(), known_mhz.end(), tuned.frequency_mhz);
            use.push_back(static_cast<std::size_t>(known - known_mhz.begin()));
            if (known == known_mhz.end()) {
                known_mhz.push_back(tuned.frequency_mhz);
                predictors_.emplace_back(
                    scenario::setting_on(scenario, setting, tuned.frequency_mhz));
            }
        }
    };
    add(scenario.air.talked, talked_);
    add(scenario.air.heard, heard_);
}

std::vector<std::size_t> channels_between(const scenario::Air& air, std::size_t a, std::size_t b) {
    std::vector<std::size_t> channels;
    for (const std::size_t channel : air.channels_of[a]) {
        const scenario::Channel& its = air.channels[channel];
        const bool alike = std::any_of(channels.begin(), channels.end(), [&](std::size_t before) {
            // Over so few per cent of the frequency losses change by some tenths of a dB.
            constexpr double near = 0.02;
            const scenario::Channel& other = air.channels[before];
            return std::abs(other.receive_mhz / its.receive_mhz - 1.0) <= near &&
                   other.bandwidth == its.bandwidth;
        });
        if (its.direct() && air.has(b, channel) && !alike) {
            channels.push_back(channel);
        }
    }
    return channels;
}

std::vector<Pair> hear_net(const scenario::Scenario& scenario, const HearingRequest& request,
                           Task& task) {
    for (const link::Station& station : scenario.air.heard.front().stations) {
        require_known_ground(*request.ground, station.position, station.name);
    }
    return NetHearing(scenario, request).pairs(scenario, task);
}

std::vector<Pair> hear_net(std::span<const link::Station> stations, const HearingRequest& request,
                           Task& task) {
    scenario::Scenario scenario;
    scenario.air = scenario::one_channel({stations.begin(), stations.end()}, {},
                                         request.conditions.frequency_mhz);
    return hear_net(scenario, request, task);
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
    std::vector<bool> repeats(stations, false);
    maths::Neighbours heard(stations); // legs too, and without what goes through repeaters
    const auto join = [](maths::Neighbours& graph, const Pair& pair) {
        graph[pair.a].push_back(pair.b);
        graph[pair.b].push_back(pair.a);
    };
    for (const Pair& pair : pairs) {
        repeats[pair.a] = repeats[pair.a] || pair.a_repeats;
        repeats[pair.b] = repeats[pair.b] || pair.b_repeats;
        if (pair.mutual()) {
            join(heard, pair);
        }
        if (pair.talk()) {
            join(net.mutual, pair);
            margin_db[pair.a * stations + pair.b] = pair.talk_margin_db();
            margin_db[pair.b * stations + pair.a] = pair.talk_margin_db();
        }
    }
    for (std::size_t station = 0; station < stations; ++station) {
        std::sort(net.mutual[station].begin(), net.mutual[station].end());
        std::sort(heard[station].begin(), heard[station].end());
        if (net.mutual[station].empty() && !repeats[station]) {
            net.cut_off.push_back(station);
        }
    }
    const auto is_repeater = [&](const maths::Nodes& alone) {
        return alone.size() == 1 && repeats[alone.front()];
    };
    net.parts = maths::connected_parts(net.mutual);
    net.groups = maths::full_groups(net.mutual, most_groups);
    std::erase_if(net.parts, is_repeater);
    std::erase_if(net.groups.groups, is_repeater);
    net.splitting = maths::splitting_nodes(heard);
    const auto strength = [&](std::size_t a, std::size_t b) { return margin_db[a * stations + b]; };
    for (std::size_t from = 0; from < stations; ++from) {
        const auto ways = maths::shortest_ways(net.mutual, from, strength);
        for (std::size_t to = from + 1; to < stations; ++to) {
            const std::vector<std::size_t>& way = ways[to];
            if (way.empty()) {
                net.unreachable_pairs += repeats[from] || repeats[to] ? 0 : 1;
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
