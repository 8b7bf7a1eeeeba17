#pragma once

#include "coverage/engine/sweep_plan.hpp"
#include "propagation/basic.hpp"
#include "propagation/knife_edge.hpp"
#include "propagation/multiple_edges.hpp"
#include "propagation/p1812/batch.hpp"

#include <array>
#include <cmath>

namespace earshot::coverage {

/// Two neighbouring radials see a cell alike if their horizons differ by no more than this many
/// steps.
inline constexpr double alike_steps = 4.0;

/// Whether the radials on either side of a cell see it alike, so that one path between the two
/// stands for both. Else the loss of each has to be worked out.
inline bool seen_alike(const CarriedRadial::Path& a, const CarriedRadial::Path& b, double step_km) {
    const auto near = [&](double x, double y) { return std::abs(x - y) <= alike_steps * step_km; };
    const bool hidden = a.hidden_by > 0.0;
    return hidden == (b.hidden_by > 0.0) &&
           (!hidden || (near(a.first_horizon_km, b.first_horizon_km) &&
                        near(a.last_horizon_km, b.last_horizon_km)));
}

/// How high, at least, is what has upright sides and no slopes: houses and the rims of woods, m.
inline constexpr double upright_m = 2.0;

/// Whether something upright stands before one of two radials and not before the other: an
/// obstacle so much higher, or another loss in woods.
inline bool seen_apart(const CarriedRadial::Path& a, const CarriedRadial::Path& b) {
    constexpr double other_woods_db = 0.3;
    const double to_a = a.row.distance_km - a.last_horizon_km;
    const double to_b = b.row.distance_km - b.last_horizon_km;
    return std::abs(a.hidden_by - b.hidden_by) * std::min(a.first_horizon_km, b.first_horizon_km) >
               upright_m ||
           std::abs(a.row.median_receiver_slope - b.row.median_receiver_slope) *
                   std::min(to_a, to_b) >
               upright_m ||
           std::abs(a.woods_db - b.woods_db) > other_woods_db;
}

/// What the second of two radials has of a cell's answer, if the cell lies `share` of the way from
/// the first. Over bare ground, which has slopes, all changes by degrees on that way. What stands
/// on it does not: such a cell sees what the nearer radial sees.
inline double share_seen(const SweepPlan& plan, const CarriedRadial::Path& a,
                         const CarriedRadial::Path& b, double share) {
    return plan.request.layers.cover != nullptr && seen_apart(a, b) ? std::round(share) : share;
}

/// The loss of a path by the methods that need no batch.
inline double simple_loss_db(const SweepPlan& plan, const propagation::P1812Row& row) {
    const propagation::Conditions& settings = plan.request.conditions;
    const double rise_m = row.receiver_asl_m - plan.site.ground_m - plan.site.antenna_m;
    const double free_space_db = propagation::free_space_loss_db(
        std::hypot(row.distance_km, rise_m / 1000.0), settings.frequency_mhz);
    if (settings.method == propagation::Method::free_space) {
        return free_space_db;
    }
    const double direct = rise_m / row.distance_km;
    const double nu = row.median_transmitter_slope < direct
                          ? row.median_scaled_nu / plan.site.root_wavelength
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

    /// Asks for the loss to a cell that lies `share` of the way from one radial to the next, with
    /// these paths to it. `answer(place, part_db)` is called now or later, once or more; the sum
    /// is the loss.
    template <typename Answer>
    void ask(std::size_t place, const CarriedRadial::Path& before, const CarriedRadial::Path& path,
             double share, Answer answer) {
        const double woods_db = before.woods_db + share * (path.woods_db - before.woods_db);
        if (woods_db != 0.0) {
            answer(place, woods_db);
        }
        const bool alike = seen_alike(before, path, plan_.site.step_km);
        if (!propagation::from_p1812(plan_.request.conditions.method)) {
            if (alike) {
                answer(place, simple_loss_db(
                                  plan_, propagation::row_between(before.row, path.row, share)));
            } else {
                answer(place, (1.0 - share) * simple_loss_db(plan_, before.row));
                answer(place, share * simple_loss_db(plan_, path.row));
            }
            return;
        }
        if (batch_.size() + 2 > propagation::P1812Batch::capacity) {
            settle(answer);
        }
        if (alike) {
            pending_[batch_.size()] = {place, 1.0};
            batch_.push_between(before.row, path.row, share);
        } else {
            if (share < 1.0) {
                pending_[batch_.size()] = {place, 1.0 - share};
                batch_.push(before.row);
            }
            if (share > 0.0) {
                pending_[batch_.size()] = {place, share};
                batch_.push(path.row);
            }
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

} // namespace earshot::coverage
