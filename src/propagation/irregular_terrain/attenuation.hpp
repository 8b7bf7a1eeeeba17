#pragma once

#include "propagation/irregular_terrain.hpp"

#include <optional>

namespace earshot::propagation::irregular {

/// k and Z_g, equations (1.1), (1.4) and (1.5).
[[nodiscard]] Wave wave_over(Ground ground, double frequency_mhz, Polarization polarization);

/// Attenuation that grows in a straight line with distance.
struct Growth {
    double at_zero_db = 0.0;
    double per_m_db = 0.0;
    [[nodiscard]] double at(double distance_m) const { return at_zero_db + per_m_db * distance_m; }
};

/// Fn(v), loss of a knife edge, equation (6.1). `v_squared` >= 0.
[[nodiscard]] double knife_edge_db(double v_squared);

/// F(x, K), height gain over a smooth sphere, equations (6.2) to (6.7).
[[nodiscard]] double height_gain_db(double x, double admittance);

/// H_00, frequency gain of scatter at an efficiency, equations (6.13) and (6.14).
[[nodiscard]] double frequency_gain_db(double r, double efficiency);

/// F(D), scatter at the standard refractivity, equation (6.9). `reach_m` is theta d.
[[nodiscard]] double scatter_db(double reach_m);

/// A_diff(s), equations (4.9) to (4.20): knife edges at both horizons, and a smooth sphere through
/// them, mixed by the roughness of the ground.
[[nodiscard]] double diffraction_db(const Geometry& geometry, const Wave& wave, double distance_m);

/// X_ae, the length by which diffraction over the earth grows, equation (4.2).
[[nodiscard]] double diffraction_length_m(const Geometry& geometry, const Wave& wave);

/// The diffraction region, equations (4.2) to (4.8).
[[nodiscard]] Growth diffraction_region(const Geometry& geometry, const Wave& wave);

/// A_los(s), equations (4.43) to (4.51): two rays, and the diffraction region carried inward.
[[nodiscard]] double line_of_sight_db(const Geometry& geometry, const Wave& wave,
                                      const Growth& diffraction, double distance_m);

/// Attenuation of a path shorter than the smooth horizons, equations (4.28) to (4.40).
[[nodiscard]] double short_path_db(const Geometry& geometry, const Wave& wave,
                                   const Growth& diffraction);

/// The scatter region, from where it takes over, equations (4.52) to (4.59).
struct ScatterRegion {
    double begin_m = 0.0; ///< d_x
    Growth growth;
};

/// None where the angles are so small that the scatter of the model has no meaning.
[[nodiscard]] std::optional<ScatterRegion>
scatter_region(const Geometry& geometry, const Wave& wave, const Growth& diffraction);

struct Reference {
    Mechanism mechanism = Mechanism::line_of_sight;
    double attenuation_db = 0.0; ///< A_ref
};

/// A_ref, equation (4.1).
[[nodiscard]] Reference reference_attenuation(const Geometry& geometry, const Wave& wave);

} // namespace earshot::propagation::irregular
