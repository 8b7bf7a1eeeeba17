#include "field/walk_test.hpp"

#include "base/csv.hpp"
#include "base/named.hpp"
#include "base/require.hpp"
#include "geo/units.hpp"
#include "maths/statistics.hpp"

#include <Eigen/Dense>
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>

namespace earshot::field {
namespace {

constexpr std::size_t most_points = 100000;
constexpr std::size_t most_set_ups = 12;

struct ChoiceName {
    StopChoice choice;
    std::string_view name;
};

constexpr std::array choice_names{ChoiceName{StopChoice::uncertain, "uncertain"},
                                  ChoiceName{StopChoice::useful, "useful"},
                                  ChoiceName{StopChoice::even, "even"}};

void require_spacing(double length_m, double spacing_m) {
    require_usage(spacing_m > 0.0 && length_m / spacing_m <= static_cast<double>(most_points),
                  "points every {} along {}: give a spacing that makes no more than {} of them",
                  geo::format_distance(spacing_m), geo::format_distance(length_m), most_points);
}

/// A place where every call can be predicted.
struct Possible {
    WayPoint point;
    std::vector<ComparedCall> calls; ///< set-up by set-up, the directions of each together
    double information = 0.0;        ///< of all scores together, dB^-2
    Eigen::Vector3d terms;           ///< of the error of the prediction: always, woods, distance
};

/// What may be wrong with predictions, as deviations: everywhere, for each 10 dB of woodland loss,
/// for each doubling of the distance. Common practice, no source; they only keep the choice from
/// asking about the same thing again and again.
constexpr std::array error_deviations_db{10.0, 10.0, 5.0};

class Planner {
public:
    Planner(const WalkRequest& request, Task& task)
        : request_(request), scenario_(*request.prediction.scenario) {
        check();
        for (const SetUp& set_up : request_.set_ups) {
            plan_.set_ups.push_back(complete_set_up(scenario_, set_up));
        }
        predict(task);
    }

    WalkPlan plan() {
        describe();
        std::vector<std::size_t> chosen =
            request_.choice == StopChoice::even ? even_stops() : telling_stops();
        std::sort(chosen.begin(), chosen.end());
        for (const std::size_t index : chosen) {
            add_stop(possible_[index]);
        }
        return std::move(plan_);
    }

private:
    void check() const {
        const auto require = [](bool fits, const std::string& otherwise) {
            if (!fits) {
                throw_usage(otherwise);
            }
        };
        require(!request_.way.empty(), "there is no way to choose stops on");
        require(request_.stops >= 1, "0 stops: give 1 or more");
        require(request_.apart_m >= 0.0, "stops cannot be less than 0 m apart");
        require(!request_.directions.empty(), "a walk test needs a direction to call in");
        require(!request_.set_ups.empty() && request_.set_ups.size() <= most_set_ups,
                fmt::format("{} set-ups: give 1 to {}", request_.set_ups.size(), most_set_ups));
        for (std::size_t a = 0; a < request_.set_ups.size(); ++a) {
            for (std::size_t b = 0; b < a; ++b) {
                require(request_.set_ups[a].name != request_.set_ups[b].name,
                        fmt::format("two set-ups are named '{}'; give each a name of its own",
                                    request_.set_ups[a].name));
            }
        }
    }

    [[nodiscard]] std::size_t calls_at_stop() const {
        return plan_.set_ups.size() * request_.directions.size();
    }

    /// Predicts all calls at all points of the way, as if they had been made.
    void predict(Task& task) {
        FieldLog imagined;
        imagined.file = "the way";
        for (std::size_t k = 0; k < request_.way.size(); ++k) {
            for (const SetUp& set_up : plan_.set_ups) {
                for (const CallDirection direction : request_.directions) {
                    FieldCall call;
                    call.line = k + 1;
                    call.stop = fmt::format("point {}", k + 1);
                    call.position = request_.way[k].position;
                    call.set_up = set_up;
                    call.direction = direction;
                    imagined.calls.push_back(std::move(call));
                }
            }
        }
        const Predictions predictions = predict_calls(imagined, request_.prediction, task);
        gather(predictions);
        plan_.lost_points = request_.way.size() - possible_.size();
        if (!predictions.not_predicted.empty()) {
            plan_.lost_because = predictions.not_predicted[0].reason;
        }
        require_input(!possible_.empty(), "no point of the way can be predicted with every set-up");
        add_terms();
    }

