#include "propagation/irregular_terrain/attenuation.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace earshot::propagation::irregular {
namespace {

using std::numbers::pi;

/// G(x), the distance term of a smooth sphere, equation (6.3).
double sphere_distance_db(double x) {
    return 0.05751 * x - 10.0 * std::log10(x);
}

/// F_1(x), a height gain that does not hang on the ground, equation (6.5).
double high_antenna_db(double x) {
    return 40.0 * std::log10(std::max(x, 1.0)) - 117.0;
}

/// One of the three spheres of the smooth-earth part, equations (4.15) to (4.17).
struct Sphere {
    double scaled = 0.0;     ///< alpha_j
    double admittance = 0.0; ///< |K_j|
    double x_per_rad = 0.0;  ///< A B(K_j) alpha_j, of equations (4.18) and (4.19)
};

Sphere sphere_of(double radius_m, const Wave& wave) {
    Sphere sphere;
    sphere.scaled = std::cbrt(wave.number_per_m * radius_m);
    sphere.admittance = 1.0 / (sphere.scaled * std::abs(wave.ground));
    // B(K) is meant for |K| below 1; it must not turn negative.
    sphere.x_per_rad = 151.0 * std::max(1.607 - sphere.admittance, 0.0) * sphere.scaled;
    return sphere;
}

/// A_r, the smooth sphere through the horizons (Vogler's three radii), equations (4.15) to (4.20).
double smooth_sphere_db(const Geometry& geometry, const Wave& wave, double beyond_m,
                        double angle_rad) {
    double x_sum = 0.0;
    double gains_db = 0.0;
    for (const Terminal& end : geometry.ends) {
        const double radius_m = end.horizon_m * end.horizon_m / (2.0 * end.effective_height_m);
        const Sphere sphere = sphere_of(radius_m, wave);
        const double x = sphere.x_per_rad * end.horizon_m / radius_m;
        x_sum += x;
        gains_db += height_gain_db(x, sphere.admittance);
    }
    constexpr double c1_db = 20.0; // C_1(K), all but constant
    const double x = sphere_of(beyond_m / angle_rad, wave).x_per_rad * angle_rad + x_sum;
    return sphere_distance_db(x) - gains_db - c1_db;
}

/// A_k, a knife edge at either horizon, equations (4.13) and (4.14).
double two_edges_db(const Geometry& geometry, const Wave& wave, double beyond_m, double angle_rad) {
    double sum_db = 0.0;
    for (const Terminal& end : geometry.ends) {
        const double v_squared = angle_rad * angle_rad / 4.0 * wave.number_per_m / pi *
                                 end.horizon_m * beyond_m / (beyond_m + end.horizon_m);
        sum_db += knife_edge_db(v_squared);
    }
    return sum_db;
}

/// A_fo, what clutter and fields around low antennas cost, equation (4.10).
double clutter_db(const Geometry& geometry, const Wave& wave) {
    const double roughness_m = geometry.roughness_m(geometry.smooth_horizons_m());
    return std::min(15.0,
                    5.0 * std::log10(1.0 + 4.77e-4 * wave.number_per_m * geometry.ends[0].height_m *
                                               geometry.ends[1].height_m * roughness_m));
}

/// w, the smooth sphere's share, equation (4.9).
double sphere_share(const Geometry& geometry, const Wave& wave, double distance_m) {
    constexpr double point_to_point_m2 = 10.0; // C; 0 in the area mode
    const auto& [a, b] = geometry.ends;
    const double heights =
        std::sqrt((a.effective_height_m * b.effective_height_m + point_to_point_m2) /
                  (a.height_m * b.height_m + point_to_point_m2));
    const double lengths =
        (geometry.horizons_m() + geometry.elevations_rad() / geometry.curvature_per_m) / distance_m;
    const double waves =
        std::min(wave.number_per_m * geometry.irregularity_at_m(distance_m), 2000.0 * pi);
    return 25.1 / (25.1 + std::sqrt(waves * (heights + lengths)));
}

} // namespace

Wave wave_over(Ground ground, double frequency_mhz, Polarization polarization) {
    Wave wave;
    wave.number_per_m = frequency_mhz / 47.70;
    constexpr double free_space_ohm = 376.62;
    const std::complex<double> permittivity(
        ground.relative_permittivity, free_space_ohm * ground.conductivity_s_m / wave.number_per_m);
    wave.ground = std::sqrt(permittivity - 1.0);
    if (polarization == Polarization::vertical) {
        wave.ground /= permittivity;
    }
    return wave;
}

double knife_edge_db(double v_squared) {
    const double v = std::sqrt(v_squared);
    return v <= 2.4 ? 6.02 + 9.11 * v - 1.27 * v_squared : 12.953 + 20.0 * std::log10(v);
}

double height_gain_db(double x, double admittance) {
    constexpr double low = 200.0;
    constexpr double high = 2000.0;
    if (x < low) {
        const double minus_log = -std::log10(admittance);
        if (admittance < 1e-5 || x * minus_log * minus_log * minus_log > 450.0) {
            return high_antenna_db(x);
        }
        return 2.5e-5 * x * x / admittance + 20.0 * std::log10(admittance) - 15.0;
    }
    const double distance_db = sphere_distance_db(x);
    if (x >= high) {
        return distance_db;
    }
    const double share = 0.0134 * x * std::exp(-x / 200.0);
    return distance_db + share * (high_antenna_db(x) - distance_db);
}

double diffraction_db(const Geometry& geometry, const Wave& wave, double distance_m) {
    const double beyond_m = distance_m - geometry.horizons_m();
    // theta, equation (4.12).
    const double angle_rad = geometry.elevations_rad() + distance_m * geometry.curvature_per_m;
    const double share = sphere_share(geometry, wave, distance_m);
    return share * smooth_sphere_db(geometry, wave, beyond_m, angle_rad) +
           (1.0 - share) * two_edges_db(geometry, wave, beyond_m, angle_rad) +
           clutter_db(geometry, wave);
}

