#pragma once

#include "earshot/link/budget.hpp"

#include <cstdint>

/// How far people should stay from an antenna that transmits. Good for raised antennas, in their
/// far field; a radio in the hand is judged by what its body takes up, which its maker has to
/// declare.

namespace earshot::link {

/// What the ground adds to the power density of the antenna alone.
enum class GroundReflection : std::uint8_t {
    none,    ///< nothing: factor 1
    typical, ///< field strength times 1.6, power density times 2.56, as found by measurement (EPA)
    full,    ///< a perfect reflection doubles the field strength: power density times 4
};

/// Where the far-field power density S has fallen to `density_w_m2`, m: S = F EIRP / (4 pi R^2),
/// where F is the factor of the reflection (FCC OET Bulletin 65, edition 97-01, section 2: equation
/// (4) without reflection, (6) with a full one, (7) with 1.6 times the field strength; numbers of
/// equations from memory). Throws Error(Fault::usage) unless the power is at least 0 and the
/// density more than 0.
[[nodiscard]] double distance_of_density_m(double eirp_w, double density_w_m2,
                                           GroundReflection reflection);

/// Power density that people at large may be exposed to without end, W/m2: the lesser of
/// - 47 CFR 1.1310 table 1, general population/uncontrolled exposure (averaged over 30 minutes):
///   2 from 30 to 300 MHz, f/150 to 1500 MHz, 10 above (0.2, f/1500 and 1 mW/cm2), and
/// - ICNIRP, "Guidelines for limiting exposure to electromagnetic fields (100 kHz to 300 GHz)",
///   Health Physics 118, 483-524, 2020, table 5, general public, whole body (averaged over 30
///   minutes): 2 from 30 to 400 MHz, f/200 to 2000 MHz, 10 above.
/// `frequency_mhz` from 30 to 6000, else Error(Fault::usage).
[[nodiscard]] double public_exposure_limit_w_m2(double frequency_mhz);

/// How far people at large should stay from the antenna of a radio that transmits all the time, m:
/// power less feeder loss plus gain, with a full reflection, at the limit above. On the safe side,
/// the body beside the antenna takes nothing. Throws as public_exposure_limit_w_m2().
[[nodiscard]] double exposure_distance_m(const Radio& radio, double frequency_mhz);

} // namespace earshot::link
