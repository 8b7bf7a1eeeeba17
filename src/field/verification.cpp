#include "field/verification.hpp"

#include "geo/units.hpp"
#include "maths/ordinal_fit.hpp"

#include <boost/math/distributions/students_t.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <limits>
#include <map>
#include <set>
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

/// Numbers for names, in the order they are met.
class Numbering {
public:
    std::size_t operator()(const std::string& name) {
        return numbers_.emplace(name, numbers_.size()).first->second;
    }
    [[nodiscard]] std::size_t size() const { return numbers_.size(); }

private:
    std::map<std::string, std::size_t> numbers_;
};

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
    for (const link::ReadabilityClass& c : link::readability_classes().subspan(1)) {
        model.limits.push_back(c.least_margin_db);
    }
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
        return std::ranges::all_of(observations,
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
    const boost::math::students_t distribution(static_cast<double>(stops) - 1.0);
    const double half_width =
        estimate.standard_error * boost::math::quantile(distribution, 0.5 + 0.5 * confidence);
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
    group.right = share_interval(right, all);
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
    constexpr std::array bounds_km{1, 2, 5, 10, 20};
    const double distance_km = call.distance_m / 1000.0;
    const auto upper =
        std::ranges::find_if(bounds_km, [&](int bound) { return distance_km < bound; });
    const auto index = static_cast<std::size_t>(upper - bounds_km.begin());
    if (index == 0) {
        return {index, fmt::format("less than {} km", bounds_km.front())};
    }
    if (upper == bounds_km.end()) {
        return {index, fmt::format("{} km and more", bounds_km.back())};
    }
    return {index, fmt::format("{} to {} km", bounds_km[index - 1], *upper)};
}

