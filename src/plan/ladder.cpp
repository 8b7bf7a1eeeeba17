#include "plan/ladder.hpp"

#include "base/require.hpp"
#include "earshot/geo/position.hpp"
#include "link/quality.hpp"
#include "link/receiver_noise.hpp"
#include "plan/candidates.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>
#include <tuple>
#include <utility>

namespace earshot::plan {
namespace {

/// All levers and their effort, the least first.
constexpr std::array lever_table{
    std::pair{Lever::channel, 0.25},     std::pair{Lever::hold_here, 0.5},
    std::pair{Lever::hold_there, 0.5},   std::pair{Lever::move, 1.0},
    std::pair{Lever::antenna_here, 2.0}, std::pair{Lever::antenna_there, 2.0},
    std::pair{Lever::raise_here, 3.0},   std::pair{Lever::raise_there, 3.0},
    std::pair{Lever::power, 4.0},        std::pair{Lever::relay, 10.0},
};

bool is_there(Lever lever) {
    return lever == Lever::hold_there || lever == Lever::antenna_there ||
           lever == Lever::raise_there;
}

std::optional<double> median(std::vector<double> values) {
    std::erase_if(values, [](double value) { return std::isnan(value); });
    if (values.empty()) {
        return std::nullopt;
    }
    std::sort(values.begin(), values.end());
    const std::size_t half = values.size() / 2;
    return values.size() % 2 == 1 ? values[half] : (values[half - 1] + values[half]) / 2.0;
}

/// A handheld with the antenna that is screwed on it, or one of which nothing is said.
bool is_held(const link::Station& station) {
    return station.antenna_height_m <= link::held_up_to_m &&
           (station.radio.antenna.empty() || link::is_on_radio(station.radio.antenna));
}

/// The stations as the levers pulled so far have left them.
struct State {
    link::Station here;
    std::vector<ServedPlace> there; ///< without places: the person who walks
    std::optional<Candidate> relay;
    bool repeated = false; ///< over the repeater at hand
};

/// What a state reaches.
struct Outcome {
    std::vector<double> margins_db; ///< place by place, the better of direct and over the relay
    std::size_t places = 0;
    std::size_t in_doubt = 0;
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
    require_usage(!question.better_antenna_db || *question.better_antenna_db > 0.0,
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
        State start{question_.here, question_.there, std::nullopt, false};
        if (on_foot()) {
            link::Station person = question_.person;
            person.position = question_.here.position;
            start.there = {{person, 1.0}};
        }
        const Outcome at_start = outcome(start);
        LadderAnswer answer;
        answer.wanted_margin_db = question_.wanted_margin_db;
        answer.places = question_.there.size();
        answer.start = rung(std::nullopt, start, at_start, start, at_start);
        task_.begin("ladder", 2 * lever_table.size());
        answer.alone = each_alone(start, at_start);
        std::stable_sort(answer.alone.begin(), answer.alone.end(),
                         [](const Rung& a, const Rung& b) { return worth(a) > worth(b); });
        answer.help = least_help(answer.alone, start, at_start);
        State state = start;
        Outcome before = at_start;
        for (const Rung& alone : answer.alone) {
            task_.throw_if_stopped();
            const State last = state;
            // One relay is put up, so it stays on its site.
            std::optional<Pull> done = alone.pull;
            if (alone.pulls(Lever::relay)) {
                repeat(*alone.pull, state);
            } else {
                done = pull(alone.pull->lever, state);
            }
            const Outcome now = outcome(state);
            Rung stacked = rung(done, state, now, last, before);
            if (done && brings(stacked, now, before)) {
                stacked.effort = alone.effort;
                answer.stacked.push_back(std::move(stacked));
                before = now;
            } else {
                state = last;
            }
            task_.advance(1);
        }
        task_.end();
        return answer;
    }

    /// The least that helps, of the levers at this end.
    [[nodiscard]] std::optional<Help> help() {
        const State start{question_.here, question_.there, std::nullopt, false};
        const Outcome at_start = outcome(start);
        return least_help(each_alone(start, at_start), start, at_start);
    }

private:
    [[nodiscard]] bool on_foot() const { return question_.there.empty(); }

    /// Decibels for the effort. A relay without places has no decibels: it comes last, as the
    /// lever of most effort.
    static double worth(const Rung& rung) { return rung.gain_db.value_or(0.0) / rung.effort; }

