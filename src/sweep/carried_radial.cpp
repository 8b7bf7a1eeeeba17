#include "carried_radial.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace earshot::sweep {
namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

/// A ray that clears the ground by this nu or more costs nothing (-0.78, ITU-R P.526-15 equation
/// (31)) and is not short of 0.6 F1 (-0.6 sqrt 2) either, so it need not be found.
constexpr double nu_of_no_matter = -0.8486;

} // namespace

void CarriedRadial::start_track(Track& track, double radius_km) const {
    track.per_radius = 500.0 / radius_km;
    track.steepest = -infinity;
    track.steepest_index = 0;
    track.nearest = 1;
    track.hull.clear();
    track.heights.fill(known_, [&](std::size_t i) {
        const double x = static_cast<double>(i) * site_.step_km;
        return static_cast<double>(ground_m_[i]) - track.per_radius * x * x;
    });
}

void CarriedRadial::start(const RadialSite& site, std::span<const float> ground_m) {
    site_ = site;
    ground_m_ = ground_m;
    known_ = static_cast<std::size_t>(
        std::ranges::find_if(ground_m, [](float h) { return std::isnan(h); }) - ground_m.begin());
    last_ = 0;
    transmitter_m_ = site.ground_m + site.antenna_m;
    start_track(median_, site.radii.median_km);
    if (site.with_beta) {
        start_track(beta_, site.radii.beta_km);
    }
    plain_hull_.clear();
    plain_heights_.fill(known_, [&](std::size_t i) { return static_cast<double>(ground_m_[i]); });
    plain_steepest_ = -infinity;
    v1_ = v2_ = 0.0;
}

void CarriedRadial::advance_track(Track& track, std::size_t index, double x,
                                  double per_x) const {
    const double height = track.heights[index];
    const double slope = (height - transmitter_m_) * per_x;
    if (slope > track.steepest) {
        track.steepest = slope;
        track.steepest_index = index;
    }
    track.hull.push(x, height, index);
}

void CarriedRadial::advance_to(std::size_t last) {
    for (std::size_t i = last_ + 1; i <= last; ++i) {
        const double x = static_cast<double>(i) * site_.step_km;
        const double per_x = 1.0 / x;
        const double before = x - site_.step_km;
        const double h = plain_heights_[i];
        const double h_before = i == 1 ? site_.ground_m : plain_heights_[i - 1];
        advance_track(median_, i, x, per_x);
        if (site_.with_beta) {
            advance_track(beta_, i, x, per_x);
        }
        plain_hull_.push(x, h, i);
        plain_steepest_ = std::max(plain_steepest_, (h - transmitter_m_) * per_x);
        v1_ += site_.step_km * (h + h_before);
        v2_ += site_.step_km * (h * (2.0 * x + before) + h_before * (x + 2.0 * before));
    }
    last_ = std::max(last_, last);
}

CarriedRadial::NearestRay CarriedRadial::nearest_ray(Track& track, std::size_t last,
                                                     double range_km, double slope) const {
    // nu^2 is compared instead of nu, which is negative for every point below the ray, and without
    // the division: below^2 * 0.002 d against least * x (d - x).
    const double scale = 0.002 * range_km;
    double least = nu_of_no_matter * nu_of_no_matter * site_.wavelength_m;
    NearestRay nearest{nu_of_no_matter * site_.root_wavelength, 0};
    bool found = false;
    const auto ray = [&](double x) { return transmitter_m_ + slope * x; };
    const auto look_at = [&](std::size_t i) {
        const double x = static_cast<double>(i) * site_.step_km;
        const double below = ray(x) - track.heights[i];
        const double squared = below * below * scale;
        const double spread = x * (range_km - x);
        if (squared < least * spread) {
            least = squared / spread;
            nearest.index = i;
            found = true;
        }
    };
    // Mostly it is the point found for the cell before; knowing its nu rules out most others.
    look_at(std::min(track.nearest, last));
    track.heights.search(
        1, last,
        [&](double top_m, std::size_t from, std::size_t to) {
            const double x_from = static_cast<double>(from) * site_.step_km;
            const double x_to = static_cast<double>(to) * site_.step_km;
            const double room = std::min(ray(x_from), ray(x_to)) - top_m;
            const double x = std::clamp(range_km / 2.0, x_from, x_to);
            return room <= 0.0 || room * room * scale < least * x * (range_km - x);
        },
        look_at);
    if (found) {
        nearest.scaled_nu = -std::sqrt(least);
        track.nearest = nearest.index;
    } else {
        // Nothing comes near the ray: any point will do for the horizon, which then hardly counts.
        nearest.index = std::max<std::size_t>(1, last / 2);
    }
    return nearest;
}

