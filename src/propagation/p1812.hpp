#pragma once

#include "earshot/propagation/conditions.hpp"
#include "earshot/terrain/profile.hpp"
#include "propagation/spherical_earth.hpp"

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// Recommendation ITU-R P.1812-8: basic transmission loss from 30 MHz to 6 GHz over paths up to
/// 3000 km, not exceeded for 1 to 50 percent of the time and 1 to 99 percent of places.
///
/// The work is in two parts. analyse_path() reduces a profile to the few numbers the formulas use;
/// none of them depends on frequency. p1812_loss() is the formulas, at a cost that does not depend
/// on the profile. Whoever can carry those numbers along a radial needs only the second.
/// Symbols and equation numbers are those of annex 1. docs/physics-p1812.md derives it all.

namespace earshot::propagation {

/// Radio-climatic zone of a point, with the codes of ITU-R profile files (P.1812-8 section 3.6).
enum class Zone : std::uint8_t {
    sea = 1,     ///< also other large bodies of water
    coastal = 3, ///< land up to 100 m above the sea, within 50 km of it
    inland = 4,
};

/// The zone with this code. Throws Error(Fault::input) for any code but 1, 3 and 4.
[[nodiscard]] Zone zone_from_code(int code);

/// Ground along a path from transmitter to receiver, borrowed from the caller. `cover_m` and `zone`
/// may be empty: no cover, all inland.
struct PathView {
    std::span<const double> distance_km; ///< from 0, increasing, at least 2 points
    std::span<const double> ground_m;    ///< above sea level
    std::span<const double> cover_m;     ///< height of ground cover above the ground, >= 0
    std::span<const Zone> zone;
};

[[nodiscard]] PathView view(const terrain::Profile& profile, std::span<const Zone> zone = {});

/// Effective earth radii, km.
struct EffectiveRadii {
    double median_km = 0.0; ///< a_e, for half of the time (equations (6), (7a))
    double beta_km = 0.0;   ///< a_beta, for beta_0 percent of the time (equation (7b))
};

/// `delta_n` in N-units/km, from 1 to 150; other values throw Error(Fault::usage).
[[nodiscard]] EffectiveRadii effective_radii(double delta_n);

/// What the Bullington construction needs of a profile for one effective radius (section 4.3.1).
/// Slopes are in m/km. A term that the case at hand does not use is NaN.
struct BullingtonTerms {
    double transmitter_slope = 0.0; ///< S_tim, steepest from the transmitter, equation (13)
    double direct_slope = 0.0;      ///< S_tr, transmitter to receiver, equation (14)
    double receiver_slope = 0.0;    ///< S_rim, steepest from the receiver, equation (17); beyond
                                    ///< the horizon only
    /// nu_max times the root of the wavelength in metres, equation (15); in line of sight only.
    /// The product does not depend on frequency, nor does the point where it is largest.
    double scaled_nu_max = 0.0;

    [[nodiscard]] bool line_of_sight() const { return transmitter_slope < direct_slope; }
};

/// All that the formulas need of a path. Fixed size, no frequency in it.
struct PathGeometry {
    double distance_km = 0.0; ///< d
    AntennaHeights above_ground_m;
    double transmitter_asl_m = 0.0; ///< h_ts, antenna above sea level
    double receiver_asl_m = 0.0;    ///< h_rs
    EffectiveRadii radii;

    bool line_of_sight = false;          ///< over bare ground at the median radius, section 4 of
                                         ///< attachment 1
    double transmitter_horizon_km = 0.0; ///< d_lt, equation (78)
    double receiver_horizon_km = 0.0;    ///< d_lr, equation (81a)
    double transmitter_angle_mrad = 0.0; ///< theta_t, equations (76) to (78)
    double receiver_angle_mrad = 0.0;    ///< theta_r, equations (79) to (81)
    double angular_distance_mrad = 0.0;  ///< theta, equation (82)

    double fitted_transmitter_m = 0.0;      ///< h_st before it is bounded, equation (85)
    double fitted_receiver_m = 0.0;         ///< h_sr before it is bounded, equation (86)
    double smooth_transmitter_m = 0.0;      ///< h_st, not above the ground, equation (90a)
    double smooth_receiver_m = 0.0;         ///< h_sr, equation (90b)
    double diffraction_transmitter_m = 0.0; ///< h_std, equations (87) to (89)
    double diffraction_receiver_m = 0.0;    ///< h_srd
    double roughness_m = 0.0;               ///< h_m, equation (93)
    /// Slope at which the wave comes in at each antenna over the slope of the ground beside it
    /// (beside_km()), m/km: that of its horizon, and its height over the length of the path, which
    /// alone counts over flat ground. Not in P.1812.
    double transmitter_arrival = 0.0;
    double receiver_arrival = 0.0;

