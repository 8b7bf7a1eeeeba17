#include "plan/ladder.hpp"

#include "base/require.hpp"
#include "earshot/geo/position.hpp"
#include "geo/units.hpp"
#include "link/receiver_noise.hpp"
#include "plan/candidates.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <tuple>
#include <utility>

namespace earshot::plan {
namespace {

/// All levers and their effort, the least first.
constexpr std::array lever_table{
    std::pair{Lever::power, 1.0},        std::pair{Lever::move, 1.0},
    std::pair{Lever::antenna_here, 2.0}, std::pair{Lever::antenna_there, 2.0},
    std::pair{Lever::raise_here, 3.0},   std::pair{Lever::raise_there, 3.0},
    std::pair{Lever::relay, 10.0},
};

std::optional<double> median(std::vector<double> values) {
    std::erase_if(values, [](double value) { return std::isnan(value); });
    if (values.empty()) {
        return std::nullopt;
    }
    std::sort(values.begin(), values.end());
    const std::size_t half = values.size() / 2;
    return values.size() % 2 == 1 ? values[half] : (values[half - 1] + values[half]) / 2.0;
}

/// The stations as the levers pulled so far have left them.
struct State {
    link::Station here;
    std::vector<ServedPlace> there; ///< without places: the person who walks
    std::optional<Candidate> relay;
};

/// What a state reaches.
struct Outcome {
    std::vector<double> margins_db; ///< place by place, the better of direct and over the relay
    std::size_t places = 0;
    double weight = 0.0;
    std::optional<FootRange> range;
};

void check(const terrain::HeightGrid& ground, const LadderQuestion& question) {
    require_known_ground(ground, question.here.position, question.here.name);
    for (const ServedPlace& place : question.there) {
        require_known_ground(ground, place.station.position, place.station.name);
        require_usage(place.station.antenna_height_m >= 0.0,
                      "the antenna of {} must be 0 m or more above the ground", place.station.name);
        require_usage(place.weight > 0.0 && std::isfinite(place.weight),
                      "the weight {} of {} is not possible; it must be more than 0", place.weight,
                      place.station.name);
    }
    require_usage(question.here.antenna_height_m >= 0.0 &&
                      question.person.antenna_height_m >= 0.0 && question.raised_m >= 0.0,
                  "antennas must be 0 m or more above the ground");
    require_usage(question.better_antenna_db > 0.0,
                  "a better antenna must be better by more than 0 dB");
    require_usage(question.move_m >= 0.0 && question.move_m <= 10000.0,
                  "moving by {:g} m is not possible; give 0 m to 10 km", question.move_m);
    require_usage(question.step_m >= 0.0, "the step of profiles must be 0 m or more");
}

class Ladder {
public:
    Ladder(const LadderQuestion& question, Task& task)
        : ground_(*question.ground), question_(question), task_(task), quiet_(task),
          predictor_(question) {}

    [[nodiscard]] LadderAnswer climb() {
        State start{question_.here, question_.there, std::nullopt};
        if (on_foot()) {
            link::Station person = question_.person;
            person.position = question_.here.position;
            start.there = {{person, 1.0}};
        }
        const Outcome at_start = outcome(start);
        LadderAnswer answer;
        answer.places = question_.there.size();
        answer.start = rung(std::nullopt, start, at_start, start, at_start);
        task_.begin("ladder", 2 * lever_table.size());
        for (const auto& [lever, effort] : lever_table) {
            task_.throw_if_stopped();
            State state = start;
            if (const std::optional<Pull> done = pull(lever, state)) {
                Rung alone = rung(done, state, outcome(state), start, at_start);
                alone.effort = effort;
                const auto place = std::upper_bound(
                    answer.alone.begin(), answer.alone.end(), alone,
                    [](const Rung& a, const Rung& b) { return worth(a) > worth(b); });
                answer.alone.insert(place, std::move(alone));
            }
            task_.advance(1);
        }
        State state = start;
        Outcome before = at_start;
        for (const Rung& alone : answer.alone) {
            task_.throw_if_stopped();
            const State last = state;
            const std::optional<Pull> done = pull(alone.pull->lever, state);
            const Outcome now = outcome(state);
            if (done) {
                answer.stacked.push_back(rung(done, state, now, last, before));
                answer.stacked.back().effort = alone.effort;
            }
            before = now;
            task_.advance(1);
        }
        task_.end();
        return answer;
    }

private:
    [[nodiscard]] bool on_foot() const { return question_.there.empty(); }

