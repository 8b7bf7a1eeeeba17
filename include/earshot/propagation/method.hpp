#pragma once

#include "earshot/propagation/basic.hpp"
#include "earshot/propagation/multiple_edges.hpp"
#include "earshot/propagation/p1812.hpp"
#include "earshot/terrain/profile.hpp"

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
/// Throws Error(ExitCode::usage) that lists the names.
[[nodiscard]] Method parse_method(std::string_view name);

/// Everything about a prediction that is not the path itself.
struct PathSettings {
    Method method = Method::p1812;
    KnifeEdgeForm knife_edge = KnifeEdgeForm::itu;
    double frequency_mhz = 146.0;        ///< 30 to 6000
    double k_factor = standard_k_factor; ///< effective earth radius over earth radius, > 0; the
                                         ///< standard's own method takes it from `p1812` instead
    /// For the standard's own method: climate, share of time and places. Its frequency is not read,
    /// the one above counts. The caller sets the latitude for each path.
    P1812Inputs p1812;
};

/// Loss of one path and the reasons for it.
struct PathLoss {
    double free_space_db = 0.0;
    double diffraction_db = 0.0;
    double basic_loss_db = 0.0; ///< what goes into the link budget
    Sight sight;
    std::vector<Edge> edges;          ///< the edges the method rests on, transmitter to receiver
    std::optional<P1812Result> p1812; ///< every intermediate value, if that was the method
};

/// Predicts the loss between an antenna `tx_antenna_m` above the ground at the first point of the
/// profile and one `rx_antenna_m` above the ground at the last. All values are NaN if the profile
/// holds a void. The profile must have at least 2 points and a positive length; heights above
/// ground are at least 0.
[[nodiscard]] PathLoss path_loss(const terrain::Profile& profile, double tx_antenna_m,
                                 double rx_antenna_m, const PathSettings& settings);

} // namespace earshot::propagation
