#pragma once

#include "earshot/propagation/conditions.hpp"

namespace earshot::propagation {

enum class BuildingType {
    traditional,         ///< brick, plain glass, no foil
    thermally_efficient, ///< metallized glass, foil-backed panels
};

/// Loss into a building, not exceeded with probability `probability` in (0, 1), dB (ITU-R P.2109-2
/// equations (1) to (10)). `elevation_deg` is the angle of the path above the horizontal at the
/// wall, -90 to 90. The model is published for 80 MHz to 100 GHz; below 80 MHz it extrapolates.
/// Values out of range throw Error(Fault::usage).
[[nodiscard]] double building_entry_loss_db(BuildingType type, double frequency_mhz,
                                            double probability, double elevation_deg = 0.0);

/// The normal distribution through P.2109's median whose spread matches P.2109 between the 15.87
/// and 84.13 percent points (one deviation to either side). P.2109's own distribution is a little
/// skewed, so far tails differ.
[[nodiscard]] BuildingEntry building_entry(BuildingType type, double frequency_mhz,
                                           double elevation_deg = 0.0);

} // namespace earshot::propagation
