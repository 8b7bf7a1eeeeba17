#pragma once

#include "earshot/link/path.hpp"
#include "field/correction_fit.hpp"

#include <cstddef>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

/// Real readings of a handheld, and what is predicted for them.

namespace earshot::measured {

/// A receiver that stayed where it was.
struct Receiver {
    std::string name;
    geo::LatLon position;
    double floor_loss_db = 0.0; ///< from which loss on it hears nothing
};

struct Reading {
    std::size_t line = 0;
    std::string day;        ///< as 2022-07-11
    std::string mode;       ///< walking, driving ...; empty if not told
    std::size_t track = 0;  ///< a new one after a gap in time, and where the mode changes
    std::size_t minute = 0; ///< since the first day's midnight
    geo::LatLon position;
    std::size_t receiver = 0;
    double loss_db = 0.0;
    bool at_least = false; ///< nothing was heard: the loss is this or more
};

struct Readings {
    std::vector<Receiver> receivers;
    std::vector<Reading> readings;
    std::size_t tracks = 0;
};

/// Reads receivers.csv and readings.csv of a folder (tests/reference/measured/frs_462/README.md).
/// Throws Error(Fault::input) that names file and line: a column or value missing, no number, a
/// loss that no path has (20 to 250 dB), a reading farther than 100 km from its receiver, an
/// unknown receiver, a time that makes no sense.
[[nodiscard]] Readings read_readings(const std::filesystem::path& folder);

/// How the paths of the readings are predicted: over flat ground, since none is given.
struct Guess {
    propagation::Conditions conditions;
    std::string cover;         ///< of all ground; empty: bare
    double handheld_m = 1.5;   ///< above the ground: a guess
    double receivers_m = 20.0; ///< on roofs: a guess
};

/// A reading beside its prediction. Margins are over the receiver's floor: 0 dB is just heard.
struct Judged {
    const Reading* reading = nullptr;
    double distance_m = 0.0;
    double predicted_db = 0.0; ///< median margin
    double measured_db = 0.0;  ///< 0 if nothing was heard: it was 0 or less
    double deviation_db = 0.0;
    double prediction_deviation_db = 0.0;
    double chance_percent = 0.0;

    [[nodiscard]] bool heard() const { return !reading->at_least; }
};

/// Every `stride`-th reading.
[[nodiscard]] std::vector<Judged> judge(const Readings& readings, const Guess& guess,
                                        std::size_t stride = 1);

/// How far predictions are off.
struct Miss {
    double bias_db = 0.0;   ///< margins measured less predicted: below 0, less is heard than told
    double spread_db = 0.0; ///< about the prediction with its bias taken off
};

/// By the regression of maths/ordinal_fit.hpp, for which a reading that was not heard says only
/// that its margin was below 0.
[[nodiscard]] Miss error_of(const std::vector<Judged>& judged);

/// As calls of a field log: a stop is a minute of a track at a receiver.
[[nodiscard]] std::vector<field::MeasuredCall> calls_of(const std::vector<Judged>& judged);

} // namespace earshot::measured