/// Numbers for set-ups, from the one that is predicted to be the weakest.
std::map<std::string, std::size_t> set_ups_by_margin(std::span<const ComparedCall> calls) {
    std::map<std::string, std::vector<const ComparedCall*>> by_name;
    for (const ComparedCall& call : calls) {
        by_name[call.set_up].push_back(&call);
    }
    std::vector<std::pair<double, std::string>> order;
    order.reserve(by_name.size());
    for (const auto& [name, of] : by_name) {
        order.emplace_back(mean_margin_db(of), name);
    }
    std::ranges::sort(order);
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
        return std::pair(rank.at(call.set_up), call.set_up);
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

/// In what two set-ups differ.
std::vector<std::string> differences(const SetUpSeen& a, const SetUpSeen& b) {
    constexpr double same = 0.05; // dB or m
    std::vector<std::string> found;
    const ComparedCall& x = a.example;
    const ComparedCall& y = b.example;
    if (std::abs(x.mover_power_dbm - y.mover_power_dbm) > same) {
        found.emplace_back("power");
    }
    if (x.antenna != y.antenna || std::abs(x.mover_gain_dbi - y.mover_gain_dbi) > same) {
        found.emplace_back("antenna");
    }
    if (std::abs(x.mover_height_m - y.mover_height_m) > same) {
        found.emplace_back("height");
    }
    if (std::abs(x.mover_body_db - y.mover_body_db) > same) {
        found.emplace_back("carried");
    }
    return found;
}

/// Calls of two set-ups at one stop in one direction.
struct Pairing {
    std::vector<const ComparedCall*> weaker, stronger;

    [[nodiscard]] bool complete() const { return !weaker.empty() && !stronger.empty(); }
};

std::string words_for(const LeverTest& test) {
    const std::string what = test.what == "several things"
                                 ? fmt::format("{} to {}", test.from, test.to)
                                 : fmt::format("{}, {} to {}", test.what, test.from, test.to);
    if (!test.measured_db) {
        return fmt::format("{}: cannot tell; {} stops with both are too few or their scores too "
                           "much alike (predicted {:+.1f} dB)",
                           what, test.stops, test.predicted_db);
    }
    const auto& [value, interval] = *test.measured_db;
    const std::string range = fmt::format("{:+.1f} to {:+.1f} dB", interval.low, interval.high);
    if (test.verdict == LeverVerdict::cannot_tell) {
        const std::string needed =
            test.stops_needed
                ? fmt::format("; about {} stops would tell a gain as predicted", *test.stops_needed)
                : "";
        return fmt::format("{}: cannot tell; anything from {} fits {} stops (predicted {:+.1f} "
                           "dB){}",
                           what, range, test.stops, test.predicted_db, needed);
    }
    std::string agreement = "as predicted";
    if (!interval.holds(test.predicted_db)) {
        agreement = value > test.predicted_db ? "more than predicted" : "less than predicted";
    }
    return fmt::format("{}: {} by {:+.1f} dB ({}, {} stops), {} ({:+.1f} dB)", what,
                       test.verdict == LeverVerdict::helps ? "helps" : "hurts", value, range,
                       test.stops, agreement, test.predicted_db);
}

/// What the calls of `from` and `to` at the same stops say about their difference.
LeverTest lever_test(std::string what, const SetUpSeen& from, const SetUpSeen& to,
                     std::span<const ComparedCall> calls) {
    std::map<std::pair<std::string, CallDirection>, Pairing> pairings;
    for (const ComparedCall& call : calls) {
        // The power of the mover cannot help the base to be heard.
        if (what == "power" && call.direction == CallDirection::to_mover) {
            continue;
        }
        Pairing& pairing = pairings[{call.stop, call.direction}];
        if (call.set_up == from.name) {
            pairing.weaker.push_back(&call);
        } else if (call.set_up == to.name) {
            pairing.stronger.push_back(&call);
        }
    }
    LeverTest test;
    test.what = std::move(what);
    test.from = from.name;
    test.to = to.name;
    Numbering stops;
    std::set<CallDirection> directions;
    std::vector<double> gains_db;
    std::vector<maths::Observation> observations;
    for (const auto& [where, pairing] : pairings) {
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
    if (test.measured_db) {
        const Interval& interval = test.measured_db->interval;
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
    test.words = words_for(test);
    return test;
}

std::vector<LeverTest> lever_tests(std::span<const ComparedCall> calls) {
    std::vector<SetUpSeen> set_ups;
    for (const ComparedCall& call : calls) {
        if (std::ranges::find(set_ups, call.set_up, &SetUpSeen::name) == set_ups.end()) {
            set_ups.push_back({call.set_up, call});
        }
    }
    std::vector<LeverTest> tests;
    for (std::size_t a = 0; a < set_ups.size(); ++a) {
        for (std::size_t b = a + 1; b < set_ups.size(); ++b) {
            const std::vector<std::string> differing = differences(set_ups[a], set_ups[b]);
            if (differing.empty()) {
                continue;
            }
            const std::string what = differing.size() == 1 ? differing.front() : "several things";
            LeverTest test = lever_test(what, set_ups[a], set_ups[b], calls);
            if (test.predicted_db < 0.0) {
                test = lever_test(what, set_ups[b], set_ups[a], calls);
            }
            if (test.stops > 0) {
                tests.push_back(std::move(test));
            }
        }
    }
    std::ranges::stable_sort(tests, [](const LeverTest& x, const LeverTest& y) {
        const bool x_single = x.what != "several things";
        const bool y_single = y.what != "several things";
        return x_single != y_single ? x_single : x.stops > y.stops;
    });
    return tests;
}

// ---- words --------------------------------------------------------------------------------------

std::vector<std::string> words_of(const Verification& verification) {
    const CallGroup& all = verification.all;
    std::vector<std::string> words;
    words.push_back(fmt::format("right for {} of {} calls at {} stops; from {:.0f} to {:.0f} % of "
                                "further calls may be expected to be right",
                                all.table.hits + all.table.silences, all.table.calls(), all.stops,
                                100.0 * all.right.low, 100.0 * all.right.high));
    if (!all.bias.bias_db) {
        words.emplace_back("whether predictions are too good or too bad cannot be told from these "
                           "calls; try more stops, where scores are neither all 0 nor all 5");
        return words;
    }
    const Measured& bias = *all.bias.bias_db;
    const std::string range =
        fmt::format("{:+.1f} to {:+.1f} dB", bias.interval.low, bias.interval.high);
    if (bias.interval.holds(0.0)) {
        words.push_back(fmt::format("no bias can be told: {:+.1f} dB, but anything from {} fits",
                                    bias.value, range));
    } else {
        words.push_back(fmt::format("calls came through {} than predicted, by {:.1f} dB ({})",
                                    bias.value > 0.0 ? "better" : "worse", std::abs(bias.value),
                                    range));
    }
    words.push_back(fmt::format("a single call is off by {:.0f} dB more or less (standard "
                                "deviation): {:.0f} dB from stop to stop, {:.0f} dB from call to "
                                "call",
                                *all.bias.spread_db, all.bias.stop_spread_db,
                                all.bias.call_spread_db));
    return words;
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

Interval share_interval(std::span<const std::size_t> successes,
                        std::span<const std::size_t> calls) {
    double all = 0.0;
    double won = 0.0;
    for (std::size_t k = 0; k < calls.size(); ++k) {
        all += static_cast<double>(calls[k]);
        won += static_cast<double>(successes[k]);
    }
    if (all == 0.0) {
        return {0.0, 1.0};
    }
    const double p = won / all;
    const auto stops = static_cast<double>(calls.size());
    // Variance of a ratio over stops; of no use if all calls went the same way.
    double squares = 0.0;
    for (std::size_t k = 0; k < calls.size(); ++k) {
        const double off = static_cast<double>(successes[k]) - p * static_cast<double>(calls[k]);
        squares += off * off;
    }
    const double variance = stops > 1.0 ? squares * stops / (stops - 1.0) / (all * all) : 0.0;
    const bool one_sided = won == 0.0 || won == all;
    const double independent =
        variance > 0.0 && !one_sided ? std::clamp(p * (1.0 - p) / variance, 1.0, all) : stops;
    const double z = link::normal_quantile(0.5 + 0.5 * confidence);
    const double wide = z * z / independent;
    const double centre = (p + 0.5 * wide) / (1.0 + wide);
    const double half_width =
        z * std::sqrt(p * (1.0 - p) / independent + 0.25 * wide / independent) / (1.0 + wide);
    return {std::max(0.0, centre - half_width), std::min(1.0, centre + half_width)};
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
    result.words = words_of(result);
    return result;
}

} // namespace earshot::field
