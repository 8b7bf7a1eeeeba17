#pragma once

namespace earshot::propagation {

enum class Polarization { horizontal, vertical };

/// Electrical properties of the ground (ITU-R P.526-15 section 3.1.1; ITU-R P.527).
struct Ground {
    double relative_permittivity = 22.0; ///< >= 1
    double conductivity_s_m = 0.003;     ///< >= 0
};

/// Ground constants that Recommendation ITU-R P.1812-8 section 4.3.3 fixes for land and for sea.
inline constexpr Ground land_ground{22.0, 0.003};
inline constexpr Ground sea_ground{80.0, 5.0};

/// First term of the residue series for diffraction over a sphere, with every step.
struct FirstTerm {
    double k = 0.0;             ///< normalized surface admittance
    double beta = 1.0;          ///< ground and polarization parameter
    double x = 0.0;             ///< normalized path length
    double y_transmitter = 0.0; ///< normalized antenna heights
    double y_receiver = 0.0;
    double distance_term_db = 0.0;    ///< F(X)
    double transmitter_gain_db = 0.0; ///< G(Y), height gain, never below 2 + 20 log K
    double receiver_gain_db = 0.0;
    double loss_db = 0.0; ///< below free space; negative where the first term does not suffice
};

/// Diffraction loss relative to free space over a sphere of radius `radius_km`, by the first term
/// of the residue series (ITU-R P.526-15 section 3.1.1.2, equations (13) to (18a); the same in
/// P.1812-8 section 4.3.3, equations (29a) to (36)). Meant for paths at or beyond the horizon.
/// Distance, radius and frequency > 0; antenna heights above the sphere >= 0. Heights of zero are
/// allowed: the height gain has a floor.
[[nodiscard]] FirstTerm spherical_earth_first_term(double distance_km, double transmitter_height_m,
                                                   double receiver_height_m, double radius_km,
                                                   double frequency_mhz, Ground ground,
                                                   Polarization polarization);

/// Greatest distance at which two antennas see each other over a smooth sphere, km (P.526-15
/// equation (21); P.1812-8 equation (22)). Heights >= 0.
[[nodiscard]] double smooth_horizon_distance_km(double transmitter_height_m,
                                                double receiver_height_m, double radius_km);

/// Where the ray between two antennas in sight comes nearest the smooth sphere.
struct SmoothClearance {
    double transmitter_side_km = 0.0;
    double receiver_side_km = 0.0;
    double clearance_m = 0.0;
};

/// Point of least clearance over a smooth sphere for antennas within sight of each other (P.526-15
/// equations (22) to (23e); P.1812-8 equations (23) to (24e)). At least one height > 0.
[[nodiscard]] SmoothClearance smooth_earth_clearance(double distance_km,
                                                     double transmitter_height_m,
                                                     double receiver_height_m, double radius_km);

/// Diffraction loss over a smooth sphere at any distance, with every step.
struct SphericalEarthLoss {
    double los_distance_km = 0.0;
    bool line_of_sight = false;
    SmoothClearance nearest;           ///< set in line of sight only
    double required_clearance_m = 0.0; ///< for no loss at all; set in line of sight only
    double radius_used_km = 0.0;       ///< in the first term; 0 if it was not needed
    double first_term_db = 0.0;        ///< land and sea mixed
    double loss_db = 0.0;              ///< >= 0 in line of sight
};

/// Loss relative to free space over a smooth sphere (P.526-15 section 3.2; P.1812-8 section 4.3.2).
/// Beyond the horizon it is the first term. Within it, it is zero where the ray clears the sphere
/// by 0.552 of the wavelength-scaled ellipsoid, and otherwise the first term at the marginal radius
/// scaled by the missing clearance. `sea_fraction` in [0, 1] mixes the loss over sea and over land
/// in dB (P.1812-8 equation (28)).
[[nodiscard]] SphericalEarthLoss
spherical_earth_loss(double distance_km, double transmitter_height_m, double receiver_height_m,
                     double radius_km, double frequency_mhz, Polarization polarization,
                     double sea_fraction);

} // namespace earshot::propagation