    /// Decibels for the effort. A relay without places has no decibels: it comes last, as the
    /// lever of most effort.
    static double worth(const Rung& rung) { return rung.gain_db.value_or(0.0) / rung.effort; }

    /// Changes the state. Returns what was done, nothing if the lever changes nothing.
    [[nodiscard]] std::optional<Pull> pull(Lever lever, State& state) {
        Pull done;
        done.lever = lever;
        done.better_db = question_.better_antenna_db;
        done.raised_m = question_.raised_m;
        const auto each_there = [&](const auto& change) {
            bool any = false;
            for (ServedPlace& place : state.there) {
                any = change(place.station) || any;
            }
            return any;
        };
        const auto better = [&](link::Station& station) {
            station.radio.antenna_gain_dbi += question_.better_antenna_db;
            if (station.radio.needed) {
                link::renew_noise(station.radio, station.radio.needed->sensitivity_dbm);
            }
            return true;
        };
        const auto higher = [&](link::Station& station) {
            const bool low = station.antenna_height_m < question_.raised_m;
            if (low) {
                station.antenna_height_m = question_.raised_m;
            }
            return low;
        };
        bool changed = false;
        switch (lever) {
        case Lever::power:
            changed = more_power(state, done);
            break;
        case Lever::move:
            changed = question_.move_m > 0.0 && move(state, done);
            break;
        case Lever::antenna_here:
            changed = better(state.here);
            break;
        case Lever::antenna_there:
            changed = each_there(better);
            break;
        case Lever::raise_here:
            changed = higher(state.here);
            break;
        case Lever::raise_there:
            changed = each_there(higher);
            break;
        case Lever::relay:
            changed = !question_.relay_candidates.empty() && add_relay(state, done);
            break;
        }
        return changed ? std::optional(done) : std::nullopt;
    }

    [[nodiscard]] bool more_power(State& state, Pull& done) const {
        done.from_dbm = done.to_dbm = question_.power_dbm;
        const auto raise_power = [&](link::Radio& radio) {
            done.from_dbm = std::min(done.from_dbm, radio.power_dbm);
            radio.power_dbm = std::max(radio.power_dbm, question_.power_dbm);
        };
        raise_power(state.here.radio);
        for (ServedPlace& place : state.there) {
            raise_power(place.station.radio);
        }
        return done.from_dbm < done.to_dbm;
    }

    [[nodiscard]] bool move(State& state, Pull& done) {
        constexpr int directions = 8;
        State best = state;
        auto best_score = score(outcome(state));
        bool moves = false;
        for (int k = 0; k < directions; ++k) {
            const double bearing_deg = 360.0 * k / directions;
            State moved = state;
            moved.here.position =
                geo::geodesic_destination(state.here.position, bearing_deg, question_.move_m);
            if (std::isnan(ground_.sample(moved.here.position))) {
                continue;
            }
            const auto moved_score = score(outcome(moved));
            if (moved_score > best_score) {
                best_score = moved_score;
                best = moved;
                done.distance_m = question_.move_m;
                done.bearing_deg = bearing_deg;
                moves = true;
            }
        }
        state = best;
        return moves;
    }

    /// For comparing spots: weight reached or typical range, then the median margin or the area.
    [[nodiscard]] static std::pair<double, double> score(const Outcome& outcome) {
        if (outcome.range) {
            return {outcome.range->typical_m, outcome.range->area_km2};
        }
        return {outcome.weight, median(outcome.margins_db).value_or(0.0)};
    }