    double sea_fraction = 0.0;                  ///< omega
    double longest_land_km = 0.0;               ///< d_tm, land of both kinds
    double longest_inland_km = 0.0;             ///< d_lm
    std::optional<double> transmitter_coast_km; ///< along the path to the first sea; none if there
                                                ///< is no sea on it
    std::optional<double> receiver_coast_km;
    bool receiver_at_sea = false;
    double receiver_cover_m = 0.0;    ///< ground cover at the receiver, for location variability
    bool middle_interpolated = false; ///< the profile had no point between its ends

    BullingtonTerms actual_median; ///< ground and cover, a_e
    BullingtonTerms actual_beta;   ///< ground and cover, a_beta
    BullingtonTerms smooth_median; ///< heights of zero under the antennas of equation (37), a_e
    BullingtonTerms smooth_beta;

    /// h'_tc, h'_rc: antennas above the smooth surface of the diffraction model, equation (37).
    [[nodiscard]] double diffraction_height_transmitter_m() const {
        return transmitter_asl_m - diffraction_transmitter_m;
    }
    [[nodiscard]] double diffraction_height_receiver_m() const {
        return receiver_asl_m - diffraction_receiver_m;
    }
    /// h_te, h_re: antennas above the smooth surface of the ducting model, equation (92).
    [[nodiscard]] double ducting_height_transmitter_m() const {
        return transmitter_asl_m - smooth_transmitter_m;
    }
    [[nodiscard]] double ducting_height_receiver_m() const {
        return receiver_asl_m - smooth_receiver_m;
    }
};

/// How far the ground beside an antenna reaches toward the other, km: where a wave at a low angle
/// is reflected from. Half of a short path.
[[nodiscard]] constexpr double beside_km(double path_km) {
    return path_km < 0.4 ? path_km / 2.0 : 0.2;
}

/// Reduces a profile (attachment 1 to annex 1, and the profile's part of section 4.3). Cover is
/// added to the ground between the ends for diffraction only. A profile without points between its
/// ends gets one in the middle, at the mean ground height. Throws Error(Fault::input) for a
/// profile that is too short, out of order or not finite and for cover below the ground, and
/// Error(Fault::usage) for an antenna below the ground.
[[nodiscard]] PathGeometry analyse_path(const PathView& path, AntennaHeights heights,
                                        const EffectiveRadii& radii);

/// The Bullington terms of a profile of zero height at the given distances, under antennas at
/// heights > 0 or = 0 above it. The slope and nu have one maximum each along such a profile, so
/// this takes steps that grow with the logarithm of the number of points.
[[nodiscard]] BullingtonTerms smooth_bullington_terms(std::span<const double> distance_km,
                                                      double transmitter_height_m,
                                                      double receiver_height_m, double radius_km);

/// The same for one path, with what the profile does not tell of it.
struct P1812Inputs : P1812Conditions {
    P1812Inputs() = default;
    explicit P1812Inputs(const P1812Conditions& conditions) : P1812Conditions(conditions) {}

    double path_centre_latitude_deg = 0.0; ///< -90 to 90
    /// d_ct, d_cr: distance over land from each antenna to the sea along the path, km, >= 0; 0 on a
    /// ship. Unset: from the zones of the profile, and 500 if no sea lies on it.
    std::optional<double> transmitter_coast_km;
    std::optional<double> receiver_coast_km;
};

/// Refuses values out of the ranges above: throws Error(Fault::usage) that names the value and the
/// range.
void validate(const P1812Conditions& conditions);

/// What of the conditions and antennas lies outside the range that the Recommendation was made for,
/// a sentence each. The length of a path is judged with the path.
[[nodiscard]] std::vector<std::string> warnings(const P1812Conditions& conditions,
                                                AntennaHeights heights);

/// Deviation of the loss among places around a receiver, dB: sigma_L of equations (64) and (65),
/// which dies out as the antenna rises above the cover (`above_cover_m`, negative below it), and
/// that of the building around it, if it is in one. Places at sea are all alike.
[[nodiscard]] double location_deviation_db(const P1812Conditions& conditions, double above_cover_m,
                                           bool at_sea);

/// Diffraction by the delta-Bullington construction for one effective radius (section 4.3.4).
struct DeltaBullington {
    double actual_nu = 0.0;      ///< nu_max or nu_b, equations (15), (19)
    double actual_loss_db = 0.0; ///< L_bulla, equation (21)
    double smooth_nu = 0.0;
    double smooth_loss_db = 0.0;    ///< L_bulls, equation (21)
    SphericalEarthLoss spherical{}; ///< L_dsph, equation (27)
    double beside_db = 0.0;         ///< by the ground beside the antennas; not in P.1812
    double loss_db = 0.0;           ///< L_d, equation (38)
};

/// Ducting and layer reflection (section 4.5).
struct Ducting {
    double wavelength_correction_db = 0.0;     ///< A_lf, equation (47a)
    double transmitter_shielding_db = 0.0;     ///< A_st, equation (48)
    double receiver_shielding_db = 0.0;        ///< A_sr, equation (48)
    double transmitter_coupling_db = 0.0;      ///< A_ct, equation (49)
    double receiver_coupling_db = 0.0;         ///< A_cr, equation (49)
    double fixed_loss_db = 0.0;                ///< A_f, equation (47)
    double specific_attenuation_db_mrad = 0.0; ///< gamma_d, equation (51)
    double angular_distance_mrad = 0.0;        ///< theta', equation (52)
    double tau = 0.0;                          ///< equation (3)
    double alpha = 0.0;                        ///< equation (55a)
    double mu2 = 0.0;                          ///< equation (55)
    double mu3 = 0.0;                          ///< equation (56)
    double beta_percent = 0.0;                 ///< equation (54)
    double gamma = 0.0;                        ///< exponent, equation (53a)
    double time_variability_db = 0.0;          ///< A(p), equation (53)
    double variable_loss_db = 0.0;             ///< A_d(p), equation (50)
    double loss_db = 0.0;                      ///< L_ba, equation (46)
};

/// Every value on the way to the loss.
struct P1812Result {
    PathGeometry geometry;
    P1812Inputs inputs;

