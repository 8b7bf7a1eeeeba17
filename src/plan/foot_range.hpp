#pragma once

#include "earshot/base/task.hpp"
#include "earshot/link/path.hpp"

#include <vector>

/// How far a person gets on foot before the other station is lost, in every direction.

namespace earshot::plan {

struct FootRequest : link::Setting {
    double range_m = 15000.0;     ///< how far to look, > 0
    int directions = 72;          ///< 4 to 3600
    double site_antenna_m = 1.5;  ///< above the ground, >= 0
    double other_antenna_m = 1.5; ///< of the person who walks away
};

/// Losses along one direction, at distances in steps of `spacing_m` from the site, both ways.
struct FootRadial {
    double bearing_deg = 0.0;
    std::vector<float> out_db, back_db; ///< until the first point whose ground is not known
};

struct FootLosses {
    double spacing_m = 0.0;
    double range_m = 0.0;
    std::vector<FootRadial> radials;
};

/// Predicts the losses. Each is what link::two_way_path() finds between the site and that point.
/// Points are as far apart as the profile's, or a 300th of the range if that is more. Throws
/// Error(Fault::usage) for a value out of range, Error(Fault::input) if the site has no
/// known ground, Error(Fault::stopped).
[[nodiscard]] FootLosses foot_losses(geo::LatLon site, const FootRequest& request,
                                     Task& task = silent_task());

/// What one direction offers.
struct Reach {
    double bearing_deg = 0.0;
    /// The farthest point with contact to which nine tenths of the way have it too: a dip does not
    /// end it, a lone hilltop far off does not stretch it. 0 if there is no contact at all.
    double reach_m = 0.0;
    double unbroken_m = 0.0; ///< before the first point without contact
    double farthest_m = 0.0; ///< last point with contact
    bool to_the_end = false; ///< the reach ends where the prediction does
};

/// The range on foot, with its spread over the directions.
struct FootRange {
    std::vector<Reach> reaches;      ///< by bearing
    double typical_m = 0.0;          ///< half of the directions reach this far
    double quarter_m = 0.0;          ///< three quarters of the directions reach this far
    double three_quarters_m = 0.0;   ///< one quarter does
    double typical_unbroken_m = 0.0; ///< half of the directions have no gap up to here
    double looked_m = 0.0;           ///< the farthest point looked at
    Reach best, worst;               ///< by reach_m
    double area_km2 = 0.0;           ///< with contact, out to the range looked at
};

/// Reads the range from losses for two radios. A contact needs the wanted margin both ways.
[[nodiscard]] FootRange foot_range(const FootLosses& losses, const link::Radio& site,
                                   const link::Radio& other, double wanted_margin_db);

} // namespace earshot::plan
