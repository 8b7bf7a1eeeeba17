#include "report/say/field_words.hpp"

#include "geo/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace earshot::report {

std::string_view change_name(field::SetUpChange change) {
    constexpr std::array<std::string_view, 5> names{"power", "antenna", "height", "carried",
                                                    "several things"};
    return names[static_cast<std::size_t>(change)];
}

std::string lever_test_words(const field::LeverTest& test) {
    const std::string what =
        test.change == field::SetUpChange::several
            ? fmt::format("{} to {}", test.from, test.to)
            : fmt::format("{}, {} to {}", change_name(test.change), test.from, test.to);
    if (!test.measured_db) {
        return fmt::format("{}: cannot tell; {} stops with both are too few or their scores too "
                           "much alike (predicted {:+.1f} dB)",
                           what, test.stops, test.predicted_db);
    }
    const auto& [value, interval] = *test.measured_db;
    const std::string range = fmt::format("{:+.1f} to {:+.1f} dB", interval.low, interval.high);
    if (test.verdict == field::LeverVerdict::cannot_tell) {
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
                       test.verdict == field::LeverVerdict::helps ? "helps" : "hurts", value, range,
                       test.stops, agreement, test.predicted_db);
}

std::vector<std::string> verification_words(const field::Verification& verification) {
    const field::CallGroup& all = verification.all;
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
    const field::Measured& bias = *all.bias.bias_db;
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

std::string term_words(const field::RefusedTerm& term) {
    return term.antenna.empty() ? "losses in woods" : "antenna " + term.antenna;
}

std::string refusal_words(const field::RefusedTerm& term, const field::CorrectionFit& fit) {
    switch (term.why) {
    case field::TermRefusal::no_woods:
        return "no stop is in woods as the ground cover has them";
    case field::TermRefusal::few_woods:
        return fmt::format("only {} of {} stops {} in woods; {} are the least", term.stops,
                           fit.stops, term.stops == 1 ? "is" : "are", field::least_stops_of_a_kind);
    case field::TermRefusal::woods_alike:
        return fmt::format("they were predicted nearly alike at all stops ({:.1f} to {:.1f} dB), "
                           "so that they cannot be told from the offset; test in the open too",
                           term.least_db, term.most_db);
    case field::TermRefusal::few_uses:
        return fmt::format("only {} calls at {} stops had it; {} at {} are the least", term.uses,
                           term.stops, field::least_uses, field::least_stops_of_a_kind);
    case field::TermRefusal::entangled:
        return "whenever it was used, something else was different in the same way, so that the "
               "two cannot be told apart; try both at the same stops";
    case field::TermRefusal::little_told:
        return fmt::format("the log gives only {:.0f} % of what would be known of it; {:.0f} % are "
                           "the least",
                           100.0 * term.share, 100.0 * field::least_share_of_log);
    case field::TermRefusal::hides_offset:
        break;
    }
    return "with it, the log would tell too little of the offset; test where there is less of it "
           "too";
}

std::string model_words(const field::CorrectionFit& fit, const field::CorrectionRequest& request) {
    return fmt::format("scores as intervals of the margin, {} errors{}{}{}",
                       request.shape == maths::ErrorShape::normal ? "normal" : "logistic",
                       fit.among_stops_db ? ", a common error of all calls at a stop" : "",
                       request.free_limits ? ", free class limits" : "",
                       fit.readings > 0
                           ? fmt::format(", levels read to {:g} dB", request.reading_deviation_db)
                           : "");
}

std::string stops_words(const field::WalkPlan& plan) {
    if (!plan.choice) {
        return {};
    }
    switch (*plan.choice) {
    case field::StopChoice::uncertain:
        return "where the score is most in doubt: predictions are put to the test, and levers show";
    case field::StopChoice::useful:
        return "where scores tell most about how far predictions are off in the open, in woods and "
               "with distance";
    case field::StopChoice::even:
        break;
    }
    return "at even distances along the way";
}

std::string order_words(const field::WalkPlan& plan) {
    if (!plan.choice) {
        return {};
    }
    return plan.set_ups.size() > 1
               ? "every set-up stands as often at each place in the order, and comes as often "
                 "after each other one, so that a sinking battery or rising noise does not pass "
                 "for a difference between set-ups"
               : "one set-up; the direction that comes first changes from stop to stop";
}

namespace {

// Common practice, no source.
constexpr double minutes_a_call = 0.5; ///< say who, listen, score, write it down
constexpr double minutes_a_change = 1.0;
constexpr double minutes_a_stop = 2.0;
constexpr double walking_m_a_minute = 4000.0 / 60.0;

std::size_t set_up_changes(const field::WalkPlan& plan) {
    std::size_t changes = 0;
    for (const field::PlannedStop& stop : plan.stops) {
        for (std::size_t k = 1; k < stop.calls.size(); ++k) {
            changes += stop.calls[k].set_up != stop.calls[k - 1].set_up ? 1U : 0U;
        }
    }
    return changes;
}

double minutes_of(const field::WalkPlan& plan, std::size_t calls, std::size_t changes) {
    return minutes_a_call * static_cast<double>(calls) +
           minutes_a_change * static_cast<double>(changes) +
           minutes_a_stop * static_cast<double>(plan.stops.size()) +
           (plan.stops.empty() ? 0.0 : plan.stops.back().along_m / walking_m_a_minute);
}

/// "1 h 20 min", to five minutes.
std::string minutes_text(double minutes) {
    constexpr int step = 5;
    const int shown = std::max(1, static_cast<int>(std::lround(minutes / step))) * step;
    return shown < 60 ? fmt::format("{} min", shown)
                      : fmt::format("{} h {} min", shown / 60, shown % 60);
}

} // namespace

double walk_minutes(const field::WalkPlan& plan) {
    return minutes_of(plan, plan.calls(), set_up_changes(plan));
}

std::string walk_time_words(const field::WalkPlan& plan) {
    const std::size_t changes = set_up_changes(plan);
    const double way_m = plan.stops.empty() ? 0.0 : plan.stops.back().along_m;
    return fmt::format(
        "takes about {}: half a minute for each call, {}2 min to settle at each stop{} (common "
        "practice, no source)",
        minutes_text(walk_minutes(plan)),
        changes > 0 ? fmt::format("1 min for each of {} changes of set-up, ", changes) : "",
        way_m > 0.0 ? fmt::format(", {} on foot", geo::format_distance(way_m)) : "");
}

std::string fewer_calls_words(const field::WalkPlan& plan) {
    constexpr std::size_t enough_at_a_stop = 2;
    const std::size_t fewer = enough_at_a_stop * plan.stops.size();
    if (!plan.choice || plan.calls() <= fewer) {
        return {};
    }
    // The variance of a mean over n stops of m calls is (s^2 + c^2 / m) / n, for errors of s from
    // stop to stop and c from call to call; here s = c.
    const double calls_at_a_stop =
        static_cast<double>(plan.calls()) / static_cast<double>(plan.stops.size());
    const double less_sure =
        std::sqrt((1.0 + 1.0 / enough_at_a_stop) / (1.0 + 1.0 / calls_at_a_stop)) - 1.0;
    return fmt::format(
        "{} calls, two at each stop, take about {} and leave what predictions are off by only "
        "{:.0f} % less sure (worked out for errors as large from stop to stop as from call to "
        "call: "
        "more calls at one stop repeat its own error); give one --set-up, or two with --direction "
        "from-mover",
        fewer, minutes_text(minutes_of(plan, fewer, plan.stops.size())), 100.0 * less_sure);
}

std::vector<std::string> walk_notes(const field::WalkPlan& plan) {
    std::vector<std::string> notes = plan.notes;
    if (plan.lost_points > 0) {
        notes.push_back(fmt::format("{} of {} points of the way cannot be predicted{}{}",
                                    plan.lost_points, plan.way_points + plan.lost_points,
                                    plan.lost_because.empty() ? "" : ": ", plan.lost_because));
    }
    if (plan.stops.size() < plan.wanted_stops) {
        notes.push_back(fmt::format(
            "{} stops of {} wanted: the way has no more that are {} apart and can be predicted",
            plan.stops.size(), plan.wanted_stops, geo::format_distance(plan.apart_m)));
    }
    const std::size_t rows = field::balanced_orders(plan.set_ups.size()).size();
    if (rows > 1 && plan.stops.size() % rows != 0) {
        notes.push_back(fmt::format(
            "the order of {} set-ups is balanced over every {} stops; {} stops come near to it",
            plan.set_ups.size(), rows, plan.stops.size()));
    }
    return notes;
}

} // namespace earshot::report
