#include "plan/foot_range.hpp"

#include "base/parallel.hpp"
#include "base/require.hpp"
#include "plan/candidates.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace earshot::plan {
namespace {

void check(geo::LatLon site, const FootRequest& request) {
    require_usage(request.step_m >= 0.0 && request.range_m > request.step_m,
                  "a range of {} m in steps of {} m cannot be looked at; the step must be 0 m "
                  "or more and the range longer than it",
                  request.range_m, request.step_m);
    require_usage(request.directions >= 4 && request.directions <= 3600,
                  "{} directions are not possible; choose 4 to 3600", request.directions);
    require_usage(request.site_antenna_m >= 0.0 && request.other_antenna_m >= 0.0,
                  "antennas must be 0 m or more above the ground");
    require_known_ground(*request.ground, site, "the site");
}

Reach reach_of(const FootRadial& radial, double spacing_m, double limit_out_db,
               double limit_back_db) {
    constexpr double with_contact = 0.9;
    Reach reach;
    reach.bearing_deg = radial.bearing_deg;
    std::size_t heard = 0;
    bool unbroken = true;
    for (std::size_t k = 0; k < radial.out_db.size(); ++k) {
        const double distance_m = spacing_m * static_cast<double>(k + 1);
        const bool contact = static_cast<double>(radial.out_db[k]) <= limit_out_db &&
                             static_cast<double>(radial.back_db[k]) <= limit_back_db;
        unbroken = unbroken && contact;
        if (!contact) {
            continue;
        }
        ++heard;
        reach.farthest_m = distance_m;
        if (unbroken) {
            reach.unbroken_m = distance_m;
        }
        const bool reached =
            static_cast<double>(heard) >= with_contact * static_cast<double>(k + 1);
        reach.to_the_end = reached && k + 1 == radial.out_db.size();
        if (reached) {
            reach.reach_m = distance_m;
        }
    }
    return reach;
}

/// The reach that a share of the directions equal or exceed.
double reached_by(const std::vector<Reach>& reaches, double share,
                  double Reach::*reached_m = &Reach::reach_m) {
    std::vector<double> sorted;
    sorted.reserve(reaches.size());
    for (const Reach& reach : reaches) {
        sorted.push_back(reach.*reached_m);
    }
    std::sort(sorted.begin(), sorted.end(), std::greater<>());
    const auto needed =
        static_cast<std::size_t>(std::ceil(share * static_cast<double>(sorted.size())));
    return sorted[std::max<std::size_t>(needed, 1) - 1];
}

} // namespace

FootLosses foot_losses(geo::LatLon site, const FootRequest& request, Task& task) {
    check(site, request);
    constexpr double most_points = 300.0;
    FootLosses losses;
    losses.range_m = request.range_m;
    // A whole number of profile steps, or of cells.
    const double step_m = std::min(
        request.range_m,
        request.step_m > 0.0 ? request.step_m : terrain::natural_step_m(*request.ground, site));
    losses.spacing_m =
        step_m * std::max(1.0, std::ceil(request.range_m / most_points / step_m - 1e-9));
    const auto points = static_cast<std::size_t>(request.range_m / losses.spacing_m + 1e-9);
    losses.radials.resize(static_cast<std::size_t>(request.directions));
    std::vector<link::PathPredictor> workers = link::predictors(request, task.threads());
    task.begin("range on foot", losses.radials.size());
    parallel_for(losses.radials.size(), task.threads(), [&](std::size_t r, unsigned worker) {
        FootRadial& radial = losses.radials[r];
        radial.bearing_deg = 360.0 * static_cast<double>(r) / request.directions;
        const geo::GeodesicLine line(site, radial.bearing_deg);
        for (std::size_t k = 1; k <= points; ++k) {
            task.throw_if_stopped();
            const link::PathLosses leg = workers[worker].losses(
                site, request.site_antenna_m, line.at(losses.spacing_m * static_cast<double>(k)),
                request.other_antenna_m);
            if (std::isnan(leg.out_db) || std::isnan(leg.back_db)) {
                break;
            }
            radial.out_db.push_back(static_cast<float>(leg.out_db));
            radial.back_db.push_back(static_cast<float>(leg.back_db));
        }
        task.advance(1);
    });
    return losses;
}

FootRange foot_range(const FootLosses& losses, const link::Radio& site, const link::Radio& other,
                     double wanted_margin_db) {
    const double limit_out_db =
        link::received_without_path_dbm(site, other) - other.threshold_dbm - wanted_margin_db;
    const double limit_back_db =
        link::received_without_path_dbm(other, site) - site.threshold_dbm - wanted_margin_db;
    FootRange range;
    const double slice_rad = 2.0 * std::numbers::pi / static_cast<double>(losses.radials.size());
    for (const FootRadial& radial : losses.radials) {
        range.reaches.push_back(reach_of(radial, losses.spacing_m, limit_out_db, limit_back_db));
        range.looked_m =
            std::max(range.looked_m, losses.spacing_m * static_cast<double>(radial.out_db.size()));
        for (std::size_t k = 0; k < radial.out_db.size(); ++k) {
            if (static_cast<double>(radial.out_db[k]) <= limit_out_db &&
                static_cast<double>(radial.back_db[k]) <= limit_back_db) {
                const double distance_m = losses.spacing_m * static_cast<double>(k + 1);
                range.area_km2 += distance_m * losses.spacing_m * slice_rad / 1e6;
            }
        }
    }
    range.typical_m = reached_by(range.reaches, 0.5);
    range.typical_unbroken_m = reached_by(range.reaches, 0.5, &Reach::unbroken_m);
    range.quarter_m = reached_by(range.reaches, 0.75);
    range.three_quarters_m = reached_by(range.reaches, 0.25);
    const auto nearer = [](const Reach& a, const Reach& b) { return a.reach_m < b.reach_m; };
    range.best = *std::max_element(range.reaches.begin(), range.reaches.end(), nearer);
    range.worst = *std::min_element(range.reaches.begin(), range.reaches.end(), nearer);
    return range;
}

} // namespace earshot::plan
