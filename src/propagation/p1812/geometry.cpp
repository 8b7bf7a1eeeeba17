#include "earshot/base/error.hpp"
#include "propagation/basic.hpp"
#include "propagation/low_antenna.hpp"
#include "propagation/p1812.hpp"
#include "propagation/p1812/smooth_surface.hpp"
#include "propagation/plain.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <numbers>
#include <numeric>

namespace earshot::propagation {
namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double not_used = std::numeric_limits<double>::quiet_NaN();

void check_lengths(const PathView& path) {
    const std::size_t n = path.distance_km.size();
    if (n < 2) {
        throw_input(fmt::format("profile has {} points: it needs at least 2", n));
    }
    const auto check = [n](std::size_t size, const char* what, bool may_be_empty) {
        if (size != n && !(may_be_empty && size == 0)) {
            throw_input(fmt::format("profile has {} distances but {} {}: give one for each", n,
                                    size, what));
        }
    };
    check(path.ground_m.size(), "ground heights", false);
    check(path.cover_m.size(), "cover heights", true);
    check(path.zone.size(), "zones", true);
}

void check_points(const PathView& path) {
    const auto& d = path.distance_km;
    if (d[0] != 0.0) {
        throw_input(fmt::format("profile starts at {} km: the first point must be at 0", d[0]));
    }
    for (std::size_t i = 0; i < d.size(); ++i) {
        if (!std::isfinite(d[i]) || (i > 0 && !(d[i] > d[i - 1]))) {
            throw_input(fmt::format("profile point {}: distance {} km does not follow {} km; "
                                    "distances must increase",
                                    i + 1, d[i], i > 0 ? d[i - 1] : 0.0));
        }
        if (!std::isfinite(path.ground_m[i])) {
            throw_input(fmt::format("profile point {} at {} km: ground height is {}; fill the void "
                                    "or choose other terrain",
                                    i + 1, d[i], path.ground_m[i]));
        }
    }
    for (std::size_t i = 0; i < path.cover_m.size(); ++i) {
        if (!(path.cover_m[i] >= 0.0 && path.cover_m[i] < infinity)) {
            throw_input(fmt::format("profile point {} at {} km: ground cover is {} m high; it must "
                                    "be 0 or more",
                                    i + 1, d[i], path.cover_m[i]));
        }
    }
    for (const Zone zone : path.zone) {
        static_cast<void>(zone_from_code(static_cast<int>(zone)));
    }
}

void check_heights(AntennaHeights heights) {
    const auto check = [](double height_m, const char* which) {
        if (!(height_m >= 0.0 && height_m < infinity)) {
            throw_usage(fmt::format("{} antenna is {} m above the ground: give 0 or more, best "
                                    "from 1 to 3000 m",
                                    which, height_m));
        }
    };
    check(heights.transmitter_m, "transmitter");
    check(heights.receiver_m, "receiver");
}

// A value and the profile point it was found at.
struct Extreme {
    double value = -infinity;
    std::size_t index = 0;
};

// Where points tie, the one nearest its own terminal counts, so that swapping the ends of a path
// swaps the answers.
void raise_to_first(Extreme& extreme, double value, std::size_t index) {
    if (value > extreme.value) {
        extreme = {value, index};
    }
}
void raise_to_last(Extreme& extreme, double value, std::size_t index) {
    if (value >= extreme.value) {
        extreme = {value, index};
    }
}

// What one walk over the points between the ends collects.
struct SlopeScan {
    double transmitter_slope_median = -infinity; // cover included
    double transmitter_slope_beta = -infinity;
    double receiver_slope_median = -infinity;
    double receiver_slope_beta = -infinity;
    Extreme transmitter_tangent; // bare ground
    Extreme receiver_tangent;
    double obstruction_m = -infinity;           // h_obs
    double transmitter_obstruction = -infinity; // alpha_obt
    double receiver_obstruction = -infinity;    // alpha_obr
};

SlopeScan scan_slopes(const PathView& path, double hts, double hrs, const EffectiveRadii& radii) {
    const std::size_t last = path.distance_km.size() - 1;
    const double d = path.distance_km[last];
    const bool covered = !path.cover_m.empty();
    SlopeScan scan;
    for (std::size_t i = 1; i < last; ++i) {
        const double to_transmitter = path.distance_km[i];
        const double to_receiver = d - to_transmitter;
        const double per_transmitter = 1.0 / to_transmitter;
        const double per_receiver = 1.0 / to_receiver;
        const double bare = path.ground_m[i];
        const double top = covered ? bare + path.cover_m[i] : bare;
        const double bulge = earth_bulge_m(to_transmitter, to_receiver, radii.median_km);
        const double bulge_beta = earth_bulge_m(to_transmitter, to_receiver, radii.beta_km);

        scan.transmitter_slope_median =
            std::max(scan.transmitter_slope_median, (top + bulge - hts) * per_transmitter);
        scan.transmitter_slope_beta =
            std::max(scan.transmitter_slope_beta, (top + bulge_beta - hts) * per_transmitter);
        scan.receiver_slope_median =
            std::max(scan.receiver_slope_median, (top + bulge - hrs) * per_receiver);
        scan.receiver_slope_beta =
            std::max(scan.receiver_slope_beta, (top + bulge_beta - hrs) * per_receiver);

        // Tangents of the elevation angles of attachment 1 section 4, times 1000.
        raise_to_first(scan.transmitter_tangent,
                       (bare - hts) * per_transmitter - 500.0 * to_transmitter / radii.median_km,
                       i);
        raise_to_last(scan.receiver_tangent,
                      (bare - hrs) * per_receiver - 500.0 * to_receiver / radii.median_km, i);

        const double above_line = bare - (hts * to_receiver + hrs * to_transmitter) / d;
        scan.obstruction_m = std::max(scan.obstruction_m, above_line);
        scan.transmitter_obstruction =
            std::max(scan.transmitter_obstruction, above_line * per_transmitter);
        scan.receiver_obstruction = std::max(scan.receiver_obstruction, above_line * per_receiver);
    }
    return scan;
}

// Largest diffraction parameters times the root of the wavelength, for the line-of-sight cases.
struct NuScan {
    double median = -infinity; // cover included
    double beta = -infinity;
    Extreme bare_median;
};

NuScan scan_nu(const PathView& path, double hts, double hrs, const EffectiveRadii& radii) {
    const std::size_t last = path.distance_km.size() - 1;
    const double d = path.distance_km[last];
    const bool covered = !path.cover_m.empty();
    NuScan scan;
    for (std::size_t i = 1; i < last; ++i) {
        const double t = path.distance_km[i];
        const double r = d - t;
        const double scale = plain::scaled_nu(1.0, t, r);
        const double above_line = path.ground_m[i] - (hts * r + hrs * t) / d;
        const double cover = covered ? path.cover_m[i] : 0.0;
        const double bare = above_line + earth_bulge_m(t, r, radii.median_km);
        raise_to_last(scan.bare_median, bare * scale, i);
        scan.median = std::max(scan.median, (bare + cover) * scale);
        scan.beta =
            std::max(scan.beta, (above_line + earth_bulge_m(t, r, radii.beta_km) + cover) * scale);
    }
    return scan;
}

BullingtonTerms bullington_terms(double transmitter_slope, double direct_slope,
                                 double receiver_slope, double scaled_nu_max) {
    BullingtonTerms terms{transmitter_slope, direct_slope, receiver_slope, scaled_nu_max};
    (terms.line_of_sight() ? terms.receiver_slope : terms.scaled_nu_max) = not_used;
    return terms;
}

void derive_smooth_heights(const PathView& path, const SlopeScan& scan, PathGeometry& geometry) {
    SurfaceFit fit;
    for (std::size_t i = 1; i < path.distance_km.size(); ++i) {
        fit.add(path.distance_km[i - 1], path.ground_m[i - 1], path.distance_km[i],
                path.ground_m[i]);
    }
    const AtEnds fitted = fit.heights_m(geometry.distance_km);
    const AtEnds diffraction =
        scan.obstruction_m > 0.0
            ? lowered(fitted, scan.obstruction_m,
                      {scan.transmitter_obstruction, scan.receiver_obstruction})
            : fitted;
    geometry.fitted_transmitter_m = fitted.transmitter;
    geometry.fitted_receiver_m = fitted.receiver;
    geometry.diffraction_transmitter_m = std::min(diffraction.transmitter, path.ground_m.front());
    geometry.diffraction_receiver_m = std::min(diffraction.receiver, path.ground_m.back());
    geometry.smooth_transmitter_m = std::min(fitted.transmitter, path.ground_m.front());
    geometry.smooth_receiver_m = std::min(fitted.receiver, path.ground_m.back());
}

void derive_horizons(const PathView& path, const SlopeScan& scan, const NuScan* nu,
                     PathGeometry& geometry) {
    const double d = geometry.distance_km;
    const double curvature = 500.0 * d / geometry.radii.median_km;
    const double rise = (geometry.receiver_asl_m - geometry.transmitter_asl_m) / d;
    std::size_t first = scan.transmitter_tangent.index;
    std::size_t last = scan.receiver_tangent.index;
    const bool hidden = !geometry.line_of_sight;
    if (!hidden) {
        first = last = nu->bare_median.index;
    }
    const double transmitter_slope = hidden ? scan.transmitter_tangent.value : rise - curvature;
    const double receiver_slope = hidden ? scan.receiver_tangent.value : -rise - curvature;
    geometry.transmitter_angle_mrad = plain::elevation_mrad(transmitter_slope);
    geometry.receiver_angle_mrad = plain::elevation_mrad(receiver_slope);
    geometry.transmitter_horizon_km = path.distance_km[first];
    geometry.receiver_horizon_km = d - path.distance_km[last];
    const auto ground_slope = [&](End end) {
        return ground_slope_beside(path.distance_km, path.ground_m, beside_km(d), end);
    };
    geometry.transmitter_arrival =
        transmitter_slope + geometry.above_ground_m.transmitter_m / d - ground_slope(End::first);
    geometry.receiver_arrival =
        receiver_slope + geometry.above_ground_m.receiver_m / d - ground_slope(End::last);
    geometry.angular_distance_mrad = 1000.0 * d / geometry.radii.median_km +
                                     geometry.transmitter_angle_mrad + geometry.receiver_angle_mrad;

    const double slope = (geometry.smooth_receiver_m - geometry.smooth_transmitter_m) / d;
    double roughness = -infinity;
    for (std::size_t i = first; i <= last; ++i) {
        roughness = std::max(roughness, path.ground_m[i] - (geometry.smooth_transmitter_m +
                                                            slope * path.distance_km[i]));
    }
    geometry.roughness_m = roughness;
}

// A border between zones lies halfway between the points on either side of it.
double border_km(const PathView& path, std::size_t right) {
    return (path.distance_km[right - 1] + path.distance_km[right]) / 2.0;
}

// Lengths of the runs of points for which `belongs` holds.
struct Runs {
    double longest_km = 0.0;
    double total_km = 0.0;
};

template <typename Belongs>
Runs zone_runs(const PathView& path, Belongs belongs) {
    Runs runs;
    const std::size_t n = path.zone.size();
    for (std::size_t i = 0; i < n;) {
        if (!belongs(path.zone[i])) {
            ++i;
            continue;
        }
        std::size_t end = i;
        while (end < n && belongs(path.zone[end])) {
            ++end;
        }
        const double from = i == 0 ? 0.0 : border_km(path, i);
        const double to = end == n ? path.distance_km.back() : border_km(path, end);
        runs.longest_km = std::max(runs.longest_km, to - from);
        runs.total_km += to - from;
        i = end;
    }
    return runs;
}

void derive_zones(const PathView& path, PathGeometry& geometry) {
    const double d = geometry.distance_km;
    if (path.zone.empty()) {
        geometry.longest_land_km = geometry.longest_inland_km = d;
        return;
    }
    geometry.longest_land_km = zone_runs(path, [](Zone z) { return z != Zone::sea; }).longest_km;
    geometry.longest_inland_km =
        zone_runs(path, [](Zone z) { return z == Zone::inland; }).longest_km;
    geometry.sea_fraction = zone_runs(path, [](Zone z) { return z == Zone::sea; }).total_km / d;
    geometry.receiver_at_sea = path.zone.back() == Zone::sea;

    const std::size_t n = path.zone.size();
    const auto first = std::find(path.zone.begin(), path.zone.end(), Zone::sea);
    if (first == path.zone.end()) {
        return;
    }
    const auto i = static_cast<std::size_t>(first - path.zone.begin());
    geometry.transmitter_coast_km = i == 0 ? 0.0 : border_km(path, i);
    std::size_t after = n;
    while (path.zone[after - 1] != Zone::sea) {
        --after;
    }
    geometry.receiver_coast_km = after == n ? 0.0 : d - border_km(path, after);
}

// Index of the largest of f(first) .. f(last), for an f that rises and then falls.
template <typename Function>
std::size_t peak_index(std::size_t first, std::size_t last, const Function& f) {
    while (first < last) {
        const std::size_t middle = first + (last - first) / 2;
        if (f(middle) < f(middle + 1)) {
            first = middle + 1;
        } else {
            last = middle;
        }
    }
    return first;
}

PathGeometry analyse_checked(const PathView& path, AntennaHeights heights,
                             const EffectiveRadii& radii) {
    PathGeometry geometry;
    geometry.distance_km = path.distance_km.back();
    geometry.above_ground_m = heights;
    geometry.radii = radii;
    const double hts = path.ground_m.front() + heights.transmitter_m;
    const double hrs = path.ground_m.back() + heights.receiver_m;
    geometry.transmitter_asl_m = hts;
    geometry.receiver_asl_m = hrs;
    geometry.receiver_cover_m = path.cover_m.empty() ? 0.0 : path.cover_m.back();

    derive_zones(path, geometry);
    const SlopeScan slopes = scan_slopes(path, hts, hrs, radii);
    derive_smooth_heights(path, slopes, geometry);

    const double d = geometry.distance_km;
    const double direct_slope = (hrs - hts) / d;
    geometry.line_of_sight =
        slopes.transmitter_tangent.value <= direct_slope - 500.0 * d / radii.median_km;
    // The larger radius sees further, so it alone can be in sight where the median is not.
    const bool any_in_sight = geometry.line_of_sight ||
                              slopes.transmitter_slope_median < direct_slope ||
                              slopes.transmitter_slope_beta < direct_slope;
    const NuScan nu = any_in_sight ? scan_nu(path, hts, hrs, radii) : NuScan{};
    derive_horizons(path, slopes, &nu, geometry);

    geometry.actual_median = bullington_terms(slopes.transmitter_slope_median, direct_slope,
                                              slopes.receiver_slope_median, nu.median);
    geometry.actual_beta = bullington_terms(slopes.transmitter_slope_beta, direct_slope,
                                            slopes.receiver_slope_beta, nu.beta);
    const auto smooth = [&](double radius_km) {
        return smooth_bullington_terms(path.distance_km,
                                       geometry.diffraction_height_transmitter_m(),
                                       geometry.diffraction_height_receiver_m(), radius_km);
    };
    geometry.smooth_median = smooth(radii.median_km);
    geometry.smooth_beta = smooth(radii.beta_km);
    return geometry;
}

} // namespace

