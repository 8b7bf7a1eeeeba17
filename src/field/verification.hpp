#pragma once

#include "field/comparison.hpp"
#include "field/field_log.hpp"
#include "link/quality.hpp"
#include "maths/statistics.hpp"

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

/// How far predictions and a log agree, and what the log says of power, antennas and heights.
/// Calls at one stop stand over the same ground and are not independent of one another; every
/// interval here counts stops, not calls.

namespace earshot::field {

/// Calls by what was predicted and what was heard, at the wanted quality. Names as in the
/// verification of forecasts (D. S. Wilks, "Statistical methods in the atmospheric sciences",
/// chapter on forecast verification).
struct ContingencyTable {
    std::size_t hits = 0;         ///< predicted to be heard, and heard
    std::size_t false_alarms = 0; ///< predicted to be heard, and not
    std::size_t misses = 0;       ///< not predicted to be heard, but heard
    std::size_t silences = 0;     ///< neither predicted nor heard: correct negatives
    void add(bool predicted, bool was_heard) {
        if (predicted) {
            ++(was_heard ? hits : false_alarms);
        } else {
            ++(was_heard ? misses : silences);
        }
    }
    [[nodiscard]] std::size_t calls() const { return hits + false_alarms + misses + silences; }
    /// Proportion correct; NaN without calls, as the others.
    [[nodiscard]] double right() const;
    /// Share of the calls heard that were predicted: the probability of detection.
    [[nodiscard]] double hit_rate() const;
    /// Share of the calls predicted to be heard that were not: the false alarm ratio.
    [[nodiscard]] double false_alarm_ratio() const;
    /// What the prediction is right in beyond chance, from -1 over 0 (none) to 1: Heidke's score.
    [[nodiscard]] double heidke_skill() const;
};

/// A value from a log, with its 95 % interval (Student's t, one degree of freedom less than there
/// are stops).
struct Measured {
    double value = 0.0;
    maths::Interval interval;
};

/// How much better (+) or worse (-) calls came through than predicted.
struct Bias {
    /// Mean of heard margin less median_margin_db; empty if the log cannot tell.
    std::optional<Measured> bias_db;
    double stop_spread_db = 0.0; ///< deviation from stop to stop
    double call_spread_db = 0.0; ///< deviation from call to call at a stop
    /// Of a single call. Empty if the log cannot tell.
    std::optional<double> spread_db;
};

/// Calls that have something in common.
struct CallGroup {
    std::string label;
    std::size_t stops = 0;
    ContingencyTable table;
    maths::Interval right; ///< of table.right()
    Bias bias;
};

struct Grouping {
    std::string title; ///< "set-up", "distance" ...
    std::vector<CallGroup> groups;
};

enum class LeverVerdict : std::uint8_t {
    helps,       ///< the interval is above 0
    hurts,       ///< below 0
    cannot_tell, ///< it holds 0, or there is none
};

/// In what two set-ups differ.
enum class SetUpChange : std::uint8_t { power, antenna, height, carried, several };

/// Two set-ups that were tried at the same stops.
struct LeverTest {
    SetUpChange change = SetUpChange::several;
    std::string from; ///< name of the set-up that is predicted to be the weaker
    std::string to;
    std::size_t stops = 0; ///< where both were tried the same way
    std::size_t calls = 0;
    double predicted_db = 0.0; ///< mean gain over those stops
    std::optional<Measured> measured_db;
    LeverVerdict verdict = LeverVerdict::cannot_tell;
    /// About how many stops it would take to tell a gain as predicted from none; empty if it is
    /// told, or nobody can say.
    std::optional<std::size_t> stops_needed;
};

struct Verification {
    double wanted_margin_db = 0.0;
    link::Readability wanted = link::Readability::nothing; ///< least score that counts as heard
    CallGroup all;
    std::vector<Grouping> groupings; ///< only those with more than one group
    std::vector<LeverTest> levers;   ///< the most stops first
};

/// Whether a call was heard at least as well as wanted: by its score, else by its level.
[[nodiscard]] bool heard(const ComparedCall& call, double wanted_margin_db);

/// Bias and spread: the regression with known limits of maths/ordinal_fit.hpp, where a score says
/// that the margin lay within its class (0 and 5 are open at one end) and a level says it within
/// level_reading_deviation_db. Needs three stops.
[[nodiscard]] Bias bias_of(std::span<const ComparedCall> calls);

/// S-meters and levels read off a display, dB. Common practice, no source.
inline constexpr double level_reading_deviation_db = 3.0;

/// Weighs predictions against what was heard.
[[nodiscard]] Verification verify(std::span<const ComparedCall> calls, double wanted_margin_db);

} // namespace earshot::field