    [[nodiscard]] link::Station relay_station(const Candidate& candidate) const {
        link::Station relay = question_.relay;
        relay.position = candidate.position;
        return relay;
    }

    [[nodiscard]] bool add_relay(State& state, Pull& done) {
        state.relay = on_foot() ? relay_on_foot(state) : relay_for_places(state);
        if (!state.relay) {
            return false;
        }
        const geo::GeodesicPath line =
            geo::geodesic_between(state.here.position, state.relay->position);
        done.distance_m = line.distance_m;
        done.bearing_deg = line.bearing_deg;
        done.position = state.relay->position;
        return true;
    }

    [[nodiscard]] std::optional<Candidate> relay_for_places(const State& state) {
        auto search = link::made_in<RelayQuestion>(question_);
        search.relay = question_.relay;
        search.wanted_margin_db = search.backbone_margin_db = question_.wanted_margin_db;
        search.connected = true;
        search.bases = {state.here};
        const RelayAnswer answer =
            search_relays(question_.relay_candidates, state.there, search, quiet_);
        task_.throw_if_stopped();
        return answer.sites.empty() ? std::nullopt : std::optional(answer.sites[0].candidate);
    }

    /// Of the candidates that are linked with here, the one with the best range of those few that
    /// see the most.
    [[nodiscard]] std::optional<Candidate> relay_on_foot(const State& state) {
        constexpr std::size_t tried = 6;
        std::vector<Candidate> linked;
        for (const Candidate& candidate : question_.relay_candidates) {
            if (predictor_.margins(state.here, relay_station(candidate)).least_db() >=
                question_.wanted_margin_db) {
                linked.push_back(candidate);
            }
        }
        std::stable_sort(linked.begin(), linked.end(), [](const Candidate& a, const Candidate& b) {
            return a.view_share > b.view_share;
        });
        linked.resize(std::min(linked.size(), tried));
        std::optional<Candidate> best;
        double best_m = -1.0;
        for (const Candidate& candidate : linked) {
            const double typical_m =
                range_around(relay_station(candidate), state.there.front().station).typical_m;
            if (typical_m > best_m) {
                best_m = typical_m;
                best = candidate;
            }
        }
        return best;
    }

    [[nodiscard]] const FootLosses& losses_around(const link::Station& site, double other_m) {
        const auto key = std::tuple(site.position.lat_deg, site.position.lon_deg,
                                    site.antenna_height_m, other_m);
        const auto known = losses_.find(key);
        if (known != losses_.end()) {
            return known->second;
        }
        auto request = link::made_in<FootRequest>(question_);
        request.range_m = question_.range_m;
        request.site_antenna_m = site.antenna_height_m;
        request.other_antenna_m = other_m;
        return losses_.emplace(key, foot_losses(site.position, request, quiet_)).first->second;
    }

    [[nodiscard]] FootRange range_around(const link::Station& site, const link::Station& other) {
        return foot_range(losses_around(site, other.antenna_height_m), site.radio, other.radio,
                          question_.wanted_margin_db);
    }

    [[nodiscard]] Outcome outcome(const State& state) {
        Outcome result;
        std::optional<link::Station> relay;
        double to_relay_db = 0.0;
        if (state.relay) {
            relay = relay_station(*state.relay);
            to_relay_db = predictor_.margins(state.here, *relay).least_db();
        }
        if (on_foot()) {
            const link::Station& person = state.there.front().station;
            result.range = range_around(state.here, person);
            if (relay && to_relay_db >= question_.wanted_margin_db) {
                FootRange around = range_around(*relay, person);
                if (around.typical_m > result.range->typical_m) {
                    result.range = std::move(around);
                }
            }
            return result;
        }
        for (const ServedPlace& place : state.there) {
            double margin_db = predictor_.margins(state.here, place.station).least_db();
            if (relay) {
                const double over_db =
                    std::min(to_relay_db, predictor_.margins(*relay, place.station).least_db());
                if (!(margin_db >= over_db) && !std::isnan(over_db)) {
                    margin_db = over_db;
                }
            }
            result.margins_db.push_back(margin_db);
            if (margin_db >= question_.wanted_margin_db) {
                ++result.places;
                result.weight += place.weight;
            }
        }
        return result;
    }