Zone zone_from_code(int code) {
    for (const Zone zone : {Zone::sea, Zone::coastal, Zone::inland}) {
        if (code == static_cast<int>(zone)) {
            return zone;
        }
    }
    throw_input(fmt::format("radio-climatic zone {} is unknown: use 1 (sea), 3 (coastal land) or 4 "
                            "(inland)",
                            code));
}

PathView view(const terrain::Profile& profile, std::span<const Zone> zone) {
    return {profile.distance_km, profile.ground_m, profile.cover_m, zone};
}

EffectiveRadii effective_radii(double delta_n) {
    if (!(delta_n >= 1.0 && delta_n <= 150.0)) {
        throw_usage(fmt::format("fall of refractivity is {} N-units/km: give a positive value from "
                                "1 to 150 (45 is usual at middle latitudes)",
                                delta_n));
    }
    constexpr double k_beta = 3.0;
    return {effective_earth_radius_km(157.0 / (157.0 - delta_n)),
            effective_earth_radius_km(k_beta)};
}

BullingtonTerms smooth_bullington_terms(std::span<const double> distance_km,
                                        double transmitter_height_m, double receiver_height_m,
                                        double radius_km) {
    const std::size_t last = distance_km.size() - 1;
    const double d = distance_km[last];
    // All three are concave (nu in the angle whose squared sine is the share of the path), so a
    // sampled peak is found by bisection.
    const auto from_transmitter = [&](std::size_t i) {
        return plain::smooth_slope(transmitter_height_m, distance_km[i], d - distance_km[i],
                                   radius_km);
    };
    const auto from_receiver = [&](std::size_t i) {
        return plain::smooth_slope(receiver_height_m, d - distance_km[i], distance_km[i],
                                   radius_km);
    };
    const auto nu = [&](std::size_t i) {
        return plain::smooth_scaled_nu(transmitter_height_m, receiver_height_m, distance_km[i],
                                       d - distance_km[i], radius_km);
    };
    const auto peak = [&](const auto& f) { return f(peak_index(1, last - 1, f)); };

    BullingtonTerms terms;
    terms.transmitter_slope = peak(from_transmitter);
    terms.direct_slope = (receiver_height_m - transmitter_height_m) / d;
    const bool in_sight = terms.line_of_sight();
    terms.receiver_slope = in_sight ? not_used : peak(from_receiver);
    terms.scaled_nu_max = in_sight ? peak(nu) : not_used;
    return terms;
}

