#include "earshot/link/path.hpp"

#include "earshot/base/error.hpp"
#include "earshot/geo/position.hpp"
#include "earshot/geo/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace earshot::link {
namespace {

void require_ground(const terrain::HeightGrid& ground, const Station& station) {
    const terrain::CellPosition cell = ground.georeference.cell_of(station.position);
    if (!ground.covers(cell)) {
        throw_input(fmt::format("{} ({}) is off the elevation; give elevation that covers it",
                                station.name, geo::format_decimal(station.position)));
    }
    if (std::isnan(ground.sample(cell))) {
        throw_input(fmt::format("{} ({}) stands in a void of the elevation; move it or give "
                                "elevation without the void",
                                station.name, geo::format_decimal(station.position)));
    }
    if (!(station.antenna_height_m >= 0.0)) {
        throw_usage(fmt::format("the antenna of {} is {:.1f} m below the ground; its height above "
                                "ground must be 0 m or more",
                                station.name, -station.antenna_height_m));
    }
}

terrain::Profile reversed(const terrain::Profile& profile) {
    terrain::Profile back = profile;
    const double length_km = profile.length_km();
    std::ranges::transform(profile.distance_km, back.distance_km.begin(),
                           [=](double d) { return length_km - d; });
    std::ranges::reverse(back.distance_km);
    std::ranges::reverse(back.ground_m);
    std::ranges::reverse(back.cover_m);
    return back;
}

} // namespace

TwoWayPath two_way_path(const terrain::HeightGrid& ground, const Station& a, const Station& b,
                        const propagation::PathSettings& settings, double step_m) {
    require_ground(ground, a);
    require_ground(ground, b);
    TwoWayPath path;
    path.a = a;
    path.b = b;
    path.settings = settings;
    path.line = geo::geodesic_between(a.position, b.position);
    if (path.line.distance_m < 1.0) {
        throw_usage(fmt::format("{} and {} are less than 1 m apart; a path needs two places",
                                a.name, b.name));
    }
    path.profile = terrain::sample_profile(ground, a.position, b.position, step_m);
    if (path.profile.has_void()) {
        const auto first =
            std::ranges::find_if(path.profile.ground_m, [](double h) { return std::isnan(h); });
        const auto index = static_cast<std::size_t>(first - path.profile.ground_m.begin());
        throw_input(fmt::format("the path from {} to {} crosses ground of unknown height {} from "
                                "{}: a void in the elevation, or ground it does not cover",
                                a.name, b.name,
                                geo::format_distance(1000.0 * path.profile.distance_km[index]),
                                a.name));
    }
    path.outward.loss =
        propagation::path_loss(path.profile, a.antenna_height_m, b.antenna_height_m, settings);
    path.outward.budget = link_budget(a.radio, b.radio, path.outward.loss.basic_loss_db);
    path.backward.loss = propagation::path_loss(reversed(path.profile), b.antenna_height_m,
                                                a.antenna_height_m, settings);
    path.backward.budget = link_budget(b.radio, a.radio, path.backward.loss.basic_loss_db);
    return path;
}

} // namespace earshot::link
