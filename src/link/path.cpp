#include "earshot/link/path.hpp"

#include "earshot/base/error.hpp"
#include "earshot/geo/position.hpp"
#include "geo/units.hpp"
#include "link/quality.hpp"
#include "propagation/basic.hpp"
#include "propagation/p1812.hpp"
#include "propagation/second_opinion.hpp"
#include "propagation/vegetation.hpp"
#include "terrain/off_ground.hpp"
#include "terrain/profile_sampler.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace earshot::link {
namespace {

const terrain::HeightGrid& ground_of(const Setting& setting) {
    if (setting.ground == nullptr) {
        throw_usage("there is no ground to predict over; give a setting its ground");
    }
    return *setting.ground;
}

void require_ground(const terrain::HeightGrid& ground, const Station& station) {
    const terrain::CellPosition cell = ground.georeference.cell_of(station.position);
    if (std::isnan(ground.sample(cell))) {
        throw_input(fmt::format("{} ({}) {} {}", station.name,
                                geo::format_decimal(station.position),
                                ground.covers(cell) ? "stands" : "is",
                                terrain::no_height_words(ground, station.position)));
    }
    if (!(station.antenna_height_m >= 0.0)) {
        throw_usage(fmt::format("the antenna of {} is {:.1f} m below the ground; its height above "
                                "ground must be 0 m or more",
                                station.name, -station.antenna_height_m));
    }
}

void require_known(const TwoWayPath& path) {
    const std::vector<double>& ground_m = path.profile.ground_m;
    const auto first = std::find_if(ground_m.begin(), ground_m.end(),
                                    [](double height) { return std::isnan(height); });
    if (first != ground_m.end()) {
        const auto index = static_cast<std::size_t>(first - ground_m.begin());
        throw_input(fmt::format("the path from {} to {} crosses ground of unknown height {} from "
                                "{}: a void in the elevation, or ground it does not cover",
                                path.a.name, path.b.name,
                                geo::format_distance(1000.0 * path.profile.distance_km[index]),
                                path.a.name));
    }
}

bool median(const propagation::Conditions& conditions) {
    return conditions.time_percent == 50.0 && conditions.location_percent == 50.0;
}

LinkBudget budget_of(const Radio& from, const Radio& to, const propagation::PathLoss& loss) {
    return link_budget(from, to, loss.basic_loss_db, loss.tx_woodland_db, loss.rx_woodland_db,
                       loss.tx_houses_db, loss.rx_houses_db, loss.field_offset_db);
}

/// The chance counts from the margin of half of the time and places, whatever was asked for.
void add_chance(const terrain::Profile& profile, const Station& from, const Station& to,
                const propagation::Conditions& conditions, Direction& direction) {
    if (std::isnan(direction.budget.margin_db)) {
        direction.median_margin_db = direction.deviation_db = direction.prediction_deviation_db =
            direction.chance_percent = std::numeric_limits<double>::quiet_NaN();
        return;
    }
    const propagation::AntennaHeights heights{from.antenna_height_m, to.antenna_height_m};
    propagation::Conditions half = conditions;
    half.time_percent = half.location_percent = 50.0;
    const propagation::PathLoss often =
        median(conditions) ? direction.loss : propagation::path_loss(profile, heights, half);
    Doubt doubt;
    doubt.distance_m = 1000.0 * profile.length_km();
    doubt.median_loss_db = doubt.seldom_loss_db = often.total_db();
    if (propagation::knows_shares(conditions.method)) {
        half.time_percent = 10.0;
        doubt.seldom_loss_db = propagation::path_loss(profile, heights, half).total_db();
    }
    const bool at_sea = often.p1812 && often.p1812->geometry.receiver_at_sea;
    doubt.place_db =
        place_deviation_db(conditions, to.antenna_height_m, profile.cover_m.back(), at_sea);
    doubt.houses_db = houses_deviation_db(often.tx_houses_db, often.rx_houses_db);
    doubt.apart_db = direction.apart_db;
    direction.median_margin_db = budget_of(from.radio, to.radio, often).margin_db;
    direction.prediction_deviation_db = prediction_deviation_db(conditions, doubt);
    direction.deviation_db = deviation_db(conditions, doubt);
    direction.chance_percent = chance_percent(direction.median_margin_db, direction.deviation_db);
}

Direction direction_of(const terrain::Profile& profile, const Station& from, const Station& to,
                       const propagation::Conditions& conditions) {
    Direction direction;
    direction.loss =
        propagation::path_loss(profile, {from.antenna_height_m, to.antenna_height_m}, conditions);
    direction.budget = budget_of(from.radio, to.radio, direction.loss);
    direction.apart_db = propagation::apart_db(
        profile, {from.antenna_height_m, to.antenna_height_m}, conditions, &direction.loss);
    add_chance(profile, from, to, conditions, direction);
    return direction;
}

} // namespace

