#include "link/quality.hpp"

#include "earshot/base/error.hpp"
#include "maths/statistics.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace earshot::link {
namespace {

// 0 dB: 12 dB SINAD. 6 dB: some 20 dB SINAD with a steady signal; common practice, no source.
// 16 dB: in fading, repetition only rarely (DAQ 3.4) with 5 kHz of deviation (TIA TSB-88, as
// remembered). Below 0 dB FM falls off within a few dB; common practice, no source.
constexpr std::array classes{
    ReadabilityClass{Readability::nothing, -std::numeric_limits<double>::infinity(),
                     "nothing heard", "no sign of the other station"},
    ReadabilityClass{Readability::barely_there, -6.0, "barely there",
                     "the noise changes when the other speaks, no words"},
    ReadabilityClass{Readability::some_words, -3.0, "some words",
                     "a word now and then, message lost"},
    ReadabilityClass{Readability::with_effort, 0.0, "readable with effort",
                     "noisy, repeats needed, message gets through"},
    ReadabilityClass{Readability::easy, 6.0, "easy to read", "some noise, few repeats"},
    ReadabilityClass{Readability::clear, 16.0, "clear", "little noise even while walking"},
};

void require_deviation(double deviation_db) {
    if (!(deviation_db >= 0.0)) {
        throw_usage(fmt::format("a standard deviation of {} dB: give 0 dB or more", deviation_db));
    }
}

} // namespace

double Deviations::combined_db() const {
    require_deviation(place_db);
    require_deviation(time_db);
    require_deviation(prediction_db);
    return std::hypot(place_db, time_db, prediction_db);
}

double location_deviation_p1546_db(Surroundings surroundings, double frequency_mhz) {
    if (!(frequency_mhz >= 30.0 && frequency_mhz <= 4000.0)) {
        throw_usage(
            fmt::format("deviation among places at {} MHz: give a frequency from 30 to 4000 "
                        "MHz",
                        frequency_mhz));
    }
    double k = 0.5;
    if (surroundings == Surroundings::rooftop) {
        k = 1.0;
    } else if (surroundings == Surroundings::built_up) {
        k = 1.2;
    }
    return k + 1.3 * std::log10(frequency_mhz);
}

double time_deviation_db(double loss_50_percent_db, double loss_10_percent_db) {
    const double difference_db = loss_50_percent_db - loss_10_percent_db;
    if (!(difference_db >= 0.0)) {
        throw_usage(fmt::format("a loss of {} dB for half of the time and {} dB for 10 percent: "
                                "the second cannot be the greater",
                                loss_50_percent_db, loss_10_percent_db));
    }
    return difference_db / maths::normal_quantile(0.9);
}

double chance_percent(double margin_db, double deviation_db) {
    require_deviation(deviation_db);
    if (deviation_db == 0.0 && margin_db == 0.0) {
        return 50.0;
    }
    return 100.0 * maths::normal_probability(margin_db / deviation_db);
}

std::span<const ReadabilityClass> readability_classes() {
    return classes;
}

const ReadabilityClass& readability(double margin_db) {
    const auto better =
        std::find_if(classes.begin() + 1, classes.end(),
                     [&](const ReadabilityClass& c) { return !(margin_db >= c.least_margin_db); });
    return *(better - 1);
}

bool try_first(double margin_db, double apart_db, double wanted_db) {
    const bool first = margin_db >= wanted_db;
    const bool second = margin_db - apart_db >= wanted_db;
    return !std::isnan(apart_db) &&
           (first != second || (first && std::abs(apart_db) >= models_part_db));
}

} // namespace earshot::link