    void gather(const Predictions& predictions) {
        std::vector<std::vector<ComparedCall>> at_point(request_.way.size());
        for (const ComparedCall& call : predictions.calls) {
            at_point[call.line - 1].push_back(call);
        }
        for (std::size_t k = 0; k < at_point.size(); ++k) {
            if (at_point[k].size() == calls_at_stop()) {
                possible_.push_back(
                    {request_.way[k], std::move(at_point[k]), 0.0, Eigen::Vector3d::Zero()});
            }
        }
    }

    void add_terms() {
        std::vector<double> distances_m;
        for (const Possible& possible : possible_) {
            distances_m.push_back(possible.calls.front().distance_m);
        }
        std::nth_element(distances_m.begin(),
                         distances_m.begin() + static_cast<std::ptrdiff_t>(possible_.size() / 2),
                         distances_m.end());
        const double middle_m = distances_m[possible_.size() / 2];
        for (Possible& possible : possible_) {
            double woodland_db = 0.0;
            for (const ComparedCall& call : possible.calls) {
                possible.information += score_information(call.median_margin_db, call.deviation_db);
                woodland_db += call.woodland_db / static_cast<double>(possible.calls.size());
            }
            possible.terms = {1.0, woodland_db / 10.0,
                              std::log2(possible.calls.front().distance_m / middle_m)};
        }
    }

    void describe() {
        const ComparedCall& any = possible_.front().calls.front();
        plan_.title = request_.title;
        plan_.base = any.base;
        plan_.base_position = scenario::station_named(scenario_, any.base).position;
        plan_.frequency_mhz = request_.prediction.conditions.frequency_mhz;
        plan_.way_points = possible_.size();
        plan_.choice = request_.choice;
        plan_.wanted_stops = request_.stops;
        plan_.apart_m = request_.apart_m;
    }

    [[nodiscard]] std::vector<std::size_t> even_stops() const {
        const double length_m = request_.way.back().along_m;
        std::vector<std::size_t> chosen;
        for (std::size_t n = 0; n < request_.stops; ++n) {
            const double wanted_m =
                length_m * (static_cast<double>(n) + 0.5) / static_cast<double>(request_.stops);
            std::optional<std::size_t> nearest;
            for (std::size_t k = 0; k < possible_.size(); ++k) {
                if (!near_chosen(k, chosen) &&
                    (!nearest || std::abs(possible_[k].point.along_m - wanted_m) <
                                     std::abs(possible_[*nearest].point.along_m - wanted_m))) {
                    nearest = k;
                }
            }
            if (nearest) {
                chosen.push_back(*nearest);
            }
        }
        return chosen;
    }

    /// One after the other, each the one that adds most: to the information about the mean error,
    /// or (D-optimal design: V. V. Fedorov, "Theory of optimal experiments", 1972) to that about
    /// all of its terms.
    [[nodiscard]] std::vector<std::size_t> telling_stops() const {
        Eigen::Matrix3d known = Eigen::Matrix3d::Zero();
        for (Eigen::Index t = 0; t < 3; ++t) {
            const double deviation = error_deviations_db[static_cast<std::size_t>(t)];
            known(t, t) = 1.0 / (deviation * deviation);
        }
        std::vector<std::size_t> chosen;
        while (chosen.size() < request_.stops) {
            const Eigen::Matrix3d unknown = known.inverse();
            std::optional<std::size_t> best;
            double best_gain = -std::numeric_limits<double>::infinity();
            for (std::size_t k = 0; k < possible_.size(); ++k) {
                const Possible& possible = possible_[k];
                double gain = possible.information;
                if (request_.choice == StopChoice::useful) {
                    gain *= possible.terms.dot(unknown * possible.terms);
                }
                if (gain > best_gain && !near_chosen(k, chosen)) {
                    best_gain = gain;
                    best = k;
                }
            }
            if (!best) {
                break;
            }
            const Possible& added = possible_[*best];
            known += added.information * added.terms * added.terms.transpose();
            chosen.push_back(*best);
        }
        return chosen;
    }

