#pragma once

#include "earshot/propagation/path_loss.hpp"
#include "propagation/knife_edge.hpp"

#include <cstddef>
#include <span>
#include <vector>

namespace earshot::propagation {

/// What the knife-edge methods need to know of a path. The end points of the profile carry the
/// antennas; the heights there are not obstacles.
struct ObstaclePath {
    std::span<const double> distance_km; ///< from the transmitter, increasing from 0
    std::span<const double> height_m;    ///< ground plus cover above sea level, same length
    double tx_height_m = 0.0;            ///< antenna above sea level
    double rx_height_m = 0.0;            ///< antenna above sea level
    double wavelength_m = 0.0;
    double effective_radius_km = 0.0;
};

/// Loss of a multiple-edge method and the edges it rests on, from transmitter to receiver.
struct Diffraction {
    double loss_db = 0.0;
    std::vector<Edge> edges;
};

/// Examines every point between the ends. A profile without such points is clear; its `closest`
/// has nu = -infinity.
[[nodiscard]] Sight line_of_sight(const ObstaclePath& path);

/// Only the edge of largest nu (ITU-R P.526-15, section 4.1).
[[nodiscard]] Diffraction single_edge(const ObstaclePath& path, KnifeEdgeForm form);

/// Below this nu the ITU form of a knife edge is zero (ITU-R P.526-15, equation (31)), and the
/// multiple-edge methods leave an edge out.
inline constexpr double least_nu_with_loss = -0.78;

/// The edge that stands for a blocked path: where the horizon rays of its two ends cross. Slopes
/// are in m/km, of the steepest rays from transmitter and receiver over the ground raised by
/// curvature, and of the line between them (ITU-R P.526-15 section 4.5.1). `index` and `loss_db`
/// are not set.
[[nodiscard]] Edge equivalent_edge(double tx_slope, double direct_slope, double rx_slope,
                                   double length_km, double wavelength_m);

/// (1 - exp(-L / 6)) (10 + 0.02 d), what Bullington's single edge leaves out (ITU-R P.526-15
/// section 4.5.1).
[[nodiscard]] double bullington_correction_db(double edge_loss_db, double length_km);

/// One equivalent edge where the two horizon rays cross, or the edge of largest nu where the path
/// is clear (K. Bullington, "Radio propagation at frequencies above 30 megacycles", Proc. IRE 35,
/// 1947). With `p526_correction`, L + (1 - exp(-L / 6)) (10 + 0.02 d) as in ITU-R P.526-15 section
/// 4.5.1.
[[nodiscard]] Diffraction bullington(const ObstaclePath& path, KnifeEdgeForm form,
                                     bool p526_correction);

/// Each obstacle seen from its two neighbours, losses added (J. Epstein and D. W. Peterson, "An
/// experimental study of wave propagation at 850 Mc", Proc. IRE 41, 1953). Obstacles are the points
/// of a string stretched over the profile; neighbouring samples on the string count as one
/// obstacle, at its point of largest nu (ITU-R P.526-15 section 4.4 groups them so). A clear path
/// takes the edge of largest nu.
[[nodiscard]] Diffraction epstein_peterson(const ObstaclePath& path, KnifeEdgeForm form);

/// Main edge of largest nu, then the largest on either side of it seen against the main edge
/// (J. Deygout, "Multiple knife-edge diffraction of microwaves", IEEE Trans. AP-14, 1966), limited
/// to three edges. With `p526_correction`, each side's loss is reduced by T_c of ITU-R P.526-15
/// section 4.4.1, equations (43) to (46), never below zero.
[[nodiscard]] Diffraction deygout(const ObstaclePath& path, KnifeEdgeForm form,
                                  bool p526_correction);

/// Cascaded knife edges for a general path: J(nu_p) + T (J(nu_t) + J(nu_r) + C), with
/// T = 1 - exp(-J(nu_p) / 6) and C = 10 + 0.04 d (ITU-R P.526-10 section 4.4.2). Zero if nu_p <=
/// -0.78.
[[nodiscard]] Diffraction cascaded_edges(const ObstaclePath& path, KnifeEdgeForm form);

/// T_c of ITU-R P.526-15 section 4.3, dB, for a main edge `main_m` above the transmitter-receiver
/// line and a second edge `second_m` above it; a, b, c are the distances from the terminal nearest
/// the main edge to it, between the edges, and from the second edge to the other terminal. Zero if
/// either edge is at or below the line.
[[nodiscard]] double double_edge_correction_db(double main_m, double second_m, double a_km,
                                               double b_km, double c_km, double wavelength_m);

} // namespace earshot::propagation