double path_distance_m(geo::LatLon a, geo::LatLon b) {
    return std::max(geo::geodesic_between(a, b).distance_m, least_distance_m);
}

double PathMargins::least_db() const {
    return std::isnan(out_db) || std::isnan(back_db) ? std::numeric_limits<double>::quiet_NaN()
                                                     : std::min(out_db, back_db);
}

PathPredictor::PathPredictor(const Setting& setting)
    : setting_(setting),
      sampler_(std::make_unique<terrain::ProfileSampler>(ground_of(setting), setting.layers)) {}

PathPredictor::PathPredictor(PathPredictor&&) noexcept = default;
PathPredictor& PathPredictor::operator=(PathPredictor&&) noexcept = default;
PathPredictor::~PathPredictor() = default;

void PathPredictor::sample(geo::LatLon a, geo::LatLon b) {
    sampler_->sample(a, b, setting_.step_m, profile_, least_distance_m);
}

TwoWayPath PathPredictor::path(const Station& a, const Station& b) {
    TwoWayPath path{a,
                    b,
                    geo::geodesic_between(a.position, b.position),
                    {},
                    setting_.conditions_between(a.position, b.position),
                    {},
                    {}};
    sample(a.position, b.position);
    path.profile = profile_;
    path.outward = direction_of(profile_, a, b, path.conditions);
    path.backward = direction_of(terrain::reversed(profile_), b, a, path.conditions);
    return path;
}

PathLosses PathPredictor::losses(geo::LatLon a, double a_height_m, geo::LatLon b,
                                 double b_height_m) {
    PathLosses losses;
    losses.out_db = loss(a, b, {a_height_m, b_height_m}).total_db();
    losses.distance_m = 1000.0 * profile_.length_km();
    losses.back_db =
        propagation::reciprocal(setting_.conditions)
            ? losses.out_db
            : propagation::path_loss(terrain::reversed(profile_), {b_height_m, a_height_m},
                                     setting_.conditions_between(a, b))
                  .total_db();
    return losses;
}

PathMargins PathPredictor::margins(const Station& a, const Station& b, bool with_second) {
    const PathLosses loss = losses(a.position, a.antenna_height_m, b.position, b.antenna_height_m);
    PathMargins margins{link_budget(a.radio, b.radio, loss.out_db).margin_db,
                        link_budget(b.radio, a.radio, loss.back_db).margin_db, loss.distance_m};
    if (with_second) {
        margins.apart_db = propagation::apart_db(profile_, {a.antenna_height_m, b.antenna_height_m},
                                                 setting_.conditions);
    }
    return margins;
}

propagation::PathLoss PathPredictor::loss(geo::LatLon a, geo::LatLon b,
                                          propagation::AntennaHeights heights) {
    sample(a, b);
    return propagation::path_loss(profile_, heights, setting_.conditions_between(a, b));
}

std::vector<PathPredictor> predictors(const Setting& setting, unsigned threads) {
    std::vector<PathPredictor> workers;
    for (unsigned k = 0; k < std::max(1U, threads); ++k) {
        workers.emplace_back(setting);
    }
    return workers;
}

