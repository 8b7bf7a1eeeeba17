#pragma once

#include "earshot/terrain/refractivity.hpp"

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// What a prediction takes besides the path and the radios.
///
///     propagation::Conditions conditions; // ITU-R P.1812, half of the time and places
///     conditions.frequency_mhz = 446.0;
///     conditions.location_percent = 90.0;
///     for (const std::string& warning : propagation::validity_warnings(conditions, {10.0, 0.2})) {
///         std::cerr << warning << '\n';
///     }

namespace earshot::propagation {

enum class Polarization { horizontal, vertical };

/// How the loss of a single edge is worked out from nu.
enum class KnifeEdgeForm {
    exact, ///< complex Fresnel integral, ITU-R P.526-15 equation (30)
    itu,   ///< ITU approximation, P.526-15 equation (31); zero for nu <= -0.78
};

/// Measurements behind the greatest loss A_m = A1 f^alpha (P.833-10 section 2.1, equation (2)).
enum class WoodlandFit : std::uint8_t {
    st_petersburg,  ///< mixed coniferous and deciduous, trees of 16 m, 105.9 to 2117.5 MHz
    rio_de_janeiro, ///< park with tropical trees of 15 m, 900 to 1800 MHz
    mulhouse,       ///< mixed forest of 15 m, 900 to 2200 MHz
};

/// How the houses around an antenna below their roofs count.
enum class Houses : std::uint8_t {
    below_roofs, ///< ITU-R P.2108-1 section 3.1: the path runs to the height of the roofs, and the
                 ///< way down into the street costs something of its own
    statistical, ///< the same with the loss of section 3.2, which knows distance but no heights
    obstacles,   ///< ITU-R P.1812: they stand in the way, up to a step before the antenna
};

/// Mean and standard deviation of the loss into a building in dB, the form in which ITU-R P.1812-8
/// section 4.9 takes it: a normal distribution to be joined with that of location.
struct BuildingEntry {
    double median_db = 0.0;
    double deviation_db = 0.0;
};

/// Heights of the antennas above the ground, m: >= 0, meant to be within 1 to 3000.
struct AntennaHeights {
    double transmitter_m = 0.0;
    double receiver_m = 0.0;
};

/// What a prediction by P.1812 takes besides the path: one value for all paths of a job.
struct P1812Conditions {
    /// 30 to 6000. There is no default: the value below is refused.
    double frequency_mhz = 0.0;
    double time_percent = 50.0;     ///< p, 1 to 50: the loss is not exceeded for this time
    double location_percent = 50.0; ///< p_L, 1 to 99: the loss is not exceeded at these places
    Polarization polarization = Polarization::vertical;
    terrain::Refractivity refractivity; ///< delta_n 1 to 150, n0 100 to 600

    /// sigma_L: standard deviation of the loss among places around the receiver, dB, >= 0. Unset:
    /// equations (64) and (65) from the two values below and the receiver's height and cover.
    std::optional<double> location_deviation_db;
    double location_area_width_m = 100.0; ///< w_a, side of the area the places lie in; meant to be
                                          ///< within 50 to 1000

    std::optional<BuildingEntry> building_entry; ///< set if the receiver is indoors

    /// Departs from the Recommendation where small radios are used, see Method::short_range, which
    /// sets it.
    bool short_range = false;
};

/// How the loss of a path is worked out.
enum class Method {
    /// P.1812 but for two things: scatter from the upper air, which the Recommendation takes from
    /// P.617, counts only from 100 km on, for which P.617 was made (it fades by 1 dB for each
    /// kilometre short of that); and the ground beside an antenna below 10 m weakens a wave that
    /// comes over a ridge at a low angle (docs/physics.md).
    short_range,
    p1812,
    free_space,
    single_edge,
    bullington,
    bullington_p526,
    epstein_peterson,
    deygout,
    deygout_p526,
    cascaded_p526,
    irregular_terrain,
};

struct MethodInfo {
    Method method;
    std::string_view name;   ///< as the user writes it
    std::string_view source; ///< the publication that defines it
};

/// All methods, in the order they are listed to the user.
[[nodiscard]] std::span<const MethodInfo> methods();
[[nodiscard]] const MethodInfo& method_info(Method method);
/// Whether the method is P.1812, pure or for small radios.
[[nodiscard]] constexpr bool from_p1812(Method method) {
    return method == Method::short_range || method == Method::p1812;
}
/// Throws Error(Fault::usage) that lists the names.
[[nodiscard]] Method parse_method(std::string_view name);
/// Whether the method predicts other shares of time and places than half of both.
[[nodiscard]] bool knows_shares(Method method);

/// Everything about a prediction that is neither the path nor the radios. One value serves all
/// paths of a job.
struct Conditions : P1812Conditions {
    Conditions() { frequency_mhz = 146.0; }

    Method method = Method::short_range;
    KnifeEdgeForm knife_edge = KnifeEdgeForm::itu;
    double k_factor = 4.0 / 3.0; ///< effective earth radius over earth radius, > 0; the
                                 ///< standard's own method takes it from `refractivity`
    Houses houses = Houses::below_roofs;
    WoodlandFit woodland_fit = WoodlandFit::st_petersburg;
    /// Multiplies the loss in woodland, >= 0: what a field correction found it to be instead.
    double woodland_factor = 1.0;
    /// Taken off every loss, dB: what a field correction found signals to be stronger by.
    double field_offset_db = 0.0;
    /// Deviation of predictions from measurements, dB, for the chance of contact, where somebody
    /// knows it. Unset: by the path (link::prediction_deviation_db()).
    std::optional<double> prediction_deviation_db;
    /// How much of its variance that deviation has; the rest is by the path. Less than 1 where a
    /// field correction has faded.
    double deviation_share = 1.0;
};

/// What a method from P.1812 takes of them.
[[nodiscard]] P1812Conditions p1812_conditions(const Conditions& conditions);

/// What of the antennas' heights and the conditions lies outside the range that the method was made
/// for, in words. The length of a path is judged with the path.
[[nodiscard]] std::vector<std::string> validity_warnings(const Conditions& conditions,
                                                         AntennaHeights heights);

/// Effective earth radius that a prediction bends its rays by, km.
[[nodiscard]] double radius_km(const Conditions& conditions);

} // namespace earshot::propagation
