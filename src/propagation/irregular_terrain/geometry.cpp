#include "propagation/irregular_terrain/geometry.hpp"

#include "earshot/base/error.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <functional>
#include <iterator>
#include <limits>

namespace earshot::propagation::irregular {
namespace {

/// Numbers of steps that come out of a division are meant to be whole within this: the same path
/// from its other end must not take one point more or less.
constexpr double rounding = 1e-6;

/// Length of path over which the ground shows all of its irregularity, equation (3.9).
constexpr double irregularity_length_m = 50e3;

/// Share of the whole irregularity that a length of path shows, equation (3.9).
double shown_share(double length_m) {
    return 1.0 - 0.8 * std::exp(-length_m / irregularity_length_m);
}

/// The value that would stand at a place if all were in order. Looks only at those that fall into
/// its part of the range: most lie between `low` and `high`.
class Ranks {
public:
    Ranks(std::span<const double> values, double low, double high)
        : values_(values), low_(low), per_value_(high > low ? parts / (high - low) : 0.0) {
        for (const double value : values) {
            ++counts_[part_of(value)];
        }
    }

    [[nodiscard]] double at(std::size_t rank) {
        std::size_t part = 0;
        for (; rank >= counts_[part]; ++part) {
            rank -= counts_[part];
        }
        found_.clear();
        std::copy_if(values_.begin(), values_.end(), std::back_inserter(found_),
                     [&](double value) { return part_of(value) == part; });
        const auto place = found_.begin() + static_cast<std::ptrdiff_t>(rank);
        std::nth_element(found_.begin(), place, found_.end());
        return *place;
    }

private:
    static constexpr double parts = 256.0;

    [[nodiscard]] std::size_t part_of(double value) const {
        return static_cast<std::size_t>(std::clamp((value - low_) * per_value_, 0.0, parts - 1.0));
    }

