#pragma once

#include "earshot/propagation/conditions.hpp"

namespace earshot::propagation {

/// Electrical properties of the ground (ITU-R P.526-15 section 3.1.1; ITU-R P.527).
struct Ground {
    double relative_permittivity = 22.0; ///< >= 1
    double conductivity_s_m = 0.003;     ///< >= 0
};

/// Ground constants that Recommendation ITU-R P.1812-8 section 4.3.3 fixes for land and for sea.
inline constexpr Ground land_ground{22.0, 0.003};
inline constexpr Ground sea_ground{80.0, 5.0};

/// What the first term takes of the ground and the frequency alone: K, X and Y at a radius of 1 km
/// with beta = 1, equations (29a) to (33).
struct Surface {
    double admittance, x_per_km, y_per_m;
};

[[nodiscard]] Surface surface_of(double frequency_mhz, Ground ground, Polarization polarization);

/// First term of the residue series for diffraction over a sphere, with every step. This and the
/// following are of one path if Real is a double, or of one path for each lane of a register.
template <typename Real>
struct FirstTermOf {
    Real k;             ///< normalized surface admittance
    Real beta;          ///< ground and polarization parameter
    Real x;             ///< normalized path length
    Real y_transmitter; ///< normalized antenna heights
    Real y_receiver;
    Real distance_term_db;    ///< F(X)
    Real transmitter_gain_db; ///< G(Y), height gain, never below 2 + 20 log K
    Real receiver_gain_db;
    Real loss_db; ///< below free space; negative where the first term does not suffice
};
using FirstTerm = FirstTermOf<double>;

/// Diffraction loss relative to free space over a sphere of radius `radius_km`, by the first term
/// of the residue series (ITU-R P.526-15 section 3.1.1.2, equations (13) to (18a); the same in
/// P.1812-8 section 4.3.3, equations (29a) to (36)). Meant for paths at or beyond the horizon.
/// Distance, radius and frequency > 0; antenna heights above the sphere >= 0. Heights of zero are
/// allowed: the height gain has a floor.
[[nodiscard]] FirstTerm spherical_earth_first_term(double distance_km, double transmitter_height_m,
                                                   double receiver_height_m, double radius_km,
                                                   double frequency_mhz, Ground ground,
                                                   Polarization polarization);

/// Where the ray between two antennas in sight comes nearest the smooth sphere.
template <typename Real>
struct SmoothClearanceOf {
    Real transmitter_side_km, receiver_side_km, clearance_m;
};
using SmoothClearance = SmoothClearanceOf<double>;

/// Diffraction loss over a smooth sphere at any distance, with every step.
template <typename Real>
struct SphericalEarthLossOf {
    Real los_distance_km;
    decltype(Real() < Real()) line_of_sight;
    SmoothClearanceOf<Real> nearest; ///< set in line of sight only
    Real required_clearance_m;       ///< for no loss at all; set in line of sight only
    Real radius_used_km;             ///< in the first term; 0 if it was not needed
    Real first_term_db;              ///< land and sea mixed
    Real loss_db;                    ///< >= 0 in line of sight
};
using SphericalEarthLoss = SphericalEarthLossOf<double>;

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
