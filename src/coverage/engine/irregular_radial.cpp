#include "coverage/engine/irregular_radial.hpp"

#include "propagation/irregular_terrain/geometry.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace earshot::coverage {
namespace {

using propagation::irregular::Geometry;
using propagation::irregular::Terminal;

/// From one station of the irregularity to the next: this share of the range, and so many points
/// at least. What lies between is off by 0.1 dB and less; the error comes from elsewhere.
constexpr double station_growth = 0.08;
constexpr double station_points = 8.0;

/// Where the stations begin: nearer the model has no say.
constexpr double first_station_m = 1000.0;

} // namespace

IrregularRadial::Sums IrregularRadial::piece(Point a, Point b) {
    const double width_m = b.x_m - a.x_m;
    const double area = width_m * (a.ground_m + b.ground_m) / 2.0;
    return {area, a.x_m * area + width_m * width_m * (a.ground_m + 2.0 * b.ground_m) / 6.0};
}

void IrregularRadial::start(const RadialGround& ground) {
    const auto unknown = std::find_if(ground.ground_m.begin(), ground.ground_m.end(),
                                      [](float height_m) { return std::isnan(height_m); });
    const auto known = static_cast<std::size_t>(unknown - ground.ground_m.begin());
    voided_ = unknown != ground.ground_m.end();
    x_m_.resize(known);
    ground_m_.resize(known);
    sums_.assign(known, {});
    steepest_.assign(known, 0);
    hull_.clear();
    touch_ = {};
    last_ = pushed_ = after_point_ = 0;
    before_ = after_ = {};
    if (known < 2) {
        return;
    }
    steps_m_.resize(known - 1);
    for (std::size_t i = 0; i < known; ++i) {
        x_m_[i] = 1000.0 * ground.x_km[i];
        ground_m_[i] = static_cast<double>(ground.ground_m[i]);
        if (i > 0) {
            const Sums more = piece({x_m_[i - 1], ground_m_[i - 1]}, {x_m_[i], ground_m_[i]});
            sums_[i] = {sums_[i - 1].area + more.area, sums_[i - 1].moment + more.moment};
            steps_m_[i - 1] = x_m_[i] - x_m_[i - 1];
        }
    }
    const auto middle = steps_m_.begin() + static_cast<std::ptrdiff_t>(steps_m_.size() / 2);
    std::nth_element(steps_m_.begin(), middle, steps_m_.end());
    usual_m_ = *middle;
    curvature_per_m_ = propagation::irregular::earth_curvature_per_m(std::min(
        450.0, propagation::irregular::surface_refractivity(model_.inputs().sea_level_refractivity,
                                                            sums_.back().area / x_m_.back())));
    const double antenna_m = ground_m_.front() + model_.counted_heights().transmitter_m;
    double steepest = -std::numeric_limits<double>::infinity();
    for (std::size_t i = 1; i < known; ++i) {
        const double slope =
            (ground_m_[i] - antenna_m) / x_m_[i] - curvature_per_m_ / 2.0 * x_m_[i];
        steepest_[i] = slope > steepest ? i : steepest_[i - 1];
        steepest = std::max(steepest, slope);
    }
}

IrregularRadial::Sums IrregularRadial::sums_to(double x_m) const {
    const auto end = x_m_.begin() + static_cast<std::ptrdiff_t>(last_) + 1;
    const auto i =
        static_cast<std::size_t>(std::upper_bound(x_m_.begin() + 1, end, x_m) - x_m_.begin()) - 1;
    const Point from{x_m_[i], ground_m_[i]};
    const Point to = i < last_ ? Point{x_m_[i + 1], ground_m_[i + 1]} : receiver_;
    const double ground_m =
        from.ground_m + (to.ground_m - from.ground_m) * (x_m - from.x_m) / (to.x_m - from.x_m);
    const Sums more = piece(from, {x_m, ground_m});
    return {sums_[i].area + more.area, sums_[i].moment + more.moment};
}

double IrregularRadial::fitted_end_m(double from_m, double to_m, double at_m) const {
    const std::size_t intervals = propagation::irregular::even_intervals(receiver_.x_m, usual_m_);
    const double spacing_m = receiver_.x_m / static_cast<double>(intervals);
    const auto [first, last] =
        propagation::irregular::whole_steps({from_m, to_m}, spacing_m, intervals);
    const double a = static_cast<double>(first) * spacing_m;
    const double b = static_cast<double>(last) * spacing_m;
    const Sums to_a = sums_to(a);
    const Sums to_b = sums_to(b);
    const double length_m = b - a;
    const double middle_m = (a + b) / 2.0;
    const double area = to_b.area - to_a.area;
    const double slope =
        12.0 * (to_b.moment - to_a.moment - middle_m * area) / (length_m * length_m * length_m);
    return area / length_m + slope * (at_m - middle_m);
}

