#pragma once

#include "earshot/geo/geodesic.hpp"
#include "earshot/link/budget.hpp"
#include "earshot/propagation/path_loss.hpp"
#include "earshot/terrain/height_grid.hpp"
#include "earshot/terrain/profile.hpp"

#include <array>
#include <limits>
#include <memory>
#include <optional>
#include <vector>

/// The prediction of a path between two stations. Every answer of the program, for a cell of a map,
/// a pair of a net, a relay's link or a page, comes from here or is held to it by tests.
///
///     const link::Setting setting{&ground, {}, conditions};
///     const link::TwoWayPath path = link::two_way_path(setting, ridge, camp);
///     const double margin_db = path.outward.budget.margin_db;
///     const double chance_percent = path.outward.chance_percent;

namespace earshot::terrain {
class ProfileSampler;
}

namespace earshot::link {

/// Where the calls of a field correction were made. What it changes in conditions is whole there
/// and fades with distance from them; docs/correction.md argues for function and length.
class FieldReach {
public:
    /// Every call was made within `spread_m` of one of `places`, of which there is at least one.
    /// `standard_deviation_db` is the deviation of predictions where nothing of it is left; unset,
    /// by the path.
    FieldReach(const std::vector<geo::LatLon>& places, double spread_m,
               std::optional<double> standard_deviation_db);

    /// Distance from where calls were made, m: 0 among them. As on a sphere, within 0.5 %.
    [[nodiscard]] double away_m(geo::LatLon place) const;
    /// What is left of the correction on a path, 0 to 1: exp(-(d / 10 km)^2) with the distance d of
    /// the end that is farther away.
    [[nodiscard]] double share(geo::LatLon a, geo::LatLon b) const;
    /// Conditions with all of the correction in them, but for what is not left.
    [[nodiscard]] propagation::Conditions faded(propagation::Conditions whole, double share) const;

private:
    std::vector<std::array<double, 3>> places_; // on the unit sphere
    double spread_m_;
    std::optional<double> standard_deviation_db_;
};

/// What paths are predicted over and under. Refers to ground that must outlive it.
struct Setting {
    const terrain::HeightGrid* ground = nullptr;
    terrain::GroundLayers layers; ///< on the grid of the ground
    propagation::Conditions conditions;
    /// Between the points of a profile; 0: where it crosses the grid of the ground, which needs no
    /// choice and misses nothing (terrain::sample_profile()).
    double step_m = 0.0;
    /// Where the field correction in the conditions holds; null: everywhere.
    std::shared_ptr<const FieldReach> field_reach{};

    /// The conditions of a path between two places.
    [[nodiscard]] propagation::Conditions conditions_between(geo::LatLon a, geo::LatLon b) const;
};

/// A request that is made in a setting: a type derived from Setting, with its own fields as they
/// are by default.
template <typename Request>
[[nodiscard]] Request made_in(const Setting& setting) {
    Request request;
    static_cast<Setting&>(request) = setting;
    return request;
}

/// Stations nearer to each other than this are predicted as if they stood this far apart: the
/// formulas have no meaning at no distance.
inline constexpr double least_distance_m = 1.0;
/// How far apart two places count.
[[nodiscard]] double path_distance_m(geo::LatLon a, geo::LatLon b);

/// One direction of a path between two stations. All numbers are NaN if the path crosses ground of
/// unknown height.
struct Direction {
    propagation::PathLoss loss;
    LinkBudget budget; ///< at the shares of time and places of the conditions
    /// Median loss by a second model less that by the method of the conditions, over the same bare
    /// ground (propagation/second_opinion.hpp): the margin by the second is less by this. NaN where
    /// there is no second model, or the ground is outside its limits.
    double apart_db = std::numeric_limits<double>::quiet_NaN();
    double median_margin_db = 0.0; ///< for half of the time and places
    double deviation_db = 0.0;     ///< of the loss among places and over the year, and of the
                                   ///< prediction itself
    double prediction_deviation_db = 0.0; ///< the last of these
    /// That a call gets through (quality.hpp). A fact of the path: the shares of time and places
    /// that the margin is asked for do not move it.
    double chance_percent = 0.0;
};

/// A path between two stations, both ways. The profile runs from `a` to `b`; edges of `outward`
/// count distance from `a`, edges of `backward` from `b`.
struct TwoWayPath {
    Station a, b;
    geo::GeodesicPath line;
    terrain::Profile profile;
    propagation::Conditions conditions;
    Direction outward;  ///< a transmits, b receives
    Direction backward; ///< b transmits, a receives
};

/// Total losses of a path, woodland included, dB; NaN where not known.
struct PathLosses {
    double distance_m = 0.0;
    double out_db = 0.0;
    double back_db = 0.0;
};

/// Margins of a path, dB; NaN where not known.
struct PathMargins {
    double out_db = 0.0;  ///< at b, for a call from a
    double back_db = 0.0; ///< at a, for a call from b
    double distance_m = 0.0;
    double apart_db = std::numeric_limits<double>::quiet_NaN(); ///< as of a Direction, if asked for

