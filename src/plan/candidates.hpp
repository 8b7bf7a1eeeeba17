#pragma once

#include "earshot/base/task.hpp"
#include "earshot/geo/geodesic.hpp"
#include "earshot/terrain/height_grid.hpp"
#include "scenario/places.hpp"
#include "terrain/shapes.hpp"

#include <cstddef>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// Where a relay may stand, and which of those places are worth a prediction.

namespace earshot::plan {

/// A rule for where a relay may stand.
struct Constraint {
    enum class Kind {
        near,    ///< within `value` metres of a point, line or area of `shapes`
        inside,  ///< in a polygon of `shapes`
        outside, ///< in none
        above,   ///< ground at least `value` metres above sea level
        gentle,  ///< ground that slopes by at most `value` degrees (Horn's 3 x 3 formula)
    };
    Kind kind = Kind::above;
    std::string label; ///< as the user knows it: "within 300 m of roads.gpx"
    terrain::Shapes shapes;
    double value = 0.0;
};

/// Each throws Error(Fault::usage) or, for shapes of the wrong kind, Error(Fault::input).
[[nodiscard]] Constraint within_distance(terrain::Shapes shapes, double distance_m);
[[nodiscard]] Constraint inside_of(terrain::Shapes shapes);
[[nodiscard]] Constraint outside_of(terrain::Shapes shapes);
[[nodiscard]] Constraint above_height(double height_m);
[[nodiscard]] Constraint gentler_than(double slope_deg);

/// What a constraint did.
struct Removal {
    std::string label;
    std::size_t removed = 0; ///< of those that the constraints before it had left
    std::size_t alone = 0;   ///< that it would have removed if it were the only one
};

/// A place for a relay.
struct Candidate {
    std::string name; ///< empty unless the user named it
    geo::LatLon position;
    double ground_m = 0.0;
    double isolation_m = 0.0; ///< to the nearest higher allowed cell, as far as was looked
    double view_share = 0.0;  ///< of the area around that it sees, 0 to 1
};

struct CandidateOptions {
    std::size_t most = 2000;       ///< at least 1
    double view_range_m = 10000.0; ///< how far the share of the area seen is judged
    double antenna_m = 10.0;       ///< from which it is seen
};

/// Candidates, the most promising first, and what became of the others.
struct CandidateSet {
    std::vector<Candidate> candidates;
    std::vector<Removal> removals;
    std::string unit;           ///< what was judged: "cells" or "listed places"
    std::size_t considered = 0; ///< with known ground
    std::size_t allowed = 0;    ///< that no constraint removed
    std::size_t tops = 0;       ///< local maxima among the allowed
    bool stopped = false;       ///< by the user: the best of what had been looked at
};

/// Throws Error(Fault::input) that names `what` if the ground where it stands is not known.
void require_known_ground(const terrain::HeightGrid& ground, geo::LatLon position,
                          std::string_view what);

/// Finds candidates on the ground: cells allowed by every constraint with no higher allowed cell
/// beside them. Of more than `most` those are kept whose isolation times view share is largest; of
/// fewer, the rest is the highest allowed cell of each square of a lattice, so that shoulders and
/// slopes are not left out. Once task.stop_requested() is true it stops early and gives
/// the best of what it has looked at (`stopped`), or throws Error(Fault::stopped) if that holds no
/// allowed cell. Throws as require_candidates() if no cell is left.
[[nodiscard]] CandidateSet find_candidates(const terrain::HeightGrid& ground,
                                           std::span<const Constraint> constraints,
                                           const CandidateOptions& options,
                                           Task& task = silent_task());

/// The user's own list under the constraints. Throws Error(Fault::input) if a place is off the
/// ground, and as require_candidates().
[[nodiscard]] CandidateSet listed_candidates(const terrain::HeightGrid& ground,
                                             std::span<const scenario::Place> places,
                                             std::span<const Constraint> constraints);

/// One sentence for each constraint.
[[nodiscard]] std::vector<std::string> removal_words(const CandidateSet& set);

/// Throws Error(Fault::input) that says which constraint removed how many, if none are left.
void require_candidates(const CandidateSet& set);

} // namespace earshot::plan