IrregularRadial::Station IrregularRadial::station_at(std::size_t point) const {
    Geometry path;
    path.distance_m = x_m_[point];
    path.ends[0].height_m = model_.counted_heights().transmitter_m;
    path.ends[1].height_m = model_.counted_heights().receiver_m;
    for (Terminal& end : path.ends) {
        end.horizon_m = path.distance_m;
    }
    const auto [from_m, to_m] = propagation::irregular::counted_stretch(path);
    const std::size_t intervals = propagation::irregular::even_intervals(path.distance_m, usual_m_);
    return {path.distance_m,
            propagation::irregular::irregularity_m(
                std::span(x_m_).first(point + 1), std::span(ground_m_).first(point + 1),
                path.distance_m / static_cast<double>(intervals), from_m, to_m)};
}

double IrregularRadial::irregularity_at_m(double range_m) {
    while (after_.range_m < range_m && after_point_ + 1 < x_m_.size()) {
        const double apart_m = std::max(station_growth * after_.range_m, station_points * usual_m_);
        // None is needed where no receiver was.
        const double wanted_m = std::max(after_.range_m == 0.0 ? first_station_m - 2.0 * step_m_
                                                               : after_.range_m + apart_m,
                                         range_m - apart_m);
        const auto next = std::lower_bound(
            x_m_.begin() + static_cast<std::ptrdiff_t>(after_point_) + 1, x_m_.end(), wanted_m);
        after_point_ = std::min(static_cast<std::size_t>(next - x_m_.begin()), x_m_.size() - 1);
        before_ = after_;
        after_ = station_at(after_point_);
        if (before_.range_m == 0.0) {
            before_ = after_;
        }
    }
    const double width_m = after_.range_m - before_.range_m;
    const double share =
        width_m > 0.0 ? std::clamp((range_m - before_.range_m) / width_m, 0.0, 1.0) : 1.0;
    return std::lerp(before_.irregularity_m, after_.irregularity_m, share);
}

void IrregularRadial::find_horizons(Geometry& path) {
    const double site_m = ground_m_.front() + path.ends[0].height_m;
    const double receiver_m = receiver_.ground_m + path.ends[1].height_m;
    const auto bow_m = [&](double away_m) { return path.curvature_per_m / 2.0 * away_m * away_m; };
    const auto set = [&](Terminal& end, double own_m, double other_m, std::size_t point,
                         double away_m) {
        end.horizon_m = path.distance_m;
        end.horizon_elevation_rad = (other_m - own_m - bow_m(path.distance_m)) / path.distance_m;
        const double rise_m = ground_m_[point] - own_m - bow_m(away_m);
        if (rise_m > end.horizon_elevation_rad * away_m) {
            end.horizon_m = away_m;
            end.horizon_elevation_rad = rise_m / away_m;
        }
    };
    const auto lowered_m = [&](double height_m, double x_m) {
        return height_m - curvature_per_m_ / 2.0 * x_m * x_m;
    };
    for (; pushed_ < last_; ++pushed_) {
        const std::size_t i = pushed_ + 1;
        hull_.push(x_m_[i], lowered_m(ground_m_[i], x_m_[i]), i);
    }
    const std::size_t first = steepest_[last_];
    set(path.ends[0], site_m, receiver_m, first, x_m_[first]);
    const std::size_t touched =
        hull_.tangent_from(receiver_.x_m, lowered_m(receiver_m, receiver_.x_m), touch_).index;
    set(path.ends[1], receiver_m, site_m, touched, receiver_.x_m - x_m_[touched]);
}

bool IrregularRadial::path_to(double range_m, double ground_m, Geometry& path) {
    while (last_ + 1 < x_m_.size() && x_m_[last_ + 1] <= range_m - step_m_ / 2.0) {
        ++last_;
    }
    const bool behind_void = voided_ && last_ + 1 == x_m_.size();
    if (last_ == 0 || behind_void) {
        return false;
    }
    receiver_ = {range_m, ground_m};
    path = {};
    path.distance_m = range_m;
    const std::size_t intervals = propagation::irregular::even_intervals(range_m, usual_m_);
    const std::size_t tenth = intervals / 10;
    const double outer_m = static_cast<double>(tenth) * range_m / static_cast<double>(intervals);
    path.surface_refractivity = propagation::irregular::surface_refractivity(
        model_.inputs().sea_level_refractivity,
        (sums_to(range_m - outer_m).area - sums_to(outer_m).area) / (range_m - 2.0 * outer_m));
    if (!(path.surface_refractivity <= 450.0)) {
        return false;
    }
    path.curvature_per_m = propagation::irregular::earth_curvature_per_m(path.surface_refractivity);
    path.ends[0].height_m = model_.counted_heights().transmitter_m;
    path.ends[1].height_m = model_.counted_heights().receiver_m;
    find_horizons(path);
    path.irregularity_m = irregularity_at_m(range_m);
    const auto fitted = propagation::irregular::fitted_stretches(path);
    propagation::irregular::finish(
        path, {ground_m_.front() - fitted_end_m(fitted[0].from_m, fitted[0].to_m, 0.0),
               ground_m - fitted_end_m(fitted[1].from_m, fitted[1].to_m, range_m)});
    return true;
}

} // namespace earshot::coverage
