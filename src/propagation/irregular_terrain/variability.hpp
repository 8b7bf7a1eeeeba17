#pragma once

#include "propagation/irregular_terrain.hpp"

namespace earshot::propagation::irregular {

/// d_e, effective distance, equations (5.3) and (5.4).
[[nodiscard]] double effective_distance_m(const Geometry& geometry, double wave_number_per_m);

/// How much the median of a climate lies below that of the average climate, dB: V_med.
[[nodiscard]] double climate_gain_db(Climate climate, double effective_distance_m);

/// sigma_T, deviation with time on the side of a standard normal deviate, equations (5.5) to (5.8).
/// Negative deviates are losses above the median.
[[nodiscard]] double time_deviation_db(Climate climate, double effective_distance_m,
                                       double wave_number_per_m, double deviate);

/// A(q_T, q_L, q_S), attenuation not exceeded for these shares, from the reference attenuation.
[[nodiscard]] double attenuation_db(const Geometry& geometry, double wave_number_per_m,
                                    double reference_db, const Inputs& inputs);

} // namespace earshot::propagation::irregular