    std::span<const double> values_;
    double low_, per_value_;
    std::array<std::uint32_t, static_cast<std::size_t>(parts)> counts_{};
    std::vector<double> found_;
};

/// Straight between the points. Positions from `from_m` to `to_m`, both ends included.
std::vector<double> sampled(std::span<const double> distance_m, std::span<const double> height_m,
                            double from_m, double to_m, std::size_t count) {
    std::vector<double> values(count);
    const double step_m = (to_m - from_m) / static_cast<double>(count - 1);
    std::size_t next = 1;
    for (std::size_t i = 0; i < count; ++i) {
        const double at_m = from_m + step_m * static_cast<double>(i);
        while (next + 1 < distance_m.size() && distance_m[next] < at_m) {
            ++next;
        }
        const double share =
            (at_m - distance_m[next - 1]) / (distance_m[next] - distance_m[next - 1]);
        values[i] = height_m[next - 1] +
                    std::clamp(share, 0.0, 1.0) * (height_m[next] - height_m[next - 1]);
    }
    return values;
}

std::vector<double> in_metres(std::span<const double> distance_km) {
    std::vector<double> distance_m(distance_km.size());
    std::transform(distance_km.begin(), distance_km.end(), distance_m.begin(),
                   [](double d) { return 1000.0 * d; });
    return distance_m;
}

bool evenly_spaced(std::span<const double> distance_m) {
    const double spacing_m = distance_m.back() / static_cast<double>(distance_m.size() - 1);
    for (std::size_t i = 0; i < distance_m.size(); ++i) {
        if (std::abs(distance_m[i] - spacing_m * static_cast<double>(i)) > rounding * spacing_m) {
            return false;
        }
    }
    return true;
}

/// Height that the line fitted to a stretch has at one end of the path.
double fitted_end_m(const EvenGround& ground, const Stretch& stretch, std::size_t end) {
    const WholeSteps steps = whole_steps(stretch, ground.spacing_m, ground.intervals());
    const Line line =
        fitted_line(std::span(ground.height_m).subspan(steps.first, steps.last - steps.first + 1));
    return line.start + line.step * (static_cast<double>(end == 0 ? 0 : ground.intervals()) -
                                     static_cast<double>(steps.first));
}

/// The highest of the rays from one end to the ground and to the other antenna. Elevations are
/// small angles over a level line, the ray straight and the ground curved down.
void find_horizon(std::span<const double> distance_m, std::span<const double> ground_m,
                  std::size_t end, Geometry& geometry) {
    const std::size_t last = ground_m.size() - 1;
    const auto antenna_asl_m = [&](std::size_t of) {
        return (of == 0 ? ground_m.front() : ground_m.back()) + geometry.ends[of].height_m;
    };
    const double own_asl_m = antenna_asl_m(end);
    const auto rise_m = [&](double away_m, double height_m) {
        return height_m - own_asl_m - geometry.curvature_per_m / 2.0 * away_m * away_m;
    };
    Terminal& terminal = geometry.ends[end];
    terminal.horizon_m = geometry.distance_m;
    terminal.horizon_elevation_rad =
        rise_m(geometry.distance_m, antenna_asl_m(1 - end)) / geometry.distance_m;
    for (std::size_t k = 1; k < last; ++k) {
        const std::size_t i = end == 0 ? k : last - k;
        const double away_m = end == 0 ? distance_m[i] : geometry.distance_m - distance_m[i];
        const double rise = rise_m(away_m, ground_m[i]);
        if (rise > terminal.horizon_elevation_rad * away_m) { // divides only for a new horizon
            terminal.horizon_m = away_m;
            terminal.horizon_elevation_rad = rise / away_m;
        }
    }
}

/// Horizon distance over ground of this irregularity, equation (3.3).
double likely_horizon_m(const Geometry& geometry, std::size_t end) {
    const double height_m = std::max(geometry.ends[end].effective_height_m, 5.0);
    return geometry.smooth_horizon_m(end) *
           std::exp(-0.07 * std::sqrt(geometry.irregularity_m / height_m));
}

bool in_sight(const Geometry& geometry) {
    return geometry.horizons_m() > 1.5 * geometry.distance_m;
}

/// Antennas in sight of each other have the horizons that such heights have over such ground, which
/// must reach each other.
void finish_in_sight(Geometry& geometry) {
    const auto set_horizons = [&] {
        for (const std::size_t end : {0U, 1U}) {
            geometry.ends[end].horizon_m = likely_horizon_m(geometry, end);
        }
    };
    set_horizons();
    if (geometry.horizons_m() <= geometry.distance_m) {
        const double lack = geometry.distance_m / geometry.horizons_m();
        for (Terminal& terminal : geometry.ends) {
            terminal.effective_height_m *= lack * lack;
        }
        set_horizons();
    }
    for (const std::size_t end : {0U, 1U}) {
        Terminal& terminal = geometry.ends[end];
        const double smooth_m = geometry.smooth_horizon_m(end);
        // Equation (3.4).
        terminal.horizon_elevation_rad =
            (0.65 * geometry.irregularity_m * (smooth_m / terminal.horizon_m - 1.0) -
             2.0 * terminal.effective_height_m) /
            smooth_m;
    }
}

} // namespace

void check(std::span<const double> distance_km, std::span<const double> ground_m) {
    if (distance_km.size() < 2 || distance_km.size() != ground_m.size()) {
        throw_input(fmt::format("profile has {} distances and {} ground heights: it needs 2 or "
                                "more, one height for each distance",
                                distance_km.size(), ground_m.size()));
    }
    if (distance_km.front() != 0.0 ||
        std::adjacent_find(distance_km.begin(), distance_km.end(), std::greater_equal<>()) !=
            distance_km.end()) {
        throw_input("profile is out of order: its distances must begin at 0 and grow from point "
                    "to point");
    }
    if (!std::all_of(ground_m.begin(), ground_m.end(), [](double h) { return std::isfinite(h); })) {
        throw_input("profile has a ground height that is not a number: fill the gap first");
    }
}

double Geometry::smooth_horizon_m(std::size_t end) const {
    return std::sqrt(2.0 * ends[end].effective_height_m / curvature_per_m);
}

double Geometry::smooth_horizons_m() const {
    return smooth_horizon_m(0) + smooth_horizon_m(1);
}

double Geometry::horizons_m() const {
    return ends[0].horizon_m + ends[1].horizon_m;
}

double Geometry::elevations_rad() const {
    return std::max(ends[0].horizon_elevation_rad + ends[1].horizon_elevation_rad,
                    -horizons_m() * curvature_per_m);
}

double Geometry::irregularity_at_m(double distance_m) const {
    return irregularity_m * shown_share(distance_m);
}

double Geometry::roughness_m(double distance_m) const {
    const double range_m = irregularity_at_m(distance_m);
    return 0.78 * range_m * std::exp(-std::pow(range_m / 16.0, 0.25));
}

double surface_refractivity(double sea_level_refractivity, double mean_ground_m) {
    return sea_level_refractivity * std::exp(-mean_ground_m / 9460.0);
}

double earth_curvature_per_m(double surface_refractivity) {
    // Near 550 N-units the earth would be flat, and beyond that hollow.
    if (!(surface_refractivity <= 450.0)) {
        throw_usage(
            fmt::format("refractivity at the ground is {:.0f} N-units: the irregular terrain "
                        "model takes 450 at most; give a smaller value at sea level (325 is "
                        "usual at middle latitudes)",
                        surface_refractivity));
    }
    return 157e-9 * (1.0 - 0.04665 * std::exp(surface_refractivity / 179.3));
}

EvenGround even_ground(std::span<const double> distance_m, std::span<const double> ground_m) {
    const double length_m = distance_m.back();
    if (evenly_spaced(distance_m)) {
        return {length_m / static_cast<double>(distance_m.size() - 1),
                {ground_m.begin(), ground_m.end()}};
    }
    std::vector<double> steps_m(distance_m.size() - 1);
    for (std::size_t i = 0; i < steps_m.size(); ++i) {
        steps_m[i] = distance_m[i + 1] - distance_m[i];
    }
    const double mean_m = length_m / static_cast<double>(steps_m.size());
    const double usual_m = Ranks(steps_m, 0.0, 4.0 * mean_m).at(steps_m.size() / 2);
    const std::size_t intervals = even_intervals(length_m, usual_m);
    return {length_m / static_cast<double>(intervals),
            sampled(distance_m, ground_m, 0.0, length_m, intervals + 1)};
}

double mean_height_m(const EvenGround& ground) {
    const std::size_t outer = ground.intervals() / 10;
    const auto begin = ground.height_m.begin() + static_cast<std::ptrdiff_t>(outer);
    const auto end = ground.height_m.end() - static_cast<std::ptrdiff_t>(outer);
    double sum_m = 0.0;
    std::for_each(begin, end, [&](double h) { sum_m += h; });
    return sum_m / static_cast<double>(end - begin);
}

Line fitted_line(std::span<const double> values) {
    const std::size_t last = values.size() - 1;
    const auto n = static_cast<double>(last);
    double sum = 0.0;
    double moment = 0.0; // about the middle
    for (std::size_t i = 0; i <= last; ++i) {
        const double weight = i == 0 || i == last ? 0.5 : 1.0;
        sum += weight * values[i];
        moment += weight * values[i] * (static_cast<double>(i) - n / 2.0);
    }
    // The weighted sum of squares of -n/2 to n/2 is n (n^2 + 2) / 12.
    const double step = moment * 12.0 / (n * (n * n + 2.0));
    return {sum / n - step * n / 2.0, step};
}

double irregularity_m(std::span<const double> distance_m, std::span<const double> ground_m,
                      double spacing_m, double from_m, double to_m) {
    const double intervals = (to_m - from_m) / spacing_m;
    if (intervals < 2.0) {
        return 0.0;
    }
    // So many points that a tenth of them is a whole number and a half.
    const double tenth = std::clamp(std::floor(0.1 * (intervals + 8.0) + rounding), 4.0, 25.0);
    const auto rank = static_cast<std::size_t>(tenth);
    std::vector<double> points = sampled(distance_m, ground_m, from_m, to_m, 10 * rank - 5);
    const Line line = fitted_line(points);
    double low_m = std::numeric_limits<double>::infinity();
    double high_m = -low_m;
    for (std::size_t i = 0; i < points.size(); ++i) {
        points[i] -= line.start + line.step * static_cast<double>(i);
        low_m = std::min(low_m, points[i]);
        high_m = std::max(high_m, points[i]);
    }
    Ranks ranks(points, low_m, high_m);
    return (ranks.at(points.size() - rank) - ranks.at(rank - 1)) / shown_share(to_m - from_m);
}

AntennaHeights counted(AntennaHeights heights) {
    return {std::max(heights.transmitter_m, 0.5), std::max(heights.receiver_m, 0.5)};
}

WholeSteps whole_steps(const Stretch& stretch, double spacing_m, std::size_t intervals) {
    const auto n = static_cast<double>(intervals);
    double first = std::clamp(std::floor(stretch.from_m / spacing_m + rounding), 0.0, n);
    double last = std::clamp(std::ceil(stretch.to_m / spacing_m - rounding), 0.0, n);
    if (last <= first) {
        first = std::max(first - 1.0, 0.0);
        last = std::min(last + 1.0, n);
    }
    return {static_cast<std::size_t>(first), static_cast<std::size_t>(last)};
}

std::size_t even_intervals(double length_m, double usual_m) {
    return static_cast<std::size_t>(std::max(1.0, std::ceil(length_m / usual_m - rounding)));
}

Stretch counted_stretch(const Geometry& geometry) {
    const auto left_out_m = [](const Terminal& end) {
        return std::min(15.0 * end.height_m, 0.1 * end.horizon_m);
    };
    return {left_out_m(geometry.ends[0]), geometry.distance_m - left_out_m(geometry.ends[1])};
}

std::array<Stretch, 2> fitted_stretches(const Geometry& geometry) {
    const Stretch counted = counted_stretch(geometry);
    if (in_sight(geometry)) {
        return {counted, counted};
    }
    constexpr double share = 0.9; // of the way to the horizon
    return {Stretch{counted.from_m, share * geometry.ends[0].horizon_m},
            Stretch{geometry.distance_m - share * geometry.ends[1].horizon_m, counted.to_m}};
}

void finish(Geometry& geometry, const std::array<double, 2>& above_fit_m) {
    for (const std::size_t end : {0U, 1U}) {
        geometry.ends[end].effective_height_m =
            geometry.ends[end].height_m + std::max(0.0, above_fit_m[end]);
    }
    if (in_sight(geometry)) {
        finish_in_sight(geometry);
    }
}

Geometry analyse(std::span<const double> distance_km, std::span<const double> ground_m,
                 AntennaHeights heights, double sea_level_refractivity) {
    const std::vector<double> distance_m = in_metres(distance_km);
    const EvenGround even = even_ground(distance_m, ground_m);
    Geometry geometry;
    geometry.distance_m = distance_m.back();
    geometry.surface_refractivity =
        surface_refractivity(sea_level_refractivity, mean_height_m(even));
    geometry.curvature_per_m = earth_curvature_per_m(geometry.surface_refractivity);
    const AntennaHeights taken = counted(heights);
    geometry.ends[0].height_m = taken.transmitter_m;
    geometry.ends[1].height_m = taken.receiver_m;
    find_horizon(distance_m, ground_m, 0, geometry);
    find_horizon(distance_m, ground_m, 1, geometry);

    const auto [from_m, to_m] = counted_stretch(geometry);
    geometry.irregularity_m = irregularity_m(distance_m, ground_m, even.spacing_m, from_m, to_m);
    const std::array<Stretch, 2> fitted = fitted_stretches(geometry);
    finish(geometry, {even.height_m.front() - fitted_end_m(even, fitted[0], 0),
                      even.height_m.back() - fitted_end_m(even, fitted[1], 1)});
    return geometry;
}

} // namespace earshot::propagation::irregular
