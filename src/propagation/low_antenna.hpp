#pragma once

#include "propagation/spherical_earth.hpp"

#include <span>

/// The ground beside a low antenna. A wave that arrives at a low angle, from a far ridge or from
/// another antenna, is met at the antenna by its own reflection from the ground before it, of
/// nearly the same strength and of opposite sign. The edges of a diffraction model know nothing of
/// it. docs/physics.md tells how it is used.

namespace earshot::propagation {

/// What the ground takes from one antenna, but for the angle of the wave.
struct LowAntenna {
    double field_per_slope; ///< field over that of free space for a slope of 1 m/km, while small
    double limit_db;        ///< no angle loses more
};

/// Height by which an antenna over the ground acts as if it stood higher, m: lambda / (2 pi |z|), z
/// the normalised surface impedance at grazing incidence (Bullington, "Radio propagation at
/// frequencies above 30 megacycles", Proc. IRE 35, 1947: minimum effective antenna height).
[[nodiscard]] double least_effective_height_m(double frequency_mhz, Ground ground,
                                              Polarization polarization);

/// For an antenna `height_m` >= 0 above land. Two rays, direct and reflected, add to
/// 2 sin(2 pi h psi / lambda) of the field of one, psi being the angle over the ground: taken as
/// its small-angle form up to the field of free space, never more. No loss exceeds what an antenna
/// at this height has below one at 10 m by ITU-R P.1546-6, annex 5 section 9: K log10(10 / h),
/// K = 3.2 + 6.2 log10 f, h from 1 m (from memory); at 10 m and above there is none.
[[nodiscard]] LowAntenna low_antenna(double height_m, double frequency_mhz,
                                     Polarization polarization);

/// An end of a profile.
enum class End { first, last };

/// Slope of the ground over `reach_km` from an end of a profile, up from that end, m/km.
[[nodiscard]] double ground_slope_beside(std::span<const double> distance_km,
                                         std::span<const double> ground_m, double reach_km,
                                         End end);

/// Loss beside one antenna for a wave `slope` above its ground, m/km, dB.
[[nodiscard]] double ground_beside_db(const LowAntenna& antenna, double slope);

} // namespace earshot::propagation