PathGeometry analyse_path(const PathView& path, AntennaHeights heights,
                          const EffectiveRadii& radii) {
    check_lengths(path);
    check_points(path);
    check_heights(heights);
    if (path.distance_km.size() > 2) {
        return analyse_checked(path, heights, radii);
    }
    // The formulas need a point between the ends. Its zone is that of the transmitter, which puts
    // a border between zones at three quarters of the path.
    const std::array<double, 3> distance{0.0, path.distance_km[1] / 2.0, path.distance_km[1]};
    const std::array<double, 3> ground{
        path.ground_m[0], std::midpoint(path.ground_m[0], path.ground_m[1]), path.ground_m[1]};
    std::array<double, 3> cover{};
    if (!path.cover_m.empty()) {
        cover = {path.cover_m[0], 0.0, path.cover_m[1]};
    }
    std::array<Zone, 3> zone{Zone::inland, Zone::inland, Zone::inland};
    if (!path.zone.empty()) {
        zone = {path.zone[0], path.zone[0], path.zone[1]};
    }
    PathGeometry geometry = analyse_checked({distance, ground, cover, zone}, heights, radii);
    geometry.middle_interpolated = true;
    return geometry;
}

double path_centre_latitude_deg(geo::LatLon transmitter, geo::LatLon receiver, double path_km) {
    constexpr double radians = std::numbers::pi / 180.0;
    const double lat_t = transmitter.lat_deg * radians;
    const double lat_r = receiver.lat_deg * radians;
    const double dlon = (receiver.lon_deg - transmitter.lon_deg) * radians;
    const double north =
        std::cos(lat_t) * std::sin(lat_r) - std::sin(lat_t) * std::cos(lat_r) * std::cos(dlon);
    const double east = std::cos(lat_r) * std::sin(dlon);
    const double length = std::hypot(north, east);
    // Two stations at one place have no direction between them; any will do for so short a path.
    const double cos_bearing = length > 0.0 ? north / length : 1.0;
    const double half_arc = path_km / 2.0 / earth_radius_km;
    const double sine =
        std::sin(lat_t) * std::cos(half_arc) + std::cos(lat_t) * std::sin(half_arc) * cos_bearing;
    return std::asin(std::clamp(sine, -1.0, 1.0)) / radians;
}

} // namespace earshot::propagation