TwoWayPath two_way_path(const Setting& setting, const Station& a, const Station& b) {
    require_ground(ground_of(setting), a);
    require_ground(ground_of(setting), b);
    if (geo::geodesic_between(a.position, b.position).distance_m < least_distance_m) {
        throw_usage(fmt::format("{} and {} are less than 1 m apart; a path needs two places",
                                a.name, b.name));
    }
    TwoWayPath path = PathPredictor(setting).path(a, b);
    require_known(path);
    return path;
}

double unsteadiness_db(const TwoWayPath& path) {
    constexpr double hand_m = 0.1;
    double most_db = 0.0;
    for (const double a_m : {-hand_m, 0.0, hand_m}) {
        for (const double b_m : {-hand_m, 0.0, hand_m}) {
            const propagation::AntennaHeights heights{std::max(0.0, path.a.antenna_height_m + a_m),
                                                      std::max(0.0, path.b.antenna_height_m + b_m)};
            if (a_m == 0.0 || b_m == 0.0) {
                const double loss_db =
                    propagation::path_loss(path.profile, heights, path.conditions).total_db();
                most_db = std::max(most_db, std::abs(loss_db - path.outward.loss.total_db()));
            }
        }
    }
    return most_db;
}

double woods_at_both_ends_db(const TwoWayPath& path) {
    constexpr double tops_m = 15.0;
    terrain::Profile wooded = path.profile;
    wooded.cover_m.assign(wooded.size(), tops_m);
    wooded.woodland.assign(wooded.size(), 1);
    const propagation::PathLoss loss = propagation::path_loss(
        wooded, {path.a.antenna_height_m, path.b.antenna_height_m}, path.conditions);
    return loss.total_db() - path.outward.loss.total_db();
}

double place_deviation_db(const propagation::Conditions& conditions, double antenna_height_m,
                          double cover_m, bool at_sea) {
    if (!propagation::from_p1812(conditions.method)) {
        // P.1546 ends at 4 GHz; its deviation grows so slowly that the last value will do beyond.
        return location_deviation_p1546_db(Surroundings::rural,
                                           std::min(conditions.frequency_mhz, 4000.0));
    }
    return propagation::location_deviation_db(conditions, antenna_height_m - cover_m, at_sea);
}

double houses_deviation_db(double transmitter_loss_db, double receiver_loss_db) {
    constexpr double among_streets_db = 6.0;
    const auto of = [&](double loss_db) { return std::min(among_streets_db, loss_db / 2.0); };
    return std::hypot(of(transmitter_loss_db), of(receiver_loss_db));
}

double prediction_deviation_db(const propagation::Conditions& conditions, const Doubt& doubt) {
    const double known_db = conditions.prediction_deviation_db.value_or(0.0);
    const double known_share =
        conditions.prediction_deviation_db ? conditions.deviation_share : 0.0;
    if (known_share == 1.0) {
        return known_db;
    }
    // docs/woods-and-noise.md tells where these come from.
    constexpr double halfway_db = 21.0; // beyond free space, where half of the way is gone
    const double beyond_db = std::max(
        0.0, doubt.median_loss_db - propagation::free_space_loss_db(
                                        std::max(doubt.distance_m, least_distance_m) / 1000.0,
                                        conditions.frequency_mhz));
    const double by_path_db =
        in_shadow_deviation_db -
        (in_shadow_deviation_db - in_sight_deviation_db) * std::exp2(-beyond_db / halfway_db);
    const double by_path = by_path_db * by_path_db;
    const double apart = std::isnan(doubt.apart_db) ? 0.0 : doubt.apart_db * doubt.apart_db;
    const double widened = by_path + std::max(0.0, apart - by_path) / 4.0;
    return std::sqrt(known_share * known_db * known_db + (1.0 - known_share) * widened);
}

double deviation_db(const propagation::Conditions& conditions, const Doubt& doubt) {
    Deviations deviations;
    deviations.place_db = std::hypot(doubt.place_db, doubt.houses_db);
    deviations.time_db = time_deviation_db(doubt.median_loss_db,
                                           std::min(doubt.median_loss_db, doubt.seldom_loss_db));
    deviations.prediction_db = prediction_deviation_db(conditions, doubt);
    return deviations.combined_db();
}

} // namespace earshot::link