double CarriedRadial::roughness(std::size_t first, std::size_t last, double at_site_m,
                                double slope) {
    const auto above = [&](std::size_t i) {
        return plain_heights_[i] - slope * static_cast<double>(i) * site_.step_km;
    };
    // Nearly always the highest point of all, which the hull knows, lies between the horizons.
    const UpperHull::Vertex& top = plain_hull_.highest_above(slope, rough_top_);
    if (first <= top.index && top.index <= last) {
        return top.y - slope * top.x - at_site_m;
    }
    double highest = std::max(above(first), above(last));
    plain_heights_.search(
        first, last,
        [&](double top_m, std::size_t from, std::size_t to) {
            const std::size_t lower = slope > 0.0 ? from : to;
            return top_m - slope * static_cast<double>(lower) * site_.step_km > highest;
        },
        [&](std::size_t i) { highest = std::max(highest, above(i)); });
    return highest - at_site_m;
}

void CarriedRadial::path_to(double range_km, double receiver_ground_m, Path& path) {
    const std::size_t last = last_point_before(range_km);
    advance_to(last);
    const double d = range_km;
    const double receiver_m = receiver_ground_m + site_.receiver_antenna_m;
    const double per_d = 1.0 / d;
    const double direct = (receiver_m - transmitter_m_) * per_d;
    propagation::P1812Row& row = path.row;
    row.distance_km = d;
    row.steps = static_cast<double>(last);
    row.receiver_asl_m = receiver_m;

    // Smooth surface: the carried sums, closed with the piece from the last point to the receiver.
    const double x = static_cast<double>(last) * site_.step_km;
    const double h = plain_heights_[last];
    const double v1 = v1_ + (d - x) * (receiver_ground_m + h);
    const double v2 = v2_ + (d - x) * (receiver_ground_m * (2.0 * d + x) + h * (d + 2.0 * x));
    const double mean = v1 * per_d;
    const double moment = v2 * per_d * per_d;
    const double fitted_t = 2.0 * mean - moment;
    const double fitted_r = moment - mean;
    double lowered_t = fitted_t;
    double lowered_r = fitted_r;
    if (plain_steepest_ > direct) {
        const UpperHull::Vertex& top = plain_hull_.highest_above(direct, plain_top_);
        const UpperHull::Vertex& touch = plain_hull_.tangent_from(d, receiver_m, plain_touch_);
        const double obstruction_m = top.y - transmitter_m_ - direct * top.x;
        const double from_transmitter = plain_steepest_ - direct;
        const double from_receiver = (touch.y - receiver_m) / (d - touch.x) + direct;
        const double per_sum = obstruction_m / (from_transmitter + from_receiver);
        lowered_t -= per_sum * from_transmitter;
        lowered_r -= per_sum * from_receiver;
    }
    const double smooth_t = std::min(fitted_t, site_.ground_m);
    const double smooth_r = std::min(fitted_r, receiver_ground_m);
    row.diffraction_transmitter_m = lowered_t;
    row.diffraction_receiver_m = lowered_r;
    row.smooth_transmitter_m = fitted_t;
    row.smooth_receiver_m = fitted_r;

    // Horizons and Bullington terms at the median radius.
    const double curvature = median_.per_radius * d;
    path.hidden_by = median_.steepest + curvature - direct;
    std::size_t first_index = median_.steepest_index;
    std::size_t last_index = 0;
    row.median_transmitter_slope = median_.steepest + curvature;
    if (path.hidden_by <= 0.0) {
        const NearestRay nearest = nearest_ray(median_, last, d, direct - curvature);
        first_index = last_index = nearest.index;
        row.median_scaled_nu = nearest.scaled_nu;
        row.median_receiver_slope = 0.0;
        row.transmitter_slope = direct - curvature;
        row.receiver_slope = -direct - curvature;
        path.clearance_f1 = -nearest.scaled_nu / (site_.root_wavelength * std::numbers::sqrt2);
    } else {
        const double lowered = receiver_m - curvature * d;
        const UpperHull::Vertex& touch = median_.hull.tangent_from(d, lowered, median_.touch);
        last_index = touch.index;
        const double slope = (touch.y - lowered) / (d - touch.x);
        row.median_receiver_slope = slope - curvature;
        row.median_scaled_nu = 0.0;
        path.clearance_f1 = 0.0;
        row.transmitter_slope = median_.steepest;
        // The receiver's own tangent plane is the level, not the transmitter's.
        row.receiver_slope = slope - 2.0 * curvature;
    }
    row.transmitter_horizon_km = static_cast<double>(first_index) * site_.step_km;
    row.receiver_horizon_km = d - static_cast<double>(last_index) * site_.step_km;
    row.roughness_m = roughness(first_index, last_index, smooth_t, (smooth_r - smooth_t) * per_d);

    if (site_.with_beta) {
        const double curvature_beta = beta_.per_radius * d;
        row.beta_transmitter_slope = beta_.steepest + curvature_beta;
        if (beta_.steepest + curvature_beta < direct) {
            row.beta_scaled_nu = nearest_ray(beta_, last, d, direct - curvature_beta).scaled_nu;
            row.beta_receiver_slope = 0.0;
        } else {
            const double lowered = receiver_m - curvature_beta * d;
            const UpperHull::Vertex& touch = beta_.hull.tangent_from(d, lowered, beta_.touch);
            row.beta_receiver_slope = (touch.y - lowered) / (d - touch.x) - curvature_beta;
            row.beta_scaled_nu = 0.0;
        }
    }
}

} // namespace earshot::sweep
