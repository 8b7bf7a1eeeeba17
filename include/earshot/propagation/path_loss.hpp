#pragma once

#include "earshot/propagation/conditions.hpp"
#include "earshot/terrain/profile.hpp"

#include <cstddef>
#include <memory>
#include <vector>

/// The loss of one path. The promise: by the method p1812, that of the validation set of
/// Recommendation ITU-R P.1812.
///
///     const propagation::PathLoss loss = propagation::path_loss(profile, {10.0, 1.5}, conditions);
///     std::cout << loss.total_db() << " dB" << (loss.sight.clear ? ", in sight\n" : "\n");

namespace earshot::propagation {

struct P1812Result;
namespace irregular {
struct Result;
}

/// A point of the profile that matters to a path.
struct Edge {
    std::size_t index = 0;
    double distance_km = 0.0;
    double height_above_line_m = 0.0; ///< above the line between the two points it is seen from
    double nu = 0.0;
    double loss_db = 0.0;
};

/// Line of sight over a profile: the ray between the antennas against the ground raised by the
/// earth's curvature.
struct Sight {
    bool clear = true;         ///< no point of the profile reaches the ray
    Edge closest;              ///< the point of largest nu; loss_db is not set
    double clearance_f1 = 0.0; ///< height of the ray above that point in first Fresnel radii
};

/// Loss of one path and the reasons for it.
struct PathLoss {
    double free_space_db = 0.0;
    double diffraction_db = 0.0;
    double basic_loss_db = 0.0; ///< between the antennas, over the ground and its cover
    /// Further loss to a terminal that stands in woodland below the tree tops (ITU-R P.833).
    double tx_woodland_db = 0.0;
    double rx_woodland_db = 0.0;
    /// Further loss to a terminal below the roofs around it (ITU-R P.2108).
    double tx_houses_db = 0.0;
    double rx_houses_db = 0.0;
    double tx_woodland_depth_m = 0.0; ///< length of the path in the terminal's own woodland
    double rx_woodland_depth_m = 0.0;
    double field_offset_db = 0.0; ///< that of the conditions
    Sight sight;
    [[nodiscard]] double total_db() const {
        return basic_loss_db + tx_woodland_db + rx_woodland_db + tx_houses_db + rx_houses_db -
               field_offset_db;
    }
    std::vector<Edge> edges; ///< the edges the method rests on, transmitter to receiver
    /// Every intermediate value, if that was the method (propagation/p1812.hpp).
    std::shared_ptr<const P1812Result> p1812;
    /// The same of the method irregular_terrain (propagation/irregular_terrain.hpp).
    std::shared_ptr<const irregular::Result> irregular_terrain;
};

/// The total loss by the method p1812 of a path that short_range has predicted; by any other method
/// that of the path itself.
[[nodiscard]] double standard_loss_db(const PathLoss& loss);

/// Whether the loss is the same both ways over the same ground.
[[nodiscard]] bool reciprocal(const Conditions& conditions);

/// Predicts the loss between an antenna above the ground at the first point of the profile and one
/// above the ground at the last. All values are NaN if the profile holds a void. The profile must
/// have at least 2 points and a positive length; heights above ground are at least 0.
[[nodiscard]] PathLoss path_loss(const terrain::Profile& whole, AntennaHeights antennas,
                                 const Conditions& conditions);

} // namespace earshot::propagation
