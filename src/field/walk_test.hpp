#pragma once

#include "earshot/base/task.hpp"
#include "earshot/geo/geodesic.hpp"
#include "field/comparison.hpp"
#include "field/field_log.hpp"
#include "link/quality.hpp"

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// Where to stop and what to try there, so that few calls tell much.

namespace earshot::field {

/// By what stops are chosen among those that could be.
enum class StopChoice : std::uint8_t {
    /// A score there tells most about how far the prediction is off: margins near those where the
    /// score is most in doubt.
    uncertain,
    /// The scores together tell most about how far off it is in the open, in woods and with
    /// distance, each by itself.
    useful,
    even, ///< at even distances along the way
};

/// uncertain, useful, even. Throws Error(Fault::usage) that lists the names.
[[nodiscard]] StopChoice parse_stop_choice(std::string_view name);

/// A place on the way where one could stop.
struct WayPoint {
    geo::LatLon position;
    double along_m = 0.0; ///< from the start of the way
};

/// Points every `spacing_m` along the lines of a track, one line after another, both ends of each
/// included. Throws Error(Fault::usage) for a spacing that is not positive or makes more than
/// 100000 points, Error(Fault::input) if there is no line.
[[nodiscard]] std::vector<WayPoint> points_along(std::span<const std::vector<geo::LatLon>> lines,
                                                 double spacing_m);

/// Points every `spacing_m` from a place toward a bearing as far as `length_m`, the place itself
/// left out. Throws Error(Fault::usage) as points_along() does, and if none fits in.
[[nodiscard]] std::vector<WayPoint> points_toward(geo::LatLon from, double bearing_deg,
                                                  double length_m, double spacing_m);

struct WalkRequest {
    std::string title;
    ComparisonRequest prediction; ///< scenario, base station, settings, layers, step
    std::vector<WayPoint> way;
    std::vector<SetUp> set_ups; ///< to try at every stop, 1 to 12, names differ
    std::vector<CallDirection> directions{CallDirection::from_mover, CallDirection::to_mover};
    StopChoice choice = StopChoice::useful;
    std::size_t stops = 10; ///< at least 1; fewer if the way has not so many
    double apart_m = 100.0; ///< no two stops nearer to each other than this
};

struct PlannedCall {
    std::size_t set_up = 0; ///< index into WalkPlan::set_ups
    CallDirection direction = CallDirection::from_mover;
    double margin_db = 0.0;
    double chance_percent = 0.0;
    link::Readability readability = link::Readability::nothing; ///< predicted
};

struct PlannedStop {
    std::string name; ///< "1", "2" ... in the order of the way
    geo::LatLon position;
    double along_m = 0.0;
    double distance_m = 0.0;  ///< from the base
    double bearing_deg = 0.0; ///< from the base, from true north
    bool line_of_sight = false;
    bool in_woods = false;
    std::vector<PlannedCall> calls; ///< in the order they are to be made
};

/// A walk test as it is to be done: what a log sheet shows.
struct WalkPlan {
    std::string title;
    std::string base; ///< name of the station that stays
    geo::LatLon base_position;
    double frequency_mhz = 0.0;
    std::vector<SetUp> set_ups; ///< complete: power, antenna, height
    std::vector<PlannedStop> stops;
    std::size_t way_points = 0; ///< that stops were chosen from
    /// By what stops were chosen and set-ups put in balanced order. None: nobody chose.
    std::optional<StopChoice> choice;
    std::size_t wanted_stops = 0; ///< if there are fewer, the way has no more that are so far apart
    double apart_m = 0.0;
    std::size_t lost_points = 0;    ///< of the way, that cannot be predicted
    std::string lost_because;       ///< of the first of these, where it is known
    std::vector<std::string> notes; ///< what else the user should know, a sentence each

    [[nodiscard]] std::size_t calls() const;
};

/// Rows of orders of 0 ... `count` - 1 that are balanced: each number stands as often at each place
/// of the row, and comes as often directly after each other number. `count` rows for an even count,
/// twice as many for an odd one (E. J. Williams, "Experimental designs balanced for the estimation
/// of residual effects of treatments", Australian Journal of Scientific Research A 2, 149-168,
/// 1949). `count` must be at least 1.
[[nodiscard]] std::vector<std::vector<std::size_t>> balanced_orders(std::size_t count);

/// What a score tells about a margin, dB^-2: the Fisher information of the six classes of
/// link::readability_classes() about the mean of a margin that is normally distributed around
/// `margin_db` with `deviation_db` > 0. The inverse is the variance that one score leaves.
[[nodiscard]] double score_information(double margin_db, double deviation_db);

/// Chooses stops and the order of calls. Throws Error(Fault::usage) for values out of range,
/// Error(Fault::input) if no point of the way can be predicted, Error(Fault::stopped).
[[nodiscard]] WalkPlan plan_walk(const WalkRequest& request, Task& task = silent_task());

/// The log to fill in: one row for each call in the order they are to be made, with a score to be
/// written. read_field_log() takes it back.
[[nodiscard]] std::string log_csv(const WalkPlan& plan);

} // namespace earshot::field
