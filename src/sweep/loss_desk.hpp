#pragma once

#include "earshot/propagation/p1812_batch.hpp"
#include "sweep_plan.hpp"

#include <array>
#include <bit>
#include <cmath>

namespace earshot::sweep {

/// Two neighbouring radials see a cell alike if their horizons differ by no more than this many
/// steps.
inline constexpr double alike_steps = 4.0;

/// The paths whose losses, weighted, are the answer for a cell between two radials.
struct Question {
    std::array<propagation::P1812Row, 2> rows;
    std::array<double, 2> weights;
    std::size_t count;
};

/// One path between the two where they are alike, else both.
inline Question question_between(const CarriedRadial::Path& a, const CarriedRadial::Path& b,
                                 double share, double step_km) {
    const auto near = [&](double x, double y) { return std::abs(x - y) <= alike_steps * step_km; };
    const bool hidden = a.hidden_by > 0.0;
    const bool alike =
        hidden == (b.hidden_by > 0.0) &&
        (!hidden || (near(a.row.transmitter_horizon_km, b.row.transmitter_horizon_km) &&
                     near(a.row.receiver_horizon_km, b.row.receiver_horizon_km)));
    if (!alike) {
        return {{a.row, b.row}, {1.0 - share, share}, 2};
    }
    using Values = std::array<double, propagation::p1812_columns>;
    auto values = std::bit_cast<Values>(a.row);
    const auto others = std::bit_cast<Values>(b.row);
    for (std::size_t k = 0; k < values.size(); ++k) {
        values[k] = std::lerp(values[k], others[k], share);
    }
    return {{std::bit_cast<propagation::P1812Row>(values), {}}, {1.0, 0.0}, 1};
}

/// The loss of a path by the methods that need no batch.
inline double simple_loss_db(const SweepPlan& plan, const propagation::P1812Row& row) {
    const propagation::PathSettings& settings = plan.request.settings;
    const double rise_m = row.receiver_asl_m - plan.site.ground_m - plan.site.antenna_m;
    const double free_space_db = propagation::free_space_loss_db(
        std::hypot(row.distance_km, rise_m / 1000.0), settings.frequency_mhz);
    if (settings.method == propagation::Method::free_space) {
        return free_space_db;
    }
    const double direct = rise_m / row.distance_km;
    const double nu = row.median_transmitter_slope < direct
                          ? row.median_scaled_nu / std::sqrt(plan.site.wavelength_m)
                          : propagation::equivalent_edge(row.median_transmitter_slope, direct,
                                                         row.median_receiver_slope, row.distance_km,
                                                         plan.site.wavelength_m)
                                .nu;
    const double edge_db = nu > propagation::least_nu_with_loss
                               ? propagation::knife_edge_loss_db(nu, settings.knife_edge)
                               : 0.0;
    const bool corrected = settings.method == propagation::Method::bullington_p526;
    return free_space_db + edge_db +
           (corrected ? propagation::bullington_correction_db(edge_db, row.distance_km) : 0.0);
}

/// Collects questions and hands on their losses, many at a time.
class LossDesk {
public:
    LossDesk(const SweepPlan& plan, const propagation::P1812BatchModel& p1812)
        : plan_(plan), p1812_(p1812) {}

    /// `answer(place, weighted_loss_db)` is called for each row asked, now or later.
    template <typename Answer>
    void ask(std::size_t place, const Question& question, Answer answer) {
        for (std::size_t k = 0; k < question.count; ++k) {
            if (plan_.request.settings.method != propagation::Method::p1812) {
                answer(place, question.weights[k] * simple_loss_db(plan_, question.rows[k]));
                continue;
            }
            if (batch_.full()) {
                settle(answer);
            }
            pending_[batch_.size()] = {place, question.weights[k]};
            propagation::P1812Row row = question.rows[k];
            keep_surface_below_ground(row, plan_.site);
            batch_.push(row);
        }
    }

    /// Answers all that was asked.
    template <typename Answer>
    void settle(Answer answer) {
        p1812_.predict(batch_);
        for (std::size_t row = 0; row < batch_.size(); ++row) {
            answer(pending_[row].place, pending_[row].weight * batch_.loss_db[row]);
        }
        batch_.clear();
    }

private:
    struct Pending {
        std::size_t place;
        double weight;
    };

    const SweepPlan& plan_;
    const propagation::P1812BatchModel& p1812_;
    propagation::P1812Batch batch_;
    std::array<Pending, propagation::P1812Batch::capacity> pending_{};
};

} // namespace earshot::sweep