    /// Whether a step is worth listing.
    [[nodiscard]] static bool brings(const Rung& rung, const Outcome& now, const Outcome& before) {
        constexpr double least_db = 0.05;
        return rung.gain_db.value_or(0.0) >= least_db || now.weight > before.weight ||
               (now.range && now.range->typical_m > before.range->typical_m);
    }

    /// Each lever that brings anything, by itself; the least effort first.
    [[nodiscard]] std::vector<Rung> each_alone(const State& start, const Outcome& at_start) {
        std::vector<Rung> rungs;
        for (const auto& [lever, effort] : lever_table) {
            task_.throw_if_stopped();
            State state = start;
            if (const std::optional<Pull> done = pull(lever, state)) {
                const Outcome now = outcome(state);
                Rung alone = rung(done, state, now, start, at_start);
                alone.effort = effort;
                if (brings(alone, now, at_start)) {
                    rungs.push_back(std::move(alone));
                }
            }
            task_.advance(1);
        }
        return rungs;
    }

    /// Tries the steps alone, then two and three at a time, then all, the least effort first; with
    /// a relay only where nothing else does it.
    [[nodiscard]] std::optional<Help> least_help(const std::vector<Rung>& alone, const State& start,
                                                 const Outcome& at_start) {
        if (on_foot() || at_start.places == question_.there.size()) {
            return std::nullopt;
        }
        constexpr double relays_apart = 1000.0;
        constexpr std::size_t most_at_once = 3;
        struct Stack {
            double effort = 0.0;
            std::vector<const Rung*> rungs;
        };
        std::vector<Stack> stacks;
        for (std::size_t set = 1; set < std::size_t{1} << alone.size(); ++set) {
            Stack stack;
            for (std::size_t k = 0; k < alone.size(); ++k) {
                if ((set >> k & 1U) != 0) {
                    stack.rungs.push_back(&alone[k]);
                    stack.effort += alone[k].effort;
                    stack.effort += alone[k].pulls(Lever::relay) ? relays_apart : 0.0;
                }
            }
            if (stack.rungs.size() <= most_at_once || stack.rungs.size() == alone.size()) {
                stacks.push_back(std::move(stack));
            }
        }
        std::stable_sort(stacks.begin(), stacks.end(),
                         [](const Stack& a, const Stack& b) { return a.effort < b.effort; });
        for (const Stack& stack : stacks) {
            task_.throw_if_stopped();
            State state = start;
            Help help;
            for (const Rung* rung : stack.rungs) {
                help.pulls.push_back(*rung->pull);
                repeat(*rung->pull, state);
            }
            const Outcome now = outcome(state);
            if (now.weight <= at_start.weight) {
                continue;
            }
            help.then = rung(help.pulls.front(), state, now, start, at_start);
            help.then.effort = stack.effort;
            for (std::size_t k = 0; k < now.margins_db.size(); ++k) {
                if (now.margins_db[k] >= question_.wanted_margin_db &&
                    !(at_start.margins_db[k] >= question_.wanted_margin_db)) {
                    help.reached.push_back(question_.there[k].station.name);
                }
            }
            return help;
        }
        return std::nullopt;
    }

    /// Does again what was done, without a search.
    void repeat(const Pull& done, State& state) {
        if (done.lever == Lever::move) {
            state.here.position =
                geo::geodesic_destination(state.here.position, done.bearing_deg, done.distance_m);
        } else if (done.lever == Lever::relay) {
            state.relay.emplace();
            state.relay->position = done.position;
        } else {
            (void)pull(done.lever, state);
        }
    }