    /// Nearer to a chosen stop than allowed, or one of them.
    [[nodiscard]] bool near_chosen(std::size_t candidate,
                                   const std::vector<std::size_t>& chosen) const {
        return std::any_of(chosen.begin(), chosen.end(), [&](std::size_t other) {
            return other == candidate || geo::geodesic_between(possible_[other].point.position,
                                                               possible_[candidate].point.position)
                                                 .distance_m < request_.apart_m;
        });
    }

    void add_stop(const Possible& possible) {
        const std::size_t number = plan_.stops.size();
        const std::vector<std::vector<std::size_t>> orders = balanced_orders(plan_.set_ups.size());
        const ComparedCall& any = possible.calls.front();
        PlannedStop stop;
        stop.name = fmt::format("{}", number + 1);
        stop.position = possible.point.position;
        stop.along_m = possible.point.along_m;
        stop.distance_m = any.distance_m;
        stop.bearing_deg = any.bearing_deg;
        stop.line_of_sight = any.line_of_sight;
        stop.in_woods = any.in_woods;
        const std::size_t ways = request_.directions.size();
        for (const std::size_t set_up : orders[number % orders.size()]) {
            for (std::size_t d = 0; d < ways; ++d) {
                const std::size_t way = number % 2 == 0 ? d : ways - 1 - d;
                const ComparedCall& call = possible.calls[set_up * ways + way];
                stop.calls.push_back({set_up, call.direction, call.margin_db, call.chance_percent,
                                      call.readability});
            }
        }
        plan_.stops.push_back(std::move(stop));
    }

