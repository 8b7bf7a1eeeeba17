#pragma once

namespace earshot::propagation {

/// Loss of one rounded hilltop, with every step.
struct RoundedObstacle {
    double nu = 0.0;            ///< diffraction parameter of a knife edge of the same height
    double knife_edge_db = 0.0; ///< J(nu)
    double m = 0.0;             ///< curvature parameter
    double n = 0.0;             ///< height parameter
    double curvature_db = 0.0;  ///< T(m, n): what the roundness adds, >= 0
    double loss_db = 0.0;       ///< relative to free space
};

/// Diffraction loss of a single obstacle that is a cylinder of radius `radius_m` across the path
/// (ITU-R P.526-15 section 4.2). `height_m` is that of the crossing point of the two rays tangent
/// to it, above the line between the terminals `d1_km` and `d2_km` away from it; distances > 0,
/// radius >= 0 (0 is a knife edge). The published fit is for obstacles that reach the line; below
/// it T shrinks linearly and is cut at 0, so the loss stays continuous. Radius small against the
/// distances; the surface is taken as a perfect conductor, rough enough ground (trees, rocks) makes
/// the true loss smaller.
[[nodiscard]] RoundedObstacle rounded_obstacle_loss(double height_m, double d1_km, double d2_km,
                                                    double radius_m, double frequency_mhz);

} // namespace earshot::propagation
