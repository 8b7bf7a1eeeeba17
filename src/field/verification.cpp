#include "field/verification.hpp"

#include "base/named.hpp"
#include "geo/units.hpp"
#include "maths/ordinal_fit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <limits>
#include <map>
#include <set>
#include <string_view>
#include <utility>

namespace earshot::field {
namespace {

constexpr std::size_t least_stops = 3;
constexpr double not_a_number = std::numeric_limits<double>::quiet_NaN();

// A prior so wide that it only tells when the calls say nothing: a bias or a gain of 20 dB is
// nothing unusual to it.
constexpr double prior_db = 20.0;
// An estimate half as uncertain as before any call was made is none.
constexpr double most_error_db = prior_db / 2.0;
// Shadowing from stop to stop and fading from call to call; half to twice as much is likely.
// Common practice, no source.
constexpr maths::SpreadPrior stop_spread{6.0, 0.7};
constexpr maths::SpreadPrior call_spread{4.0, 0.7};

double share(std::size_t part, std::size_t whole) {
    return whole == 0 ? not_a_number : static_cast<double>(part) / static_cast<double>(whole);
}

std::size_t count_stops(std::span<const ComparedCall> calls) {
    Numbering stops;
    for (const ComparedCall& call : calls) {
        stops(call.stop);
    }
    return stops.size();
}

maths::OrdinalModel margin_model(std::vector<std::string> terms) {
    maths::OrdinalModel model;
    for (std::string& name : terms) {
        model.terms.push_back({std::move(name), prior_db});
    }
    model.limits = score_limits_db();
    model.error = call_spread;
    model.group = stop_spread;
    return model;
}

maths::Observation observation_of(const ComparedCall& call, double predicted_db,
                                  std::vector<double> x, std::size_t stop) {
    maths::Observation result;
    result.predicted = predicted_db;
    result.x = std::move(x);
    result.group = stop;
    if (call.level_dbm) {
        result.reading = *call.level_dbm - call.needed_dbm;
        result.reading_deviation = level_reading_deviation_db;
    } else {
        result.score = call.score;
    }
    return result;
}

/// Whether there is more than "at least" or "at most" in what was heard.
bool bounded(std::span<const maths::Observation> observations) {
    const auto all_scored = [&](int score) {
        return std::all_of(observations.begin(), observations.end(),
                           [&](const maths::Observation& o) { return o.score == score; });
    };
    return !all_scored(static_cast<int>(link::Readability::nothing)) &&
           !all_scored(static_cast<int>(link::Readability::clear));
}

/// Empty if the calls cannot tell.
std::optional<Measured> measured(const maths::OrdinalFit& fit,
                                 std::span<const maths::Observation> observations, std::size_t term,
                                 std::size_t stops) {
    const maths::Estimate& estimate = fit.terms[term];
    if (!fit.converged || !bounded(observations) || stops < least_stops ||
        !(estimate.standard_error < most_error_db)) {
        return std::nullopt;
    }
    const double half_width = estimate.standard_error * maths::student_factor(stops);
    return Measured{estimate.value, {estimate.value - half_width, estimate.value + half_width}};
}

/// Of a margin between two classes the lower one is wanted.
link::Readability wanted_class(double wanted_margin_db) {
    return link::readability(wanted_margin_db).readability;
}

CallGroup group_of(std::string label, std::span<const ComparedCall> calls,
                   double wanted_margin_db) {
    CallGroup group;
    group.label = std::move(label);
    Numbering stops;
    std::vector<std::size_t> right;
    std::vector<std::size_t> all;
    for (const ComparedCall& call : calls) {
        const std::size_t stop = stops(call.stop);
        right.resize(stops.size());
        all.resize(stops.size());
        const bool predicted = call.margin_db >= wanted_margin_db;
        const bool was_heard = heard(call, wanted_margin_db);
        group.table.add(predicted, was_heard);
        ++all[stop];
        right[stop] += predicted == was_heard ? 1U : 0U;
    }
    group.stops = stops.size();
    group.right = maths::share_interval(right, all);
    group.bias = bias_of(calls);
    return group;
}

double mean_margin_db(std::span<const ComparedCall* const> calls) {
    double sum = 0.0;
    for (const ComparedCall* call : calls) {
        sum += call->median_margin_db;
    }
    return sum / static_cast<double>(calls.size());
}

/// Calls parted by a label, in the order of `order`.
Grouping grouping(std::string title, std::span<const ComparedCall> calls, double wanted_margin_db,
                  const std::function<std::pair<std::size_t, std::string>(const ComparedCall&)>&
                      order_and_label) {
    std::map<std::pair<std::size_t, std::string>, std::vector<ComparedCall>> parts;
    for (const ComparedCall& call : calls) {
        parts[order_and_label(call)].push_back(call);
    }
    Grouping result{std::move(title), {}};
    for (const auto& [key, part] : parts) {
        result.groups.push_back(group_of(key.second, part, wanted_margin_db));
    }
    return result;
}

std::pair<std::size_t, std::string> distance_band(const ComparedCall& call) {
    constexpr std::array bounds{1, 2, 5, 10, 20};
    const bool miles = geo::units() == geo::Units::imperial;
    const double distance = call.distance_m / (miles ? geo::metres_per_mile : 1000.0);
    const std::string_view unit = miles ? "mi" : "km";
    const auto upper =
        std::find_if(bounds.begin(), bounds.end(), [&](int bound) { return distance < bound; });
    const auto index = static_cast<std::size_t>(upper - bounds.begin());
    if (index == 0) {
        return {index, fmt::format("less than {} {}", bounds.front(), unit)};
    }
    if (upper == bounds.end()) {
        return {index, fmt::format("{} {} and more", bounds.back(), unit)};
    }
    return {index, fmt::format("{} to {} {}", bounds[index - 1], *upper, unit)};
}

/// Numbers for set-ups, from the one that is predicted to be the weakest.
std::map<std::string, std::size_t> set_ups_by_margin(std::span<const ComparedCall> calls) {
    std::map<std::string, std::vector<const ComparedCall*>> by_name;
    for (const ComparedCall& call : calls) {
        by_name[call.set_up.name].push_back(&call);
    }
    std::vector<std::pair<double, std::string>> order;
    order.reserve(by_name.size());
    for (const auto& [name, of] : by_name) {
        order.emplace_back(mean_margin_db(of), name);
    }
    std::sort(order.begin(), order.end());
    std::map<std::string, std::size_t> rank;
    for (const auto& [margin_db, name] : order) {
        rank.emplace(name, rank.size());
    }
    return rank;
}

std::vector<Grouping> groupings_of(std::span<const ComparedCall> calls, double wanted_margin_db) {
    const std::map<std::string, std::size_t> rank = set_ups_by_margin(calls);
    const auto by = [&](const char* title, const auto& label) {
        return grouping(title, calls, wanted_margin_db, label);
    };
    std::vector<Grouping> all;
    all.push_back(by("set-up", [&](const ComparedCall& call) {
        return std::pair(rank.at(call.set_up.name), call.set_up.name);
    }));
    all.push_back(by("direction", [](const ComparedCall& call) {
        return std::pair(static_cast<std::size_t>(call.direction),
                         std::string(name_of(call.direction)));
    }));
    all.push_back(by("distance", distance_band));
    all.push_back(by("woods", [](const ComparedCall& call) {
        return std::pair<std::size_t, std::string>(call.in_woods ? 1 : 0,
                                                   call.in_woods ? "in woods" : "in the open");
    }));
    all.push_back(by("sight", [](const ComparedCall& call) {
        return std::pair<std::size_t, std::string>(
            call.line_of_sight ? 0 : 1, call.line_of_sight ? "line of sight" : "no line of sight");
    }));
    std::erase_if(all, [](const Grouping& g) { return g.groups.size() < 2; });
    return all;
}

// ---- levers -------------------------------------------------------------------------------------

/// What is the same in all calls with a set-up.
struct SetUpSeen {
    std::string name;
    ComparedCall example;
};

/// In what two set-ups differ, if in anything.
std::optional<SetUpChange> change_between(const ComparedCall& a, const ComparedCall& b) {
    constexpr double same = 0.05; // dB or m
    std::vector<SetUpChange> found;
    if (std::abs(a.mover_power_dbm - b.mover_power_dbm) > same) {
        found.push_back(SetUpChange::power);
    }
    if (a.antenna != b.antenna || std::abs(a.mover_gain_dbi - b.mover_gain_dbi) > same) {
        found.push_back(SetUpChange::antenna);
    }
    if (std::abs(a.mover_height_m - b.mover_height_m) > same) {
        found.push_back(SetUpChange::height);
    }
    if (std::abs(a.mover_body_db - b.mover_body_db) > same) {
        found.push_back(SetUpChange::carried);
    }
    if (found.empty()) {
        return std::nullopt;
    }
    return found.size() == 1 ? found.front() : SetUpChange::several;
}

/// Calls of two set-ups at one stop in one direction.
struct Pairing {
    std::vector<const ComparedCall*> weaker, stronger;