    /// What a conversation has; NaN where not known.
    [[nodiscard]] double least_db() const;
};

/// Predicts paths one after the other without preparing anew for each; one for each thread.
class PathPredictor {
public:
    /// Throws Error(Fault::usage) if the setting has no ground; a step below 0 is refused with the
    /// first path.
    explicit PathPredictor(const Setting& setting);
    PathPredictor(PathPredictor&&) noexcept;
    PathPredictor& operator=(PathPredictor&&) noexcept;
    ~PathPredictor();

    /// The whole path, both ways.
    [[nodiscard]] TwoWayPath path(const Station& a, const Station& b);

    /// Only its losses or margins, for searches that ask for many: the same to 1e-6 dB, since a way
    /// back that must lose as much as the way out is not predicted again. A second model is asked
    /// only by `with_second`.
    [[nodiscard]] PathLosses losses(geo::LatLon a, double a_height_m, geo::LatLon b,
                                    double b_height_m);
    [[nodiscard]] PathMargins margins(const Station& a, const Station& b, bool with_second = false);

    /// The loss one way, from a to b.
    [[nodiscard]] propagation::PathLoss loss(geo::LatLon a, geo::LatLon b,
                                             propagation::AntennaHeights heights);

    /// The ground of the path that was predicted last, from its first end.
    [[nodiscard]] const terrain::Profile& profile() const { return profile_; }

private:
    void sample(geo::LatLon a, geo::LatLon b);

    Setting setting_;
    std::unique_ptr<terrain::ProfileSampler> sampler_;
    terrain::Profile profile_;
};

/// One predictor for each of `threads`. Made together, since copying a georeference reads one that
/// threads must not share.
[[nodiscard]] std::vector<PathPredictor> predictors(const Setting& setting, unsigned threads);

/// The whole path between two stations, refusing what cannot be predicted: throws
/// Error(Fault::input) if a station is off the terrain or in a void or the path crosses a void,
/// Error(Fault::usage) if the stations stand less than 1 m apart or an antenna is below ground.
[[nodiscard]] TwoWayPath two_way_path(const Setting& setting, const Station& a, const Station& b);

/// How much the loss of a path hangs on the last hand's breadth, dB: the greatest change, either
/// way, if one of the antennas is held 10 cm higher or lower. Methods that choose among edges may
/// jump where two of them are alike, and the standard where its smooth earth turns.
[[nodiscard]] double unsteadiness_db(const TwoWayPath& path);

/// What the margin would fall by if both ends stood in wide woods, dB: trees of 15 m on all of the
/// path, as the same prediction has them.
[[nodiscard]] double woods_at_both_ends_db(const TwoWayPath& path);

/// Deviation of the loss among places around a receiver, dB: sigma_L of P.1812 with its own method,
/// none at sea; that of P.1546 with any other.
[[nodiscard]] double place_deviation_db(const propagation::Conditions& conditions,
                                        double antenna_height_m, double cover_m, bool at_sea);

/// Deviation of the loss among the streets around terminals that lose this below their roofs, dB:
/// 6 dB for each (sigma_s of ITU-R P.2108-1 section 3.2), less near the roofs.
[[nodiscard]] double houses_deviation_db(double transmitter_loss_db, double receiver_loss_db);

/// What the deviation of a margin hangs on: facts that every path and every cell of a map has.
struct Doubt {
    double place_db = 0.0;       ///< place_deviation_db()
    double houses_db = 0.0;      ///< houses_deviation_db() of both ends
    double distance_m = 0.0;     ///< along the earth
    double median_loss_db = 0.0; ///< of half of the time, woods and houses included
    double seldom_loss_db = 0.0; ///< of 10 percent of the time
    /// As of a Direction; NaN: no second model has a say.
    double apart_db = std::numeric_limits<double>::quiet_NaN();
};

/// Between these the deviation of a prediction lies, dB, unless somebody knows it.
inline constexpr double in_sight_deviation_db = 5.0;
inline constexpr double in_shadow_deviation_db = 11.0;

/// Deviation of the prediction itself from measurements, dB: that of the conditions, or one that
/// grows with what is lost beyond free space, and where two models part
/// (docs/woods-and-noise.md#chance-of-contact).
[[nodiscard]] double prediction_deviation_db(const propagation::Conditions& conditions,
                                             const Doubt& doubt);

/// Deviation of a margin around the median one, dB: among places, over the year (from the losses of
/// half and of 10 percent of the time) and of the prediction itself.
[[nodiscard]] double deviation_db(const propagation::Conditions& conditions, const Doubt& doubt);

} // namespace earshot::link
