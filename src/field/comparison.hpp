#pragma once

#include "earshot/base/task.hpp"
#include "earshot/link/path.hpp"
#include "earshot/terrain/profile.hpp"
#include "field/field_log.hpp"
#include "link/quality.hpp"
#include "plan/hearing.hpp"
#include "scenario/scenario.hpp"

#include <cstddef>
#include <map>
#include <string>
#include <vector>

/// What was heard beside what was predicted.

namespace earshot::field {

/// A call of a log, with its base named, and the prediction for it: in its direction, with its
/// set-up.
struct ComparedCall : FieldCall {
    std::string antenna; ///< of the mover; empty if it has no name

    double distance_m = 0.0;
    double bearing_deg = 0.0; ///< from the base to the mover, from true north
    bool line_of_sight = false;
    bool in_woods = false; ///< the mover's antenna is among trees, below their tops

    double mover_power_dbm = 0.0;
    double mover_gain_dbi = 0.0;
    double mover_body_db = 0.0;  ///< loss to the person who carries the radio
    double mover_height_m = 0.0; ///< of the antenna, above the ground

    /// Loss to the terminals that stand among trees, dB >= 0; `margin_db` has it taken off.
    double woodland_db = 0.0;
    double basic_loss_db = 0.0; ///< between the antennas, without that
    double received_dbm = 0.0;
    double needed_dbm = 0.0;
    double margin_db = 0.0; ///< received less needed, at the time and places of the settings
    /// The same for half of the time and places: what a log is to be held against.
    double median_margin_db = 0.0;
    double deviation_db = 0.0;            ///< among places, over time and of the prediction
    double prediction_deviation_db = 0.0; ///< the last of these
    double chance_percent = 0.0;          ///< that margin_db of 0 is reached, from the median
    link::Readability readability = link::Readability::nothing; ///< predicted: of margin_db
};

/// What a comparison needs besides the ground.
struct ComparisonRequest : link::Setting {
    const scenario::Scenario* scenario = nullptr;
    /// Name of the station that stayed, for calls that name none; empty: the scenario's only or
    /// first station.
    std::string base;
};

struct Predictions {
    std::vector<ComparedCall> calls;
    std::vector<BadRow>
        not_predicted; ///< calls off the ground, with an unknown base or antenna ...
};

/// The set-up with all that it leaves out taken from the scenario. Throws
/// Error(Fault::usage) if scenario or handbook have no such antenna.
[[nodiscard]] SetUp complete_set_up(const scenario::Scenario& scenario, const SetUp& set_up);

/// Predicts every call of a log as link::two_way_path() does; calls over the same path are
/// predicted once. Throws Error(Fault::usage) for a step that is not positive,
/// Error(Fault::input) if not one call can be predicted, Error(Fault::stopped).
[[nodiscard]] Predictions predict_calls(const FieldLog& log, const ComparisonRequest& request,
                                        Task& task = silent_task());

/// Calls farther than this from their base are mistakes in the log.
inline constexpr double farthest_call_m = 200000.0;

/// The circle that holds a log's calls and the stations they were made with: the ground to load.
/// Calls from unknown stations or too far away are left out; predict_calls() tells of them. Throws
/// Error(Fault::usage) if `base` is not in the scenario.
[[nodiscard]] plan::Circle circle_of_calls(const scenario::Scenario& scenario, const FieldLog& log,
                                           const std::string& base);

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

/// Where the scores 1 to 5 begin, dB of margin: the limits of a regression on scores.
[[nodiscard]] std::vector<double> score_limits_db();

} // namespace earshot::field
