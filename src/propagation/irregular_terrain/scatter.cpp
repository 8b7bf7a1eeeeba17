#include "propagation/irregular_terrain/attenuation.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace earshot::propagation::irregular {
namespace {

/// H, m, of equation (4.63).
constexpr double scatter_height_m = 47.7;

/// H_01(r, j) = 10 log(1 + b / r^2 + a / r^4) for j from 1 to 5, equation (6.14).
double tabled_gain_db(double r, std::size_t j) {
    struct Row {
        double a, b;
    };
    constexpr std::array<Row, 5> rows{
        {{25.0, 24.0}, {80.0, 45.0}, {177.0, 68.0}, {395.0, 80.0}, {705.0, 105.0}}};
    const auto& [a, b] = rows[j - 1];
    const double x = 1.0 / (r * r);
    return 10.0 * std::log10(1.0 + (b + a * x) * x);
}

/// What the frequency gain depends on at a distance.
struct Crossing {
    double r1 = 0.0, r2 = 0.0; ///< heights in wavelengths, turned by the angle, equation (4.62)
    double efficiency = 0.0;   ///< eta_s, equation (4.67)
    double asymmetry = 0.0;    ///< s_s, equation (4.65)
    double heights = 0.0;      ///< q, quotient of the heights over that of the distances
};

/// None if the scatter has no meaning: both r below 0.2.
std::optional<Crossing> crossing_at(const Geometry& geometry, const Wave& wave, double distance_m) {
    const auto& [a, b] = geometry.ends;
    const double angle_rad = a.horizon_elevation_rad + b.horizon_elevation_rad +
                             geometry.curvature_per_m * distance_m; // theta', (4.61)
    Crossing crossing;
    crossing.r1 = 2.0 * wave.number_per_m * angle_rad * a.effective_height_m;
    crossing.r2 = 2.0 * wave.number_per_m * angle_rad * b.effective_height_m;
    if (crossing.r1 < 0.2 && crossing.r2 < 0.2) {
        return std::nullopt;
    }
    const bool swapped = a.horizon_m < b.horizon_m;
    const Terminal& open = swapped ? b : a; // the end with the farther horizon
    const Terminal& shut = swapped ? a : b;
    const double surplus_m = open.horizon_m - shut.horizon_m;
    const double lengths = (distance_m - surplus_m) / (distance_m + surplus_m);
    crossing.heights =
        std::clamp(shut.effective_height_m / open.effective_height_m / lengths, 0.1, 10.0);
    crossing.asymmetry = std::max(0.1, lengths);
    // Height at which the horizon rays cross, (4.66).
    const double crossing_m =
        (distance_m - surplus_m) * (distance_m + surplus_m) * angle_rad / 4.0 / distance_m;
    const double n = geometry.surface_refractivity;
    const double bend = 0.031 - 2.32e-3 * n + 5.67e-6 * n * n;
    crossing.efficiency =
        crossing_m / 1756.0 *
        (1.0 + bend * std::exp(-std::pow(std::min(1.7, crossing_m / 8000.0), 6.0)));
    return crossing;
}

/// H_0, equations (6.10) to (6.12).
double whole_gain_db(const Crossing& c) {
    const double efficiency = std::max(c.efficiency, 1.0);
    const double even_db =
        (frequency_gain_db(c.r1, efficiency) + frequency_gain_db(c.r2, efficiency)) / 2.0;
    const double uneven_db =
        6.0 * (0.6 - std::log10(efficiency)) * std::log10(c.asymmetry) * std::log10(c.heights);
    const double gain_db = std::max(0.0, even_db + std::min(even_db, uneven_db));
    if (c.efficiency >= 1.0) {
        return gain_db;
    }
    constexpr double root2 = 1.41421356;
    const double both = (1.0 + root2 / c.r1) * (1.0 + root2 / c.r2);
    const double sum = c.r1 + c.r2;
    return c.efficiency * gain_db +
           (1.0 - c.efficiency) * 10.0 * std::log10(both * both * sum / (sum + 2.0 * root2));
}

/// A_scat(s) with this H_0, equation (4.63).
double attenuation_db(const Geometry& geometry, const Wave& wave, double distance_m,
                      double gain_db) {
    const double angle_rad =
        geometry.elevations_rad() + geometry.curvature_per_m * distance_m; // (4.61)
    const double reach_m = angle_rad * distance_m;
    return scatter_db(reach_m) -
           0.1 * (geometry.surface_refractivity - 301.0) * std::exp(-reach_m / 40e3) +
           10.0 * std::log10(wave.number_per_m * scatter_height_m * std::pow(angle_rad, 4.0)) +
           gain_db;
}

} // namespace

double frequency_gain_db(double r, double efficiency) {
    const double bounded = std::clamp(efficiency, 1.0, 5.0);
    const auto j = static_cast<std::size_t>(bounded);
    const double share = bounded - static_cast<double>(j);
    const double gain_db = tabled_gain_db(r, j);
    return share > 0.0 ? gain_db + share * (tabled_gain_db(r, j + 1) - gain_db) : gain_db;
}

double scatter_db(double reach_m) {
    if (reach_m <= 10e3) {
        return 133.4 + 0.332e-3 * reach_m - 10.0 * std::log10(reach_m);
    }
    if (reach_m <= 70e3) {
        return 104.6 + 0.212e-3 * reach_m - 2.5 * std::log10(reach_m);
    }
    return 71.8 + 0.157e-3 * reach_m + 5.0 * std::log10(reach_m);
}

std::optional<ScatterRegion> scatter_region(const Geometry& geometry, const Wave& wave,
                                            const Growth& diffraction) {
    constexpr double apart_m = 200e3;
    const double d5_m = geometry.horizons_m() + apart_m;
    const double d6_m = d5_m + apart_m;
    const auto near = crossing_at(geometry, wave, d5_m);
    const auto far = crossing_at(geometry, wave, d6_m);
    if (!near || !far) {
        return std::nullopt;
    }
    // A large gain at the nearer distance is not trusted: that of the farther one stands for it.
    constexpr double trusted_db = 15.0;
    const double far_db = whole_gain_db(*far);
    const double near_db = whole_gain_db(*near);
    const double used_db = std::max(far_db, near_db) > trusted_db ? far_db : near_db;
    const double a5_db = attenuation_db(geometry, wave, d5_m, used_db);
    const double a6_db = attenuation_db(geometry, wave, d6_m, far_db);
    const double per_m_db = (a6_db - a5_db) / apart_m; // (4.57)
    const double meeting_m =
        (a5_db - diffraction.at_zero_db - per_m_db * d5_m) / (diffraction.per_m_db - per_m_db);
    // Of (4.58); no example of NTIA's is decided by it.
    const double least_m =
        geometry.horizons_m() +
        0.3 * diffraction_length_m(geometry, wave) * std::log(wave.number_per_m * scatter_height_m);
    ScatterRegion region;
    region.begin_m = std::max({geometry.smooth_horizons_m(), least_m, meeting_m}); // (4.58)
    region.growth = {diffraction.at(region.begin_m) - per_m_db * region.begin_m, per_m_db};
    return region;
}

} // namespace earshot::propagation::irregular
