#include "plan/fallback.hpp"

#include "base/parallel.hpp"
#include "base/require.hpp"
#include "plan/candidates.hpp"

#include <algorithm>
#include <cmath>

namespace earshot::plan {
namespace {

using scenario::Place;

/// Tops within reach of any station. None where the ground has none to offer.
std::vector<Place> high_ground(const scenario::Scenario& scenario, const FallbackRequest& request,
                               Task& task) {
    terrain::Shapes stations;
    stations.label = "the stations";
    for (const link::Station& station : scenario.stations) {
        stations.points.push_back(station.position);
    }
    const Constraint near = within_distance(stations, request.reach_m);
    CandidateOptions options;
    options.most = 20 * scenario.stations.size();
    options.view_range_m = request.reach_m;
    options.antenna_m = scenario.listener.antenna_height_m;
    std::vector<Place> tops; // without names
    for (const Candidate& top :
         find_candidates(*request.hearing.ground, {&near, 1}, options, task).candidates) {
        tops.push_back({"", top.position});
    }
    return tops;
}

class FallbackSearch {
public:
    FallbackSearch(const scenario::Scenario& scenario, std::span<const Pair> pairs,
                   const FallbackRequest& request, std::vector<Place> everywhere, const Task& task)
        : ground_(*request.hearing.ground), scenario_(scenario), request_(request), task_(task),
          everywhere_(std::move(everywhere)), pairs_(pairs),
          talks_with_(scenario.stations.size(), 0) {
        for (std::size_t station = 0; station < scenario.stations.size(); ++station) {
            people_ += scenario.air.is_repeater(station) ? 0 : 1;
        }
        for (const Pair& pair : pairs) {
            if (pair.talk()) {
                ++talks_with_.at(pair.a);
                ++talks_with_.at(pair.b);
            }
        }
    }

    [[nodiscard]] std::optional<Fallback> of(std::size_t station, NetPredictor& predictor) const {
        Fallback none;
        if (scenario_.air.is_repeater(station)) {
            return std::nullopt;
        }
        if (station < scenario_.duties.size() && !scenario_.duties[station].fallback.empty()) {
            const link::Station there =
                scenario::station_named(scenario_, scenario_.duties[station].fallback);
            Fallback fallback = judged(station, {there.name, there.position}, predictor);
            if (fallback.found()) {
                fallback.planned = true;
                return fallback;
            }
            none.useless = there.name;
        }
        const std::size_t others = people_ - 1;
        if (talks_with_[station] >= others) {
            return std::nullopt;
        }
        const auto places = nearest(station);
        none.tried = places.size();
        none.looked_m = request_.reach_m;
        Fallback best = none;
        for (const auto& [away_m, place] : places) {
            task_.throw_if_stopped();
            const Fallback fallback = judged(station, *place, predictor);
            if (fallback.talks_with > std::max(best.talks_with, talks_with_[station])) {
                best = fallback;
                best.useless = none.useless;
                if (2 * fallback.talks_with >= others) {
                    break;
                }
            }
        }
        return best;
    }

private:
    const terrain::HeightGrid& ground_;
    const scenario::Scenario& scenario_;
    const FallbackRequest& request_;
    const Task& task_;
    std::vector<Place> everywhere_;
    std::span<const Pair> pairs_;
    std::size_t people_ = 0;              ///< stations that are no repeaters
    std::vector<std::size_t> talks_with_; ///< for each station, from where it is

    /// The places within reach and how far they are, the nearest first, as many as are to be tried.
    [[nodiscard]] std::vector<std::pair<double, const Place*>> nearest(std::size_t station) const {
        constexpr double least_m = 30.0; // less is where the person is
        const geo::LatLon here = scenario_.stations[station].position;
        std::vector<std::pair<double, const Place*>> within;
        for (const Place& place : everywhere_) {
            const double away_m = geo::geodesic_between(here, place.position).distance_m;
            if (away_m >= least_m && away_m <= request_.reach_m &&
                std::isfinite(ground_.sample(place.position))) {
                within.emplace_back(away_m, &place);
            }
        }
        std::stable_sort(within.begin(), within.end(),
                         [](const auto& a, const auto& b) { return a.first < b.first; });
        within.resize(std::min(within.size(), request_.tries));
        return within;
    }

    /// What the person of a station carries to a place, on one side of a channel; nothing if it has
    /// to be the listener's and that is not for it.
    [[nodiscard]] static std::optional<link::Station>
    carried_to(std::size_t station, geo::LatLon position, const scenario::Tuned& tuned) {
        link::Station moved = tuned.stations[station];
        if (!tuned.listener) {
            return std::nullopt;
        }
        if (moved.antenna_height_m > tuned.listener->antenna_height_m) {
            moved.radio = tuned.listener->radio;
            moved.antenna_height_m = tuned.listener->antenna_height_m;
        }
        moved.position = position;
        return moved;
    }

