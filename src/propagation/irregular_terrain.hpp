#pragma once

#include "earshot/propagation/conditions.hpp"
#include "propagation/spherical_earth.hpp"

#include <array>
#include <complex>
#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// The irregular terrain model in its point-to-point mode: loss over a profile of bare ground from
/// 20 MHz to 20 GHz, antennas at 0.5 to 3000 m, paths of 1 to 2000 km.
///
/// G. A. Hufford, A. G. Longley, W. A. Kissick, "A guide to the use of the ITS irregular terrain
/// model in the area prediction mode", NTIA Report 82-100 (1982), and G. A. Hufford, "The ITS
/// irregular terrain model, version 1.2.2: the algorithm". Numbers of equations are those of the
/// second, written down from memory, as are the constants and how a profile is prepared; what they
/// give is held to NTIA's own examples (tests/reference/itm). Constants that the algorithm writes
/// out further (10 sqrt(2 pi), 151.03, 1 / 47.7) are rounded to 25.1, 151.0 and 0.021 here, with
/// which the examples come out to their last digit.

namespace earshot::propagation::irregular {

/// Electrical properties of average ground (table in NTIA Report 82-100).
inline constexpr Ground average_ground{15.0, 0.005};

enum class Climate : std::uint8_t {
    equatorial = 1,
    continental_subtropical = 2,
    maritime_subtropical = 3,
    desert = 4,
    continental_temperate = 5,
    maritime_temperate_over_land = 6,
    maritime_temperate_over_sea = 7,
};

/// How the shares of time, places and situations are joined (section 5).
enum class Variability : std::uint8_t {
    single_message, ///< all three are one: the share of situations counts
    individual,     ///< time apart; places and situations are one
    mobile,         ///< time and places are one, situations apart
    broadcast,      ///< all three apart
};

/// The wave over its ground.
struct Wave {
    double number_per_m = 0.0;   ///< k
    std::complex<double> ground; ///< Z_g, surface transfer impedance
};

struct Inputs {
    double frequency_mhz = 0.0;          ///< 20 to 20000
    double sea_level_refractivity = 0.0; ///< N_0, N-units
    Ground ground = average_ground;
    Polarization polarization = Polarization::vertical;
    Climate climate = Climate::continental_temperate;
    Variability variability = Variability::mobile;
    bool places_vary = false;    ///< false takes the spread among places out
    bool situations_vary = true; ///< false takes the spread among situations out
    /// Shares for which the loss is not exceeded, above 0 and below 100.
    double time_percent = 50.0;
    double location_percent = 50.0;
    double situation_percent = 50.0;
};

/// What the model makes of one end of a profile.
struct Terminal {
    double height_m = 0.0;              ///< h_g, antenna above ground
    double effective_height_m = 0.0;    ///< h_e, above the ground that reflects
    double horizon_m = 0.0;             ///< d_L
    double horizon_elevation_rad = 0.0; ///< theta_e
};

/// What the model makes of a profile.
struct Geometry {
    double distance_m = 0.0;           ///< d
    double surface_refractivity = 0.0; ///< N_s, N-units
    double curvature_per_m = 0.0;      ///< gamma_e, effective curvature of the earth
    double irregularity_m = 0.0;       ///< delta_h, interdecile range of the ground
    std::array<Terminal, 2> ends;      ///< transmitter, receiver

    [[nodiscard]] double smooth_horizon_m(std::size_t end) const;    ///< d_Lsj, equation (3.5)
    [[nodiscard]] double smooth_horizons_m() const;                  ///< d_Ls, equation (3.6)
    [[nodiscard]] double horizons_m() const;                         ///< d_L, equation (3.7)
    [[nodiscard]] double elevations_rad() const;                     ///< theta_e, equation (3.8)
    [[nodiscard]] double irregularity_at_m(double distance_m) const; ///< delta_h(s), equation (3.9)
    [[nodiscard]] double roughness_m(double distance_m) const; ///< sigma_h(s), equation (3.10)
};

enum class Mechanism : std::uint8_t { line_of_sight, diffraction, scatter };

[[nodiscard]] std::string_view mechanism_name(Mechanism mechanism);

struct Result {
    Geometry geometry;
    Mechanism mechanism = Mechanism::line_of_sight;
    double free_space_db = 0.0;  ///< A_fs
    double reference_db = 0.0;   ///< A_ref, below free space; the median of the average climate
    double attenuation_db = 0.0; ///< A(q_T, q_L, q_S), below free space
    double loss_db = 0.0;        ///< basic transmission loss
    std::vector<std::string> warnings; ///< what lies outside the model's limits, a sentence each
    /// Whether heights, length and refractivity lie where the model's loss means anything. Horizons
    /// that are nearer or steeper than it was made for are told of, and no more.
    bool within_limits = true;
};

/// What of the frequency and the antennas lies outside the range that the model was made for.
[[nodiscard]] std::vector<std::string> warnings(double frequency_mhz, AntennaHeights heights);

/// N_s of ground at a mean height above sea level, equation (1.2).
[[nodiscard]] double surface_refractivity(double sea_level_refractivity, double mean_ground_m);

/// gamma_e, equation (1.3). Throws Error(Fault::usage) above 450 N-units.
[[nodiscard]] double earth_curvature_per_m(double surface_refractivity);

/// What the model takes of conditions. Shares of time are its own; shares of places are its
/// situations, since a profile leaves no places to spread over. Ground cover does not count.
[[nodiscard]] Inputs inputs_of(const Conditions& conditions);

/// The loss over a profile of at least 2 points, from 0, at any spacing; heights are above sea
/// level. The model's own steps along the profile are even: it is interpolated where it is not.
/// Antennas lower than 0.5 m are taken as 0.5 m. The same both ways over the same ground. Throws
/// Error(Fault::usage) that names the value and the range, Error(Fault::input) for a profile that
/// is too short or out of order.
[[nodiscard]] Result predict(std::span<const double> distance_km, std::span<const double> ground_m,
                             AntennaHeights heights, const Inputs& inputs);

/// The loss alone, without words, for maps: NaN outside the limits. Antennas, inputs and ground are
/// known to be in order.
class MapModel {
public:
    MapModel(AntennaHeights heights, const Inputs& inputs);

    [[nodiscard]] double loss_db(std::span<const double> distance_km,
                                 std::span<const double> ground_m) const;
    /// Of a path that is known by its geometry.
    [[nodiscard]] double loss_db(const Geometry& geometry) const;

    /// Heights of the antennas as the model takes them: 0.5 m or more.
    [[nodiscard]] AntennaHeights counted_heights() const;
    [[nodiscard]] const Inputs& inputs() const { return inputs_; }

private:
    AntennaHeights heights_;
    Inputs inputs_;
    Wave wave_;
};

} // namespace earshot::propagation::irregular