    [[nodiscard]] bool complete() const { return !weaker.empty() && !stronger.empty(); }
};

std::map<std::pair<std::string, CallDirection>, Pairing>
pairings_of(SetUpChange change, const SetUpSeen& from, const SetUpSeen& to,
            std::span<const ComparedCall> calls) {
    std::map<std::pair<std::string, CallDirection>, Pairing> pairings;
    for (const ComparedCall& call : calls) {
        // The power of the mover cannot help the base to be heard.
        if (change == SetUpChange::power && call.direction == CallDirection::to_mover) {
            continue;
        }
        Pairing& pairing = pairings[{call.stop, call.direction}];
        if (call.set_up.name == from.name) {
            pairing.weaker.push_back(&call);
        } else if (call.set_up.name == to.name) {
            pairing.stronger.push_back(&call);
        }
    }
    return pairings;
}

/// Fills in what follows from the measured gain, if there is one.
void judge(LeverTest& test) {
    if (!test.measured_db) {
        return;
    }
    const maths::Interval& interval = test.measured_db->interval;
    if (interval.low > 0.0) {
        test.verdict = LeverVerdict::helps;
    } else if (interval.high < 0.0) {
        test.verdict = LeverVerdict::hurts;
    } else if (std::abs(test.predicted_db) > 1.0) {
        const double ratio = 0.5 * (interval.high - interval.low) / std::abs(test.predicted_db);
        test.stops_needed = static_cast<std::size_t>(
            std::ceil(static_cast<double>(test.stops) * std::max(1.0, ratio * ratio)));
    }
}

/// What the calls of `from` and `to` at the same stops say about their difference.
LeverTest lever_test(SetUpChange change, const SetUpSeen& from, const SetUpSeen& to,
                     std::span<const ComparedCall> calls) {
    LeverTest test;
    test.change = change;
    test.from = from.name;
    test.to = to.name;
    Numbering stops;
    std::set<CallDirection> directions;
    std::vector<double> gains_db;
    std::vector<maths::Observation> observations;
    for (const auto& [where, pairing] : pairings_of(change, from, to, calls)) {
        if (!pairing.complete()) {
            continue;
        }
        directions.insert(where.second);
        const double weaker_db = mean_margin_db(pairing.weaker);
        const double stronger_db = mean_margin_db(pairing.stronger);
        gains_db.push_back(stronger_db - weaker_db);
        const std::size_t stop = stops(where.first);
        const double back = where.second == CallDirection::to_mover ? 0.5 : -0.5;
        const auto add = [&](std::span<const ComparedCall* const> of, double side) {
            for (const ComparedCall* call : of) {
                observations.push_back(observation_of(*call, 0.5 * (weaker_db + stronger_db),
                                                      {1.0, side, back}, stop));
            }
        };
        add(pairing.weaker, -0.5);
        add(pairing.stronger, 0.5);
    }
    test.stops = stops.size();
    test.calls = observations.size();
    if (observations.empty()) {
        return test;
    }
    for (const double gain_db : gains_db) {
        test.predicted_db += gain_db / static_cast<double>(gains_db.size());
    }
    std::vector<std::string> terms{"offset", "gain", "direction"};
    if (directions.size() < 2) {
        terms.pop_back();
        for (maths::Observation& o : observations) {
            o.x.pop_back();
        }
    }
    const maths::OrdinalFit fit = maths::fit_ordinal(margin_model(terms), observations);
    test.measured_db = measured(fit, observations, 1, test.stops);
    judge(test);
    return test;
}

std::vector<LeverTest> lever_tests(std::span<const ComparedCall> calls) {
    std::vector<SetUpSeen> set_ups;
    for (const ComparedCall& call : calls) {
        if (named(set_ups, call.set_up.name) == nullptr) {
            set_ups.push_back({call.set_up.name, call});
        }
    }
    std::vector<LeverTest> tests;
    for (std::size_t a = 0; a < set_ups.size(); ++a) {
        for (std::size_t b = a + 1; b < set_ups.size(); ++b) {
            const std::optional<SetUpChange> change =
                change_between(set_ups[a].example, set_ups[b].example);
            if (!change) {
                continue;
            }
            LeverTest test = lever_test(*change, set_ups[a], set_ups[b], calls);
            if (test.predicted_db < 0.0) {
                test = lever_test(*change, set_ups[b], set_ups[a], calls);
            }
            if (test.stops > 0) {
                tests.push_back(std::move(test));
            }
        }
    }
    std::stable_sort(tests.begin(), tests.end(), [](const LeverTest& x, const LeverTest& y) {
        const bool x_single = x.change != SetUpChange::several;
        const bool y_single = y.change != SetUpChange::several;
        return x_single != y_single ? x_single : x.stops > y.stops;
    });
    return tests;
}

} // namespace

double ContingencyTable::right() const {
    return share(hits + silences, calls());
}

double ContingencyTable::hit_rate() const {
    return share(hits, hits + misses);
}

double ContingencyTable::false_alarm_ratio() const {
    return share(false_alarms, hits + false_alarms);
}

double ContingencyTable::heidke_skill() const {
    const auto a = static_cast<double>(hits);
    const auto b = static_cast<double>(false_alarms);
    const auto c = static_cast<double>(misses);
    const auto d = static_cast<double>(silences);
    return 2.0 * (a * d - b * c) / ((a + c) * (c + d) + (a + b) * (b + d));
}

bool heard(const ComparedCall& call, double wanted_margin_db) {
    if (call.score) {
        return *call.score >= static_cast<int>(wanted_class(wanted_margin_db));
    }
    return call.level_dbm && *call.level_dbm - call.needed_dbm >= wanted_margin_db;
}

Bias bias_of(std::span<const ComparedCall> calls) {
    Bias bias;
    if (count_stops(calls) < least_stops) {
        return bias;
    }
    Numbering stops;
    std::vector<maths::Observation> observations;
    for (const ComparedCall& call : calls) {
        observations.push_back(
            observation_of(call, call.median_margin_db, {1.0}, stops(call.stop)));
    }
    const maths::OrdinalModel model = margin_model({"bias"});
    const maths::OrdinalFit fit = maths::fit_ordinal(model, observations);
    bias.bias_db = measured(fit, observations, 0, stops.size());
    if (bias.bias_db) {
        bias.stop_spread_db = fit.group->value;
        bias.call_spread_db = fit.error.value;
        bias.spread_db = maths::total_deviation(model, fit);
    }
    return bias;
}

Verification verify(std::span<const ComparedCall> calls, double wanted_margin_db) {
    Verification result;
    result.wanted_margin_db = wanted_margin_db;
    result.wanted = wanted_class(wanted_margin_db);
    result.all = group_of("all calls", calls, wanted_margin_db);
    result.groupings = groupings_of(calls, wanted_margin_db);
    result.levers = lever_tests(calls);
    return result;
}

} // namespace earshot::field
