#pragma once

#include "propagation/low_antenna.hpp"
#include "propagation/p1812.hpp"

namespace earshot::propagation {

/// What the ground beside the antennas takes: nothing by the Recommendation.
struct LowAntennas {
    LowAntennas(const P1812Conditions& conditions, AntennaHeights heights);

    LowAntenna transmitter{}, receiver{};
};

/// Deviations of the loss among places, dB.
struct PlaceSpread {
    explicit PlaceSpread(const P1812Conditions& conditions);

    double fixed_db = 0.0;    ///< sigma_L wherever the receiver stands, if that is given
    double at_cover_db = 0.0; ///< or else for an antenna at the height of the cover
    double in_building_db = 0.0;
};

/// Recommendation ITU-R P.617, from which P.1812 has its scatter, is for trans-horizon links from
/// this distance on, km (P.617-5 annex 1 section 1, from memory).
inline constexpr double least_scatter_km = 100.0;

/// What the formulas of P.1812 take of the conditions alone, whatever the path.
struct P1812Constants {
    explicit P1812Constants(const P1812Conditions& inputs);

    double time_percent, log_time; ///< p and its logarithm to base 10
    double time_deviate;           ///< I(p / 100)
    double wavelength_m, root_wavelength_m;
    double free_space_db; ///< over a kilometre
    double median_radius_km, beta_radius_km;
    double troposcatter_db;          ///< equation (44) less what depends on the path
    double scatter_fade_db_km;       ///< per kilometre short of least_scatter_km
    double duct_wavelength_db;       ///< A_lf, equation (47a)
    double duct_db;                  ///< equation (47) less what depends on the path
    double duct_attenuation_db_mrad; ///< gamma_d, equation (51)
    double root_f_ghz, cube_root_f_ghz;
    double entry_loss_db; ///< into a building, 0 outdoors
    double place_deviate; ///< I(p_L / 100)
};

} // namespace earshot::propagation