    /// Changes the state. Returns what was done, nothing if the lever changes nothing.
    [[nodiscard]] std::optional<Pull> pull(Lever lever, State& state) {
        if (question_.here_only && (is_there(lever) || lever == Lever::relay)) {
            return std::nullopt;
        }
        Pull done;
        done.lever = lever;
        done.raised_m = question_.raised_m;
        const auto each_there = [&](const auto& change) {
            bool any = false;
            for (ServedPlace& place : state.there) {
                any = change(place.station) || any;
            }
            return any;
        };
        const auto hold = [&](link::Station& station) {
            const auto held = link::hold_at_face(station, question_.conditions.frequency_mhz);
            done.worn = held ? held->from : done.worn;
            return held.has_value();
        };
        const auto better = [&](link::Station& station) { return better_antenna(station, done); };
        const auto higher = [&](link::Station& station) {
            return raise_antenna(station, question_.raised_m, question_.antennas, &done.antenna);
        };
        bool changed = false;
        switch (lever) {
        case Lever::channel:
            changed = question_.repeater && !on_foot();
            state.repeated = changed;
            if (changed) {
                done.channel = question_.repeater->channel;
                done.repeater = question_.repeater->name;
            }
            break;
        case Lever::hold_here:
            changed = hold(state.here);
            break;
        case Lever::hold_there:
            changed = each_there(hold);
            break;
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

    /// Puts on the best antenna at hand that the station can hold or has up already.
    [[nodiscard]] bool better_antenna(link::Station& station, Pull& done) const {
        constexpr double worth_it_db = 0.5;
        link::Radio& radio = station.radio;
        double best_dbi = radio.antenna_gain_dbi + question_.better_antenna_db.value_or(0.0);
        std::string best = radio.antenna;
        for (const AntennaChoice& choice : question_.antennas) {
            if (!question_.better_antenna_db && choice.gain_dbi > best_dbi &&
                (choice.on_radio || !is_held(station)) && choice.fits(station)) {
                best_dbi = choice.gain_dbi;
                best = choice.name;
            }
        }
        const double better_db = best_dbi - radio.antenna_gain_dbi;
        if (better_db < worth_it_db) {
            return false;
        }
        if (best != radio.antenna) {
            done.antenna = best;
        }
        done.better_db = std::max(done.better_db, better_db);
        radio.antenna = best;
        radio.antenna_gain_dbi = best_dbi;
        link::renew_noise(radio);
        return true;
    }

    [[nodiscard]] bool more_power(State& state, Pull& done) const {
        double weakest_dbm = std::numeric_limits<double>::infinity();
        const auto turned_up = [&](link::Radio& radio) {
            double most_dbm = question_.power_dbm.value_or(radio.power_dbm);
            for (const double power_dbm : radio.powers_dbm) {
                most_dbm = question_.power_dbm ? most_dbm : std::max(most_dbm, power_dbm);
            }
            if (most_dbm <= radio.power_dbm) {
                return false;
            }
            if (radio.power_dbm < weakest_dbm) {
                weakest_dbm = radio.power_dbm;
                done.from_dbm = radio.power_dbm;
                done.to_dbm = most_dbm;
            }
            radio.power_dbm = most_dbm;
            return true;
        };
        done.here = turned_up(state.here.radio);
        done.there = false;
        for (ServedPlace& place : state.there) {
            done.there = (!question_.here_only && turned_up(place.station.radio)) || done.there;
        }
        return done.here || done.there;
    }

    [[nodiscard]] bool in_woods(const link::Station& station) const {
        const terrain::GroundCover* cover = question_.layers.cover;
        const terrain::CellPosition cell = ground_.georeference.cell_of(station.position);
        return cover != nullptr && cover->woodland(cell) &&
               station.antenna_height_m < cover->height_m(cell);
    }

    /// Tries eight directions; from among trees also farther out, to where there are none.
    [[nodiscard]] bool move(State& state, Pull& done) {
        constexpr int directions = 8;
        const bool among_trees = in_woods(state.here);
        State best = state;
        auto best_score = score(outcome(state));
        bool moves = false;
        for (const double times : {1.0, 2.0, 4.0}) {
            for (int k = 0; k < directions && (times == 1.0 || among_trees); ++k) {
                const double bearing_deg = 360.0 * k / directions;
                State moved = state;
                moved.here.position = geo::geodesic_destination(state.here.position, bearing_deg,
                                                                times * question_.move_m);
                const bool clear = among_trees && !in_woods(moved.here);
                if (std::isnan(ground_.sample(moved.here.position)) || (times > 1.0 && !clear)) {
                    continue;
                }
                const auto moved_score = score(outcome(moved));
                if (moved_score > best_score) {
                    best_score = moved_score;
                    best = moved;
                    done.distance_m = times * question_.move_m;
                    done.bearing_deg = bearing_deg;
                    done.out_of_woods = clear;
                    moves = true;
                }
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

    /// A path, or two over a relay: the weaker way's margin, and whether two models part on it.
    struct Way {
        double margin_db = 0.0;
        bool in_doubt = false;
    };

    [[nodiscard]] Way way(const link::Station& a, const link::Station& b) {
        const link::PathMargins margins = predictor_.margins(a, b, true);
        return {margins.least_db(),
                link::try_first(margins.least_db(), margins.apart_db, question_.wanted_margin_db)};
    }

    [[nodiscard]] Outcome outcome(const State& state) {
        Outcome result;
        std::optional<link::Station> relay;
        Way to_relay;
        if (state.relay) {
            relay = relay_station(*state.relay);
            to_relay = way(state.here, *relay);
        }
        if (on_foot()) {
            const link::Station& person = state.there.front().station;
            result.range = range_around(state.here, person);
            if (relay && to_relay.margin_db >= question_.wanted_margin_db) {
                FootRange around = range_around(*relay, person);
                if (around.typical_m > result.range->typical_m) {
                    result.range = std::move(around);
                }
            }
            return result;
        }
        for (std::size_t k = 0; k < state.there.size(); ++k) {
            const ServedPlace& place = state.there[k];
            Way best = way(state.here, place.station);
            if (state.repeated && question_.repeater->margins_db[k] > best.margin_db) {
                best = {question_.repeater->margins_db[k], false};
            }
            if (relay) {
                const Way on = way(*relay, place.station);
                const Way over{std::min(to_relay.margin_db, on.margin_db),
                               to_relay.in_doubt || on.in_doubt};
                if (!(best.margin_db >= over.margin_db) && !std::isnan(over.margin_db)) {
                    best = over;
                }
            }
            const double margin_db = best.margin_db;
            result.in_doubt += best.in_doubt ? 1 : 0;
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
        rung.in_doubt = now.in_doubt;
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

bool AntennaChoice::fits(const link::Station& station) const {
    return radios.empty() || station.antenna_height_m > link::held_up_to_m ||
           std::find(radios.begin(), radios.end(), station.radio.kind) != radios.end();
}

std::vector<AntennaChoice> antennas_of(const scenario::Scenario& scenario, std::size_t channel) {
    const scenario::Tuned& tuned = scenario.air.heard[channel];
    std::vector<AntennaChoice> choices;
    for (const scenario::OwnAntenna& own : scenario.antennas) {
        if (own.lowest_mhz <= tuned.frequency_mhz && tuned.frequency_mhz <= own.highest_mhz) {
            choices.push_back({own.name, own.gain_dbi, link::is_on_radio(own.name), {}});
        }
    }
    const auto add_of = [&](const link::Station& station) {
        const link::Radio& radio = station.radio;
        if (radio.antenna.empty()) {
            return;
        }
        auto known = std::find_if(choices.begin(), choices.end(), [&](const AntennaChoice& choice) {
            return choice.name == radio.antenna;
        });
        if (known == choices.end()) {
            choices.push_back(
                {radio.antenna, radio.antenna_gain_dbi, link::is_on_radio(radio.antenna), {}});
            known = std::prev(choices.end());
        }
        known->on_radio = known->on_radio || station.antenna_height_m <= link::held_up_to_m;
        known->radios.push_back(radio.kind);
    };
    for (std::size_t station = 0; station < tuned.stations.size(); ++station) {
        if (scenario.air.has(station, channel)) {
            add_of(tuned.stations[station]);
        }
    }
    for (const scenario::CarriedRadio& carried : tuned.set_ups) {
        add_of(carried.station);
    }
    if (tuned.listener) {
        add_of(*tuned.listener);
    }
    return choices;
}

std::vector<AntennaChoice> usual_antennas(double frequency_mhz) {
    std::vector<AntennaChoice> choices;
    for (const link::Antenna& antenna : link::antennas()) {
        if (const auto band = antenna.gain_at(frequency_mhz)) {
            choices.push_back({std::string(antenna.name), band->gain_dbi, antenna.on_radio, {}});
        }
    }
    return choices;
}

bool raise_antenna(link::Station& station, double height_m, std::span<const AntennaChoice> choices,
                   std::string* antenna) {
    if (station.antenna_height_m >= height_m) {
        return false;
    }
    link::Radio& radio = station.radio;
    if (height_m > link::held_up_to_m) {
        if (link::is_on_radio(radio.antenna)) {
            const AntennaChoice* best = nullptr;
            for (const AntennaChoice& choice : choices) {
                if (!choice.on_radio && choice.fits(station) &&
                    (best == nullptr || choice.gain_dbi > best->gain_dbi)) {
                    best = &choice;
                }
            }
            if (best == nullptr) {
                return false;
            }
            radio.antenna = best->name;
            radio.antenna_gain_dbi = best->gain_dbi;
            if (antenna != nullptr) {
                *antenna = best->name;
            }
        }
        radio.body_loss_db = 0.0;
    }
    station.antenna_height_m = height_m;
    link::renew_noise(radio);
    return true;
}

namespace {

/// The channel that costs nothing and reaches most of those that a station does not talk with on
/// the first that it has.
std::optional<Help> other_channel(const scenario::Scenario& scenario, std::span<const Pair> pairs,
                                  std::size_t station) {
    const scenario::Air& air = scenario.air;
    std::map<std::pair<std::size_t, std::size_t>, std::vector<std::string>> reached;
    for (const Pair& pair : pairs) {
        if ((pair.a != station && pair.b != station) || !pair.talk()) {
            continue;
        }
        const bool repeated = pair.repeated();
        const std::size_t channel = !repeated           ? pair.channel
                                    : pair.a == station ? pair.through->from_a
                                                        : pair.through->from_b;
        if (repeated || channel != air.channels_of[station].front()) {
            reached[{channel, repeated ? pair.through->repeater : no_channel}].push_back(
                scenario.stations[pair.a == station ? pair.b : pair.a].name);
        }
    }
    std::optional<Help> best;
    for (const auto& [way, names] : reached) {
        if (!best || names.size() > best->reached.size()) {
            Pull pull;
            pull.lever = Lever::channel;
            pull.channel = air.channels[way.first].name;
            pull.repeater = way.second == no_channel ? "" : scenario.stations[way.second].name;
            best.emplace();
            best->pulls = {pull};
            best->reached = names;
        }
    }
    return best;
}

} // namespace

std::optional<RepeaterAtHand> repeater_for(const scenario::Scenario& scenario,
                                           std::span<const Pair> pairs, const std::string& here,
                                           std::span<const std::string> there) {
    std::map<std::size_t, RepeaterAtHand> repeaters;
    std::map<std::size_t, std::size_t> carried;
    for (const Pair& pair : pairs) {
        const std::vector<link::Station>& all = scenario.air.heard.front().stations;
        const std::string& a = all[pair.a].name;
        const std::string& b = all[pair.b].name;
        const auto place = std::find(there.begin(), there.end(), a == here ? b : a);
        if ((a != here && b != here) || place == there.end() || !pair.through) {
            continue;
        }
        RepeaterAtHand& repeater = repeaters[pair.through->repeater];
        repeater.name = all[pair.through->repeater].name;
        repeater.channel =
            scenario.air.channels[a == here ? pair.through->from_a : pair.through->from_b].name;
        repeater.margins_db.resize(there.size(), std::numeric_limits<double>::quiet_NaN());
        repeater.margins_db[static_cast<std::size_t>(place - there.begin())] =
            pair.through->margin_db;
        carried[pair.through->repeater] += pair.through->heard ? 1 : 0;
    }
    const auto most = std::max_element(carried.begin(), carried.end(),
                                       [](auto a, auto b) { return a.second < b.second; });
    return most == carried.end() ? std::nullopt : std::optional(repeaters[most->first]);
}

std::vector<std::optional<Help>> help_stations(const scenario::Scenario& scenario,
                                               std::span<const Pair> pairs,
                                               const HearingRequest& request, Task& task) {
    constexpr std::size_t most_others = 8; // those that lack the least
    const scenario::Air& air = scenario.air;
    std::vector<std::vector<const Pair*>> lacking(scenario.stations.size());
    for (const Pair& pair : pairs) {
        if (pair.known() && !pair.talk() && !pair.with_repeater() && pair.channel != no_channel) {
            lacking[pair.a].push_back(&pair);
            lacking[pair.b].push_back(&pair);
        }
    }
    std::vector<std::optional<Help>> helps(scenario.stations.size());
    task.begin("looking for what would help", helps.size());
    for (std::size_t station = 0; station < helps.size(); ++station) {
        helps[station] = other_channel(scenario, pairs, station);
        std::vector<const Pair*>& others = lacking[station];
        std::sort(others.begin(), others.end(), [](const Pair* a, const Pair* b) {
            return a->weaker_margin_db() > b->weaker_margin_db();
        });
        if (!helps[station] && !others.empty()) {
            // On the channel where the least is lacking.
            const std::size_t channel = others.front()->channel;
            std::erase_if(others, [&](const Pair* pair) { return pair->channel != channel; });
            others.resize(std::min(others.size(), most_others));
            const scenario::Tuned& tuned = air.heard[channel];
            auto question = link::made_in<LadderQuestion>(
                scenario::setting_on(scenario, request, tuned.frequency_mhz));
            question.here = tuned.stations[station];
            question.wanted_margin_db = request.wanted_margin_db;
            question.antennas = antennas_of(scenario, channel);
            question.here_only = true;
            for (const Pair* pair : others) {
                question.there.push_back(
                    {tuned.stations[pair->a == station ? pair->b : pair->a], 1.0});
            }
            helps[station] = Ladder(question, task).help();
        }
        task.advance(1);
    }
    return helps;
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