double diffraction_length_m(const Geometry& geometry, const Wave& wave) {
    return 1.0 / std::cbrt(wave.number_per_m * geometry.curvature_per_m * geometry.curvature_per_m);
}

Growth diffraction_region(const Geometry& geometry, const Wave& wave) {
    const double length_m = diffraction_length_m(geometry, wave);
    const double d3_m =
        std::max(geometry.smooth_horizons_m(), geometry.horizons_m() + 1.3787 * length_m);
    const double d4_m = d3_m + 2.7574 * length_m;
    const double a3_db = diffraction_db(geometry, wave, d3_m);
    const double a4_db = diffraction_db(geometry, wave, d4_m);
    const double per_m_db = (a4_db - a3_db) / (d4_m - d3_m);
    return {a3_db - per_m_db * d3_m, per_m_db};
}

double line_of_sight_db(const Geometry& geometry, const Wave& wave, const Growth& diffraction,
                        double distance_m) {
    const double k = wave.number_per_m;
    const auto& [a, b] = geometry.ends;
    const double heights_m = a.effective_height_m + b.effective_height_m;
    const double sine = heights_m / std::hypot(distance_m, heights_m); // (4.46)
    // (4.47); the exponent is bounded so that the phase is kept.
    std::complex<double> reflected =
        (sine - wave.ground) / (sine + wave.ground) *
        std::exp(-std::min(10.0, k * geometry.roughness_m(distance_m) * sine));
    const double strength = std::abs(reflected);
    if (strength < std::max(0.5, std::sqrt(sine))) { // (4.48)
        reflected *= std::sqrt(sine) / strength;
    }
    double phase_rad = 2.0 * k * a.effective_height_m * b.effective_height_m / distance_m; // (4.49)
    if (phase_rad > pi / 2.0) {                                                            // (4.50)
        phase_rad = pi - pi * pi / 4.0 / phase_rad;
    }
    const double two_rays_db =
        -20.0 * std::log10(std::abs(1.0 + reflected * std::polar(1.0, phase_rad))); // (4.51)
    // (4.44), the share of the two rays.
    const double share = 0.021 / (0.021 + k * geometry.irregularity_m /
                                              std::max(10e3, geometry.smooth_horizons_m()));
    return share * two_rays_db + (1.0 - share) * diffraction.at(distance_m);
}

double short_path_db(const Geometry& geometry, const Wave& wave, const Growth& diffraction) {
    const auto& [a, b] = geometry.ends;
    const double d2_m = geometry.smooth_horizons_m();
    const double a2_db = diffraction.at(d2_m);
    const double horizons_m = geometry.horizons_m();
    double d0_m = 1.908 * wave.number_per_m * a.effective_height_m * b.effective_height_m; // (4.38)
    double d1_m = 0.0;
    if (diffraction.at_zero_db >= 0.0) {
        d0_m = std::min(d0_m, 0.5 * horizons_m);  // (4.28)
        d1_m = d0_m + 0.25 * (horizons_m - d0_m); // (4.29)
    } else {
        d1_m =
            std::max(-diffraction.at_zero_db / diffraction.per_m_db, 0.25 * horizons_m); // (4.39)
    }
    const double a1_db = line_of_sight_db(geometry, wave, diffraction, d1_m);
    // A_2 + K_1 (d - d_2) + K_2 ln(d / d_2), (4.37) with (4.1).
    const auto curve = [&](double k1, double k2) {
        return a2_db + k1 * (geometry.distance_m - d2_m) +
               k2 * std::log(geometry.distance_m / d2_m);
    };
    if (d0_m < d1_m) {
        const double a0_db = line_of_sight_db(geometry, wave, diffraction, d0_m);
        const double log_20 = std::log(d2_m / d0_m);
        const double k2 = std::max(
            0.0, ((d2_m - d0_m) * (a1_db - a0_db) - (d1_m - d0_m) * (a2_db - a0_db)) /
                     ((d2_m - d0_m) * std::log(d1_m / d0_m) - (d1_m - d0_m) * log_20)); // (4.32)
        if (diffraction.at_zero_db >= 0.0 || k2 > 0.0) {
            const double k1 = (a2_db - a0_db - k2 * log_20) / (d2_m - d0_m); // (4.33)
            if (k1 >= 0.0) {
                return curve(k1, k2);
            }
            const double k2_alone = std::max(0.0, a2_db - a0_db) / log_20; // (4.35)
            return k2_alone > 0.0 ? curve(0.0, k2_alone) : curve(diffraction.per_m_db, 0.0);
        }
    }
    const double k1 = std::max(0.0, a2_db - a1_db) / (d2_m - d1_m); // (4.40)
    return curve(k1 == 0.0 ? diffraction.per_m_db : k1, 0.0);
}

Reference reference_attenuation(const Geometry& geometry, const Wave& wave) {
    const Growth diffraction = diffraction_region(geometry, wave);
    Reference reference;
    if (geometry.distance_m < geometry.smooth_horizons_m()) {
        reference = {Mechanism::line_of_sight, short_path_db(geometry, wave, diffraction)};
    } else {
        const auto scatter = scatter_region(geometry, wave, diffraction);
        const bool scattered = scatter && geometry.distance_m > scatter->begin_m;
        reference = {scattered ? Mechanism::scatter : Mechanism::diffraction,
                     (scattered ? scatter->growth : diffraction).at(geometry.distance_m)};
    }
    reference.attenuation_db = std::max(0.0, reference.attenuation_db);
    return reference;
}

} // namespace earshot::propagation::irregular
