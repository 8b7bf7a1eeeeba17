#include "earshot/link/path.hpp"

#include "earshot/base/error.hpp"
#include "earshot/geo/position.hpp"
#include "geo/units.hpp"
#include "link/quality.hpp"

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

} // namespace

double loss_deviation_db(const propagation::PathLoss& loss, const terrain::Profile& profile,
                         double tx_antenna_m, double rx_antenna_m,
                         const propagation::PathSettings& settings) {
    Deviations deviations;
    deviations.prediction_db = settings.prediction_deviation_db;
    if (!loss.p1812) {
        // P.1546 ends at 4 GHz; its deviation grows so slowly that the last value will do beyond.
        deviations.place_db = location_deviation_p1546_db(Surroundings::rural,
                                                          std::min(settings.frequency_mhz, 4000.0));
        return deviations.combined_db();
    }
    propagation::PathSettings seldom = settings;
    seldom.p1812.time_percent = 10.0;
    propagation::PathSettings often = settings;
    often.p1812.time_percent = 50.0;
    const auto basic_loss_db = [&](const propagation::PathSettings& at) {
        return propagation::path_loss(profile, tx_antenna_m, rx_antenna_m, at).basic_loss_db;
    };
    const double median_db = basic_loss_db(often);
    deviations.place_db = loss.p1812->location_deviation_db;
    deviations.time_db = time_deviation_db(median_db, std::min(median_db, basic_loss_db(seldom)));
    return deviations.combined_db();
}

TwoWayPath two_way_path(const terrain::HeightGrid& ground, const Station& a, const Station& b,
                        const propagation::PathSettings& settings, double step_m,
                        const terrain::GroundLayers& layers) {
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
    path.profile = terrain::sample_profile(ground, a.position, b.position, step_m, layers);
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
    path.settings.p1812.path_centre_latitude_deg = propagation::path_centre_latitude_deg(
        a.position, b.position, path.line.distance_m / 1000.0);
    const auto predict = [&](const terrain::Profile& profile, const Station& from,
                             const Station& to) {
        Direction direction;
        direction.loss = propagation::path_loss(profile, from.antenna_height_m, to.antenna_height_m,
                                                path.settings);
        direction.budget =
            link_budget(from.radio, to.radio, direction.loss.basic_loss_db,
                        direction.loss.tx_woodland_db, direction.loss.rx_woodland_db);
        direction.deviation_db = loss_deviation_db(direction.loss, profile, from.antenna_height_m,
                                                   to.antenna_height_m, path.settings);
        direction.chance_percent =
            chance_percent(direction.budget.margin_db, direction.deviation_db);
        return direction;
    };
    path.outward = predict(path.profile, a, b);
    path.backward = predict(terrain::reversed(path.profile), b, a);
    return path;
}

} // namespace earshot::link