    /// Budget of both ways without the path, the weaker one.
    [[nodiscard]] static double budget_db(const State& state) {
        return margin_without_path_db(state.here.radio, state.there.front().station.radio);
    }

    /// What has changed at the typical range of `before`: budget and the median of the losses.
    [[nodiscard]] std::optional<double> gain_on_foot(const State& now, const State& before,
                                                     const Outcome& was) {
        if (now.relay.has_value() != before.relay.has_value()) {
            return std::nullopt;
        }
        const FootLosses& a =
            losses_around(before.here, before.there.front().station.antenna_height_m);
        const FootLosses& b = losses_around(now.here, now.there.front().station.antenna_height_m);
        const auto at = static_cast<std::size_t>(
            std::max(0.0, std::round(was.range->typical_m / a.spacing_m) - 1.0));
        std::vector<double> fallen;
        for (std::size_t r = 0; r < a.radials.size(); ++r) {
            if (at < a.radials[r].out_db.size() && at < b.radials[r].out_db.size()) {
                const auto worse = [at](const FootRadial& radial) {
                    return static_cast<double>(std::max(radial.out_db[at], radial.back_db[at]));
                };
                fallen.push_back(worse(a.radials[r]) - worse(b.radials[r]));
            }
        }
        return budget_db(now) - budget_db(before) + median(fallen).value_or(0.0);
    }

    [[nodiscard]] Rung rung(const std::optional<Pull>& pull, const State& state, const Outcome& now,
                            const State& before, const Outcome& was) {
        Rung rung;
        rung.pull = pull;
        rung.places = now.places;
        rung.weight = now.weight;
        rung.range = now.range;
        if (now.margins_db.size() == 1) {
            rung.margin_db = now.margins_db.front();
        }
        if (!pull) {
            return rung;
        }
        if (on_foot()) {
            rung.gain_db = gain_on_foot(state, before, was);
            return rung;
        }
        std::vector<double> gains;
        for (std::size_t k = 0; k < now.margins_db.size(); ++k) {
            gains.push_back(now.margins_db[k] - was.margins_db[k]);
        }
        rung.gain_db = median(gains);
        return rung;
    }

    const terrain::HeightGrid& ground_;
    const LadderQuestion& question_;
    Task& task_;
    QuietTask quiet_; ///< for the searches and ranges that a rung asks for
    link::PathPredictor predictor_;
    std::map<std::tuple<double, double, double, double>, FootLosses> losses_;
};

} // namespace

double next_power_dbm(const LadderQuestion& question) {
    double weakest_dbm = question.here.radio.power_dbm;
    for (const ServedPlace& place : question.there) {
        weakest_dbm = std::min(weakest_dbm, place.station.radio.power_dbm);
    }
    if (question.there.empty()) {
        weakest_dbm = std::min(weakest_dbm, question.person.radio.power_dbm);
    }
    constexpr double alike_db = 0.5;
    for (const double power_w : {0.5, 1.0, 2.0, 5.0, 10.0, 25.0, 50.0, 100.0}) {
        if (geo::dbm_from_watts(power_w) > weakest_dbm + alike_db) {
            return geo::dbm_from_watts(power_w);
        }
    }
    return weakest_dbm;
}

std::vector<Candidate> relay_ground_near(const terrain::HeightGrid& ground,
                                         const link::Station& here, double within_m, Task& task) {
    terrain::Shapes around;
    around.label = here.name;
    around.points = {here.position};
    const Constraint near = within_distance(around, within_m);
    CandidateOptions options;
    options.most = 500;
    CandidateSet set = find_candidates(ground, {&near, 1}, options, task);
    task.throw_if_stopped();
    return std::move(set.candidates);
}

LadderAnswer climb_ladder(const LadderQuestion& question, Task& task) {
    check(*question.ground, question);
    return Ladder(question, task).climb();
}

} // namespace earshot::plan
