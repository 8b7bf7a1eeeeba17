#pragma once

namespace earshot::propagation {

/// Speed of light, m/s (exact, SI).
inline constexpr double speed_of_light_m_s = 299792458.0;
/// Mean radius of the Earth used by the ITU-R P series, km (P.1812-8 section 3.6; P.452; P.526).
inline constexpr double earth_radius_km = 6371.0;
/// Median effective-earth-radius factor of a standard atmosphere, 4/3 (ITU-R P.310, P.834).
inline constexpr double standard_k_factor = 4.0 / 3.0;

/// Frequencies the program computes for, MHz (the range of Recommendation ITU-R P.1812-8).
inline constexpr double lowest_frequency_mhz = 30.0;
inline constexpr double highest_frequency_mhz = 6000.0;

[[nodiscard]] double wavelength_m(double frequency_mhz);

/// Free-space basic transmission loss, 20 log10(4 pi d / lambda), dB (ITU-R P.525-4, equation (3);
/// equation (4) is the rounded form 32.4 + 20 log f + 20 log d). `distance_km` > 0.
[[nodiscard]] double free_space_loss_db(double distance_km, double frequency_mhz);

/// Effective earth radius k times 6371 km.
[[nodiscard]] double effective_earth_radius_km(double k_factor);

/// Height by which the earth's surface stands above the straight chord between two points at
/// distances `d1_km` and `d2_km` to either side, m: d1 d2 / (2 a_e) (ITU-R P.526-15 section 4).
/// This is the only place where curvature enters a profile.
[[nodiscard]] constexpr double earth_bulge_m(double d1_km, double d2_km,
                                             double effective_radius_km) {
    return 1000.0 * d1_km * d2_km / (2.0 * effective_radius_km);
}

/// Radius of the n-th Fresnel ellipsoid at distances d1 and d2 from the ends, m:
/// sqrt(n lambda d1 d2 / (d1 + d2)) (ITU-R P.526-15, equation (2)).
[[nodiscard]] double fresnel_radius_m(double d1_km, double d2_km, double frequency_mhz, int n = 1);

} // namespace earshot::propagation
