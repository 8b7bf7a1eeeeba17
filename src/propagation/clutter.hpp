#pragma once

#include "earshot/propagation/conditions.hpp"

#include <span>
#include <string_view>

/// Loss of an antenna below the roofs around it: Recommendation ITU-R P.2108-1.
/// docs/woods-and-noise.md tells how it goes with the rest of a path.

namespace earshot::propagation {

struct HousesInfo {
    Houses houses;
    std::string_view name; ///< as the user writes it
};

/// All ways of counting houses, the default first.
[[nodiscard]] std::span<const HousesInfo> house_rules();
[[nodiscard]] std::string_view name_of(Houses houses);

/// A_h: loss from the height of the roofs down to an antenna in the street, dB; 0 for one at the
/// roofs or above (P.2108-1 section 3.1, equations (2a), (2c) to (2e) and (2g), for streets of 27
/// m, suburban, urban and dense urban alike). It comes on top of the loss of a path to the height
/// of the roofs. Made for 30 MHz to 3 GHz.
[[nodiscard]] double below_roofs_db(double frequency_mhz, double antenna_m, double roofs_m);

/// L_ctt: loss through the clutter around a terminal well below it that is not exceeded at this
/// share of places, dB (P.2108-1 section 3.2, equations (3) to (6)). Made for 0.5 to 67 GHz and
/// 0.25 km or more; below either it is carried on, but never below 0.
[[nodiscard]] double statistical_clutter_db(double frequency_mhz, double distance_km,
                                            double places_percent = 50.0);

/// A terminal in a built-up place.
struct AmongHouses {
    double antenna_m = 0.0; ///< above the ground
    double roofs_m = 0.0;   ///< above the ground; 0: there are none
};

/// Whether houses cost this terminal something of its own, rather than stand in the way.
[[nodiscard]] bool below_roofs(Houses houses, const AmongHouses& terminal);

/// Height from which the path of a terminal is reckoned: that of the roofs if it is below them.
[[nodiscard]] double path_height_m(Houses houses, const AmongHouses& terminal);

/// What a terminal loses from there on, dB; 0 unless it is below the roofs.
[[nodiscard]] double houses_db(const Conditions& conditions, const AmongHouses& terminal,
                               double distance_km);

} // namespace earshot::propagation
