#pragma once

#include "earshot/propagation/p1812.hpp"
#include "earshot/terrain/profile.hpp"
#include "propagation/basic.hpp"
#include "propagation/multiple_edges.hpp"
#include "propagation/vegetation.hpp"

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace earshot::propagation {

/// How the loss of a path is worked out.
enum class Method {
    p1812,
    free_space,
    single_edge,
    bullington,
    bullington_p526,
    epstein_peterson,
    deygout,
    deygout_p526,
    cascaded_p526,
};

struct MethodInfo {
    Method method;
    std::string_view name;   ///< as the user writes it
    std::string_view source; ///< the publication that defines it
};

/// All methods, in the order they are listed to the user.
[[nodiscard]] std::span<const MethodInfo> methods();
[[nodiscard]] const MethodInfo& method_info(Method method);
/// Throws Error(Fault::usage) that lists the names.
[[nodiscard]] Method parse_method(std::string_view name);

/// Everything about a prediction that is neither the path nor the radios. One value serves all
/// paths of a job.
struct Conditions : P1812Conditions {
    Conditions() { frequency_mhz = 146.0; }

    Method method = Method::p1812;
    KnifeEdgeForm knife_edge = KnifeEdgeForm::itu;
    double k_factor = standard_k_factor; ///< effective earth radius over earth radius, > 0; the
                                         ///< standard's own method takes it from `refractivity`
    WoodlandFit woodland_fit = WoodlandFit::st_petersburg;
    /// Multiplies the loss in woodland, >= 0: what a field correction found it to be instead.
    double woodland_factor = 1.0;
    /// Deviation of predictions from measurements, dB, for the chance of contact. 8 dB is common
    /// practice for predictions over a terrain profile (no source).
    double prediction_deviation_db = 8.0;
};

/// Loss of one path and the reasons for it.
struct PathLoss {
    double free_space_db = 0.0;
    double diffraction_db = 0.0;
    double basic_loss_db = 0.0; ///< between the antennas, over the ground and its cover
    /// Further loss to a terminal that stands in woodland below the tree tops (ITU-R P.833).
    double tx_woodland_db = 0.0;
    double rx_woodland_db = 0.0;
    double tx_woodland_depth_m = 0.0; ///< length of the path in the terminal's own woodland
    double rx_woodland_depth_m = 0.0;
    Sight sight;
    [[nodiscard]] double total_db() const {
        return basic_loss_db + tx_woodland_db + rx_woodland_db;
    }
    std::vector<Edge> edges;          ///< the edges the method rests on, transmitter to receiver
    std::optional<P1812Result> p1812; ///< every intermediate value, if that was the method
};

/// Effective earth radius that a prediction bends its rays by, km.
[[nodiscard]] double radius_km(const Conditions& conditions);

/// What of the antennas' heights and the conditions lies outside the range that the method was made
/// for, in words. The length of a path is judged with the path.
[[nodiscard]] std::vector<std::string> validity_warnings(const Conditions& conditions,
                                                         AntennaHeights heights);

/// Whether the loss is the same both ways over the same ground.
[[nodiscard]] bool reciprocal(const Conditions& conditions);

/// Predicts the loss between an antenna above the ground at the first point of the profile and one
/// above the ground at the last. All values are NaN if the profile holds a void. The profile must
/// have at least 2 points and a positive length; heights above ground are at least 0.
[[nodiscard]] PathLoss path_loss(const terrain::Profile& profile, AntennaHeights heights,
                                 const Conditions& conditions);

} // namespace earshot::propagation
