#include "benchmarks.hpp"
#include "field/correction_fit.hpp"
#include "field/verification.hpp"
#include "link/quality.hpp"
#include "measured/readings.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

namespace earshot::bench {
namespace {

using measured::Guess;
using measured::Judged;
using propagation::Houses;
using propagation::Method;

struct Cover {
    const char* words;
    const char* everywhere;
    Houses houses;
};

constexpr std::array covers{
    Cover{"bare ground", "", Houses::below_roofs},
    Cover{"houses, below their roofs (P.2108 3.1)", "suburban", Houses::below_roofs},
    Cover{"houses, statistical (P.2108 3.2)", "suburban", Houses::statistical},
    Cover{"houses as obstacles (P.1812)", "suburban", Houses::obstacles},
    Cover{"woodland (P.833)", "woodland", Houses::below_roofs},
};

Guess guess_of(Method method, const Cover& cover) {
    Guess guess;
    guess.conditions.frequency_mhz = 462.7;
    guess.conditions.method = method;
    guess.conditions.houses = cover.houses;
    guess.cover = cover.everywhere;
    return guess;
}

field::ContingencyTable table_of(const std::vector<Judged>& judged) {
    field::ContingencyTable table;
    for (const Judged& one : judged) {
        table.add(one.predicted_db >= 0.0, one.heard());
    }
    return table;
}

/// Mean square of chance less what came (Brier's score): 0 is perfect.
double score_of(const std::vector<Judged>& judged) {
    double sum = 0.0;
    for (const Judged& one : judged) {
        const double off = one.chance_percent / 100.0 - (one.heard() ? 1.0 : 0.0);
        sum += off * off;
    }
    return sum / static_cast<double>(judged.size());
}

std::string decibels(double value) {
    return fmt::format("{:+.1f}", value);
}

/// Of the readings that were said to have a chance within `from` and `to`, how many were heard.
std::string share_heard(const std::vector<Judged>& judged, double from, double to) {
    std::size_t all = 0;
    std::size_t heard = 0;
    for (const Judged& one : judged) {
        if (one.chance_percent >= from && one.chance_percent < to) {
            ++all;
            heard += one.heard() ? 1 : 0;
        }
    }
    return all < 100
               ? fmt::format("- ({})", all)
               : fmt::format("{:.0f} % ({})",
                             100.0 * static_cast<double>(heard) / static_cast<double>(all), all);
}

/// Predictions for one day, put right by a correction that was fitted to the other days.
std::vector<Judged> corrected(const std::vector<Judged>& judged, const std::string& day,
                              double& offset_db) {
    std::vector<Judged> others;
    std::vector<Judged> left_out;
    for (const Judged& one : judged) {
        (one.reading->day == day ? left_out : others).push_back(one);
    }
    field::CorrectionRequest request;
    request.leave_stops_out = false;
    const scenario::Correction correction =
        field::fit_correction(measured::calls_of(others), request).correction;
    offset_db = correction.offset_db.value;
    for (Judged& one : left_out) {
        one.predicted_db += correction.offset_db.value;
        const double rest =
            std::max(0.0, one.deviation_db * one.deviation_db -
                              one.prediction_deviation_db * one.prediction_deviation_db);
        one.prediction_deviation_db = correction.prediction_deviation_db;
        one.deviation_db = std::hypot(std::sqrt(rest), correction.prediction_deviation_db);
        one.chance_percent = link::chance_percent(one.predicted_db, one.deviation_db);
    }
    return left_out;
}

Table held_out(const measured::Readings& readings) {
    Table table{"A correction fitted to all days but one, tried on that one (short-range)",
                {"ground taken for", "day left out", "readings", "offset, dB", "bias before",
                 "bias after", "spread", "score before", "score after"},
                {},
                {"Every fifth reading. Offset: what the other days add to margins. Score: mean "
                 "square of the chance less what came; 0 is perfect, 0.25 is what 50 % for "
                 "everything has."}};
    std::set<std::string> days;
    for (const measured::Reading& reading : readings.readings) {
        days.insert(reading.day);
    }
    constexpr std::size_t stride = 5;
    for (const Cover& cover : {covers[0], covers[1], covers[3]}) {
        const auto judged = measured::judge(readings, guess_of(Method::short_range, cover), stride);
        for (const std::string& day : days) {
            std::vector<Judged> before;
            std::copy_if(judged.begin(), judged.end(), std::back_inserter(before),
                         [&](const Judged& one) { return one.reading->day == day; });
            double offset_db = 0.0;
            const std::vector<Judged> after = corrected(judged, day, offset_db);
            const measured::Miss miss = measured::error_of(before);
            table.rows.push_back(
                {cover.words, day, std::to_string(before.size()), decibels(offset_db),
                 decibels(miss.bias_db), decibels(measured::error_of(after).bias_db),
                 fmt::format("{:.1f}", miss.spread_db), fmt::format("{:.3f}", score_of(before)),
                 fmt::format("{:.3f}", score_of(after))});
        }
    }
    return table;
}

} // namespace

std::vector<Table> bench_truth(Workshop& /*shop*/) {
    const measured::Readings readings =
        measured::read_readings(EARSHOT_SOURCE_DIR "/tests/reference/measured/frs_462");
    Table errors{fmt::format("{} readings of a handheld at 462.7 MHz among houses, {} tracks",
                             format_count(static_cast<double>(readings.readings.size())),
                             readings.tracks),
                 {"method", "ground taken for", "bias, dB", "spread, dB", "right", "hit rate",
                  "false alarms", "score"},
                 {},
                 {"Bias: margins measured less predicted; below 0, less is heard than was told. "
                  "Right: heard or not heard as predicted. Hit rate: share of what was heard that "
                  "was predicted. False alarms: share of what was predicted to be heard that was "
                  "not. Score: mean square of the chance less what came."}};
    Table calibration{
        "Of the readings said to have such a chance, so many were heard (short-range)",
        {"ground taken for", "under 10 %", "10 to 30 %", "30 to 50 %", "50 to 70 %", "70 to 80 %",
         "80 to 90 %", "90 to 97 %", "over 97 %"},
        {},
        {"In brackets the number of readings; fewer than 100 say nothing."}};
    for (const Method method :
         {Method::short_range, Method::p1812, Method::irregular_terrain, Method::free_space}) {
        for (const Cover& cover : covers) {
            const auto judged = measured::judge(readings, guess_of(method, cover));
            const measured::Miss miss = measured::error_of(judged);
            const field::ContingencyTable table = table_of(judged);
            errors.rows.push_back({std::string(propagation::method_info(method).name), cover.words,
                                   decibels(miss.bias_db), fmt::format("{:.1f}", miss.spread_db),
                                   format_share(table.right(), 1.0, 0),
                                   format_share(table.hit_rate(), 1.0, 0),
                                   format_share(table.false_alarm_ratio(), 1.0, 0),
                                   fmt::format("{:.3f}", score_of(judged))});
            if (method == Method::short_range) {
                std::vector<std::string> row{cover.words};
                constexpr std::array limits{0.0, 10.0, 30.0, 50.0, 70.0, 80.0, 90.0, 97.0, 101.0};
                for (std::size_t k = 0; k + 1 < limits.size(); ++k) {
                    row.push_back(share_heard(judged, limits[k], limits[k + 1]));
                }
                calibration.rows.push_back(std::move(row));
            }
        }
    }
    return {errors, calibration, held_out(readings)};
}

} // namespace earshot::bench