    double mu1 = 0.0;           ///< equation (2)
    double mu4 = 0.0;           ///< equation (4)
    double beta0_percent = 0.0; ///< equation (5)

    double free_space_db = 0.0;     ///< L_bfs, over the slant distance, equation (8)
    double multipath_p_db = 0.0;    ///< E_sp, equation (9a)
    double multipath_beta_db = 0.0; ///< E_sbeta, equation (9b)
    double los_p_db = 0.0;          ///< L_b0p, equation (10)
    double los_beta_db = 0.0;       ///< L_b0beta, equation (11)

    DeltaBullington median;                   ///< its loss is L_d50, equation (39)
    DeltaBullington beta;                     ///< its loss is L_dbeta
    double time_interpolation = 0.0;          ///< F_i, equation (40)
    double diffraction_p_db = 0.0;            ///< L_dp, equation (41)
    double diffraction_median_basic_db = 0.0; ///< L_bd50, equation (42)
    double diffraction_basic_db = 0.0;        ///< L_bd, equation (43)

    double troposcatter_db = 0.0; ///< L_bs, equation (44)
    Ducting ducting;

    double angle_interpolation = 0.0;      ///< F_j, equation (57)
    double distance_interpolation = 0.0;   ///< F_k, equation (58)
    double least_los_diffraction_db = 0.0; ///< L_minb0p, equation (59)
    double least_los_ducting_db = 0.0;     ///< L_minbap, equation (60)
    double diffraction_ducting_db = 0.0;   ///< L_bda, equation (61)
    double modified_db = 0.0;              ///< L_bam, equation (62)
    double median_places_db = 0.0;         ///< L_bc, equation (63)

    double location_deviation_db = 0.0;  ///< sigma, of places and building together, (64) to (68)
    double location_correction_db = 0.0; ///< L_loc, building entry included
    double loss_db = 0.0;                ///< L_b, equation (69)
    double field_strength_dbuv_m = 0.0;  ///< E_p for 1 kW e.r.p., equation (70)

    /// What lies outside the range the Recommendation was made for.
    std::vector<std::string> warnings;
};

/// The loss from what analyse_path() found. `geometry.radii` must be those of
/// `inputs.refractivity`. Throws Error(Fault::usage) that names the value and the allowed range.
[[nodiscard]] P1812Result p1812_loss(const PathGeometry& geometry, const P1812Inputs& inputs);

[[nodiscard]] P1812Result p1812(const PathView& path, AntennaHeights heights,
                                const P1812Inputs& inputs);

/// Latitude of the middle of a path of `path_km` that starts at `transmitter` toward `receiver`, on
/// a sphere of 6371 km, degrees; the validation set of P.1812-8 finds it so.
[[nodiscard]] double path_centre_latitude_deg(geo::LatLon transmitter, geo::LatLon receiver,
                                              double path_km);

/// One intermediate value, ready to print.
struct ExplainedValue {
    std::string_view symbol;   ///< as the Recommendation writes it, in plain characters
    std::string_view equation; ///< number of the equation, section or table
    double value = 0.0;
    std::string_view unit; ///< empty for a pure number
    std::string_view meaning;
};

/// All values of a result in the order in which they are found.
[[nodiscard]] std::vector<ExplainedValue> explain(const P1812Result& result);

} // namespace earshot::propagation