    /// NaN does not count.
    [[nodiscard]] bool enough(double margin_db) const {
        return margin_db >= request_.hearing.wanted_margin_db;
    }

    [[nodiscard]] bool direct(std::size_t station, std::size_t other, geo::LatLon position,
                              NetPredictor& predictor) const {
        for (const std::size_t channel : channels_between(scenario_.air, station, other)) {
            const scenario::Tuned& tuned = scenario_.air.heard[channel];
            const auto moved = carried_to(station, position, tuned);
            if (moved &&
                enough(
                    predictor.heard(channel).margins(*moved, tuned.stations[other]).least_db())) {
                return true;
            }
        }
        return false;
    }

    /// Which of the repeats are heard there, and which hear.
    struct Repeated {
        std::vector<bool> in, out;
    };

    [[nodiscard]] Repeated repeated(std::size_t station, geo::LatLon position,
                                    NetPredictor& predictor) const {
        const scenario::Air& air = scenario_.air;
        Repeated result;
        for (const scenario::Repeat& repeat : air.repeats) {
            const auto margins = [&](const scenario::Tuned& tuned, std::size_t channel,
                                     link::PathPredictor& on) {
                const auto moved = carried_to(station, position, tuned);
                return moved && air.has(station, channel)
                           ? on.margins(*moved, tuned.stations[repeat.station])
                           : link::PathMargins{NAN, NAN, 0.0};
            };
            result.in.push_back(enough(margins(air.talked[repeat.takes_in], repeat.takes_in,
                                               predictor.talked(repeat.takes_in))
                                           .out_db));
            result.out.push_back(enough(margins(air.heard[repeat.gives_out], repeat.gives_out,
                                                predictor.heard(repeat.gives_out))
                                            .back_db));
        }
        return result;
    }

    /// Whether a repeater carries calls both ways between there and another station.
    [[nodiscard]] bool carries(const Repeated& there, std::size_t other) const {
        const std::vector<scenario::Repeat>& repeats = scenario_.air.repeats;
        for (std::size_t out = 0; out < repeats.size(); ++out) {
            for (std::size_t back = 0; back < repeats.size(); ++back) {
                const std::size_t repeater = repeats[out].station;
                const bool works = there.in[out] && there.out[back] &&
                                   repeats[back].station == repeater &&
                                   scenario_.air.has(other, repeats[out].gives_out) &&
                                   scenario_.air.has(other, repeats[back].takes_in);
                const auto leg = [&](const Pair& pair) {
                    return pair.mutual() &&
                           std::minmax(pair.a, pair.b) == std::minmax(repeater, other);
                };
                if (works && std::any_of(pairs_.begin(), pairs_.end(), leg)) {
                    return true;
                }
            }
        }
        return false;
    }

    [[nodiscard]] Fallback judged(std::size_t station, const Place& place,
                                  NetPredictor& predictor) const {
        const link::Station& here = scenario_.stations[station];
        const geo::GeodesicPath way = geo::geodesic_between(here.position, place.position);
        Fallback fallback;
        fallback.name = place.name;
        fallback.position = place.position;
        fallback.distance_m = way.distance_m;
        fallback.bearing_deg = way.bearing_deg;
        fallback.climb_m = ground_.sample(place.position) - ground_.sample(here.position);
        fallback.others = people_ - 1;
        const Repeated there = repeated(station, place.position, predictor);
        for (std::size_t other = 0; other < scenario_.stations.size(); ++other) {
            if (other != station && !scenario_.air.is_repeater(other) &&
                (direct(station, other, place.position, predictor) || carries(there, other))) {
                ++fallback.talks_with;
            }
        }
        return fallback;
    }
};

} // namespace

std::vector<std::optional<Fallback>> find_fallbacks(const scenario::Scenario& scenario,
                                                    std::span<const Pair> pairs,
                                                    const FallbackRequest& request, Task& task) {
    require_usage(request.reach_m > 0.0 && request.tries > 0,
                  "fallback places must be looked for at some distance, and at least one tried");
    for (const link::Station& station : scenario.stations) {
        require_known_ground(*request.hearing.ground, station.position, station.name);
    }
    std::vector<Place> everywhere = high_ground(scenario, request, task);
    everywhere.insert(everywhere.end(), scenario.places.begin(), scenario.places.end());
    const FallbackSearch search(scenario, pairs, request, std::move(everywhere), task);
    std::vector<std::optional<Fallback>> fallbacks(scenario.stations.size());
    task.begin("looking for fallback places", fallbacks.size());
    std::vector<NetPredictor> workers;
    for (unsigned k = 0; k < std::max(1U, task.threads()); ++k) {
        workers.emplace_back(scenario, request.hearing);
    }
    parallel_for(fallbacks.size(), task.threads(), [&](std::size_t station, unsigned worker) {
        fallbacks[station] = search.of(station, workers[worker]);
    });
    return fallbacks;
}

} // namespace earshot::plan