    const WalkRequest& request_;
    const scenario::Scenario& scenario_;
    WalkPlan plan_;
    std::vector<Possible> possible_; ///< in the order of the way
};

} // namespace

StopChoice parse_stop_choice(std::string_view name) {
    const ChoiceName* found = named(choice_names, name);
    if (found == nullptr) {
        throw_usage("'{}' is no way to choose stops; choose one of {}", name,
                    fmt::join(names_of(choice_names), ", "));
    }
    return found->choice;
}

std::vector<WayPoint> points_along(std::span<const std::vector<geo::LatLon>> lines,
                                   double spacing_m) {
    std::vector<WayPoint> points;
    double before_m = 0.0; // length of the way before the piece at hand
    for (const std::vector<geo::LatLon>& line : lines) {
        double next_m = before_m;
        for (std::size_t k = 1; k < line.size(); ++k) {
            const geo::GeodesicPath piece = geo::geodesic_between(line[k - 1], line[k]);
            require_spacing(before_m + piece.distance_m, spacing_m);
            for (; next_m < before_m + piece.distance_m; next_m += spacing_m) {
                points.push_back(
                    {geo::geodesic_destination(line[k - 1], piece.bearing_deg, next_m - before_m),
                     next_m});
            }
            before_m += piece.distance_m;
        }
        if (!line.empty()) {
            points.push_back({line.back(), before_m});
        }
    }
    require_input(!points.empty(), "there is no line in the track to choose stops on");
    return points;
}

std::vector<WayPoint> points_toward(geo::LatLon from, double bearing_deg, double length_m,
                                    double spacing_m) {
    require_spacing(length_m, spacing_m);
    std::vector<WayPoint> points;
    const auto count = static_cast<std::size_t>(std::floor(length_m / spacing_m + 1e-9));
    for (std::size_t k = 1; k <= count; ++k) {
        const double along_m = static_cast<double>(k) * spacing_m;
        points.push_back({geo::geodesic_destination(from, bearing_deg, along_m), along_m});
    }
    require_usage(!points.empty(), "a stop every {} does not fit into {}",
                  geo::format_distance(spacing_m), geo::format_distance(length_m));
    return points;
}

std::size_t WalkPlan::calls() const {
    std::size_t count = 0;
    for (const PlannedStop& stop : stops) {
        count += stop.calls.size();
    }
    return count;
}

std::vector<std::vector<std::size_t>> balanced_orders(std::size_t count) {
    // Williams' first row goes 0, 1, n - 1, 2, n - 2 ...: its steps are all different. The other
    // rows are the same turned on; for an odd count the mirrored rows are needed as well.
    std::vector<std::size_t> first;
    for (std::size_t k = 0; k < count; ++k) {
        first.push_back(k % 2 == 1 ? (k + 1) / 2 : (count - k / 2) % count);
    }
    std::vector<std::vector<std::size_t>> rows;
    for (std::size_t turn = 0; turn < count; ++turn) {
        std::vector<std::size_t> row;
        row.reserve(count);
        for (const std::size_t number : first) {
            row.push_back((number + turn) % count);
        }
        rows.push_back(std::move(row));
    }
    if (count % 2 == 1 && count > 1) {
        for (std::size_t r = 0; r < count; ++r) {
            std::vector<std::size_t> mirrored = rows[r];
            std::reverse(mirrored.begin(), mirrored.end());
            rows.push_back(std::move(mirrored));
        }
    }
    return rows;
}

double score_information(double margin_db, double deviation_db) {
    require_usage(deviation_db > 0.0, "a deviation of {} dB: give more than 0 dB", deviation_db);
    const auto classes = link::readability_classes();
    const auto standardised = [&](std::size_t k) {
        return k < classes.size() ? (classes[k].least_margin_db - margin_db) / deviation_db
                                  : std::numeric_limits<double>::infinity();
    };
    double sum = 0.0;
    for (std::size_t k = 0; k < classes.size(); ++k) {
        const double below = standardised(k);
        const double above = standardised(k + 1);
        const double slope = maths::normal_density(below) - maths::normal_density(above);
        // The lesser tail has the digits.
        const double chance =
            below > 0.0 ? maths::normal_probability(-below) - maths::normal_probability(-above)
                        : maths::normal_probability(above) - maths::normal_probability(below);
        if (chance > 0.0) {
            sum += slope * slope / chance;
        }
    }
    return sum / (deviation_db * deviation_db);
}

WalkPlan plan_walk(const WalkRequest& request, Task& task) {
    return Planner(request, task).plan();
}

std::string log_csv(const WalkPlan& plan) {
    std::string csv = "stop,latitude,longitude,base,set_up,power_w,antenna,antenna_gain_dbi,"
                      "antenna_height_m,carried,direction,score,level,time,note\n";
    for (const PlannedStop& stop : plan.stops) {
        for (const PlannedCall& call : stop.calls) {
            const SetUp& set_up = plan.set_ups[call.set_up];
            csv += fmt::format(
                "{},{:.6f},{:.6f},{},{},{:.4g},{},{},{:g},{},{},,,,\n", csv_field(stop.name),
                stop.position.lat_deg, stop.position.lon_deg, csv_field(plan.base),
                csv_field(set_up.name), geo::watts_from_dbm(set_up.power_dbm.value_or(0.0)),
                csv_field(set_up.antenna),
                set_up.antenna_gain_dbi ? fmt::format("{:g}", *set_up.antenna_gain_dbi) : "",
                set_up.antenna_height_m.value_or(0.0), set_up.carried, name_of(call.direction));
        }
    }
    return csv;
}

} // namespace earshot::field
