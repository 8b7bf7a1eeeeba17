#include "coverage/engine/carried_radial.hpp"

#include "propagation/vegetation.hpp"
#include "terrain/profile_sampler.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace earshot::coverage {
namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

/// A ray that clears the ground by this nu or more costs nothing (-0.78, ITU-R P.526-15 equation
/// (31)) and is not short of 0.6 F1 (-0.6 sqrt 2) either, so it need not be found.
constexpr double nu_of_no_matter = -0.8486;

} // namespace

void CarriedRadial::Skyline::clear() {
    steepest = -infinity;
    steepest_index = 0;
    hull.clear();
    touch = {};
}

void CarriedRadial::Skyline::push(double x, double height_m, double rise_m, std::size_t index) {
    if (rise_m > steepest * x) { // seldom: the rest need no division
        steepest = rise_m / x;
        steepest_index = index;
    }
    hull.push(x, height_m, index);
}

void CarriedRadial::Skyline::push_all(const Skyline& other) {
    if (other.steepest > steepest) {
        steepest = other.steepest;
        steepest_index = other.steepest_index;
    }
    // Points below the other's hull are below this one's too.
    for (const UpperHull::Vertex& vertex : other.hull.vertices()) {
        hull.push(vertex.x, vertex.y, vertex.index);
    }
}

void CarriedRadial::start_track(Track& track, double radius_km) const {
    track.per_radius = 500.0 / radius_km;
    track.nearest = track.nearest_top = 1;
    track.bare.clear();
    const auto lowered = [&](std::size_t i) {
        const double x = x_km(i);
        return static_cast<double>(along_.ground_m[i]) - track.per_radius * x * x;
    };
    track.ground.fill(known_, lowered);
    if (!with_cover_) {
        return;
    }
    track.settled.clear();
    track.run_tops.clear();
    track.run_bare.clear();
    track.tops.fill(known_, [&](std::size_t i) {
        return i <= site_woods_ || site_.over_surface
                   ? lowered(i)
                   : lowered(i) + static_cast<double>(along_.cover_m[i]);
    });
}

void CarriedRadial::start(const RadialSite& site, const RadialGround& ground) {
    site_ = site;
    along_ = ground;
    known_ = static_cast<std::size_t>(std::find_if(ground.ground_m.begin(), ground.ground_m.end(),
                                                   [](float h) { return std::isnan(h); }) -
                                      ground.ground_m.begin());
    last_ = seen_ = beside_ = 0;
    site_reach_km_ = 0.0;
    transmitter_m_ = site.ground_m + site.antenna_m;
    with_cover_ = !ground.cover_m.empty();
    run_start_ = 0;
    site_woods_ = 0;
    if (with_cover_ && site.in_woods) {
        while (site_woods_ + 1 < known_ && ground.wooded[site_woods_ + 1] != 0) {
            ++site_woods_;
        }
    }
    start_track(median_, site.radii.median_km);
    if (site.with_beta) {
        start_track(beta_, site.radii.beta_km);
    }
    plain_hull_.clear();
    plain_touch_ = plain_top_ = rough_top_ = {};
    plain_heights_.fill(known_,
                        [&](std::size_t i) { return static_cast<double>(ground.ground_m[i]); });
    plain_steepest_ = -infinity;
    fit_ = {};
}

void CarriedRadial::advance_track(Track& track, std::size_t index, double x) {
    const double ground_m = track.ground[index];
    const double rise_m = ground_m - transmitter_m_;
    track.bare.push(x, ground_m, rise_m, index);
    if (!with_cover_) {
        return;
    }
    const double top_m = track.tops[index];
    if (run_start_ == 0) {
        track.settled.push(x, top_m, top_m - transmitter_m_, index);
        return;
    }
    if (index == run_start_) {
        track.run_tops.clear();
        track.run_bare.clear();
    }
    track.run_tops.push(x, top_m, top_m - transmitter_m_, index);
    track.run_bare.push(x, ground_m, rise_m, index);
}

void CarriedRadial::advance_woods(std::size_t index) {
    if (index <= site_woods_) {
        return;
    }
    const bool wooded = along_.wooded[index] != 0;
    if (wooded && run_start_ == 0) {
        run_start_ = index;
    } else if (!wooded && run_start_ != 0) {
        run_start_ = 0;
        median_.settled.push_all(median_.run_tops);
        if (site_.with_beta) {
            beta_.settled.push_all(beta_.run_tops);
        }
    }
}

void CarriedRadial::advance_to(std::size_t last) {
    for (std::size_t i = last_ + 1; i <= last; ++i) {
        const double x = x_km(i);
        const double h = plain_heights_[i];
        const double h_before = i == 1 ? site_.ground_m : plain_heights_[i - 1];
        if (with_cover_) {
            advance_woods(i);
        }
        advance_track(median_, i, x);
        if (site_.with_beta) {
            advance_track(beta_, i, x);
        }
        plain_hull_.push(x, h, i);
        if (h - transmitter_m_ > plain_steepest_ * x) {
            plain_steepest_ = (h - transmitter_m_) / x;
        }
        fit_.add(x_km(i - 1), h_before, x, h);
    }
    last_ = std::max(last_, last);
}

inline CarriedRadial::Obstacles CarriedRadial::bare_obstacles(Track& track,
                                                              std::size_t last) const {
    return {{&track.bare, nullptr}, {Stretch{&track.ground, 1, last}, {}}, 1, false};
}

CarriedRadial::Obstacles CarriedRadial::top_obstacles(Track& track, std::size_t last,
                                                      const OwnWoods& receiver) const {
    if (run_start_ == 0) {
        return {{&track.settled, nullptr}, {Stretch{&track.tops, 1, last}, {}}, 1, true};
    }
    Skyline* run = receiver.inside ? &track.run_bare : &track.run_tops;
    const Stretch along_run{receiver.inside ? &track.ground : &track.tops, run_start_, last};
    if (run_start_ == 1) {
        return {{run, nullptr}, {along_run, {}}, 1, true};
    }
    return {{&track.settled, run}, {Stretch{&track.tops, 1, run_start_ - 1}, along_run}, 2, true};
}

double CarriedRadial::lowered_m(const Track& track, const Obstacles& obstacles,
                                const NearPoint& point) {
    return (obstacles.tops ? point.top_m : point.ground_m) - track.per_radius * point.x * point.x;
}

CarriedRadial::NearestRay CarriedRadial::nearest_ray(const Track& track, const Obstacles& obstacles,
                                                     std::size_t hint, const Line& line,
                                                     double slope) const {
    const double range_km = line.range_km;
    // nu^2 is compared instead of nu, which is negative for every point below the ray, and without
    // the division: below^2 * 0.002 d against least * x (d - x).
    const double scale = 0.002 * range_km;
    double least = nu_of_no_matter * nu_of_no_matter * site_.wavelength_m;
    NearestRay nearest{nu_of_no_matter * site_.root_wavelength, 0};
    const auto ray = [&](double x) { return transmitter_m_ + slope * x; };
    const auto look = [&](std::size_t i, double x, double height_m) {
        const double below = ray(x) - height_m;
        const double squared = below * below * scale;
        const double spread = x * (range_km - x);
        if (squared < least * spread) {
            least = squared / spread;
            nearest.index = i;
            nearest.x = x;
        }
    };
    for (const NearPoint& point : line.nearby) {
        look(point.index, point.x, lowered_m(track, obstacles, point));
    }
    for (std::size_t k = 0; k < obstacles.count; ++k) {
        const Stretch& stretch = obstacles.stretches[k];
        const auto look_at = [&](std::size_t i) { look(i, x_km(i), (*stretch.heights)[i]); };
        // Mostly it is the point found for the cell before; its nu rules out most others.
        if (stretch.first <= hint && hint <= stretch.last) {
            look_at(hint);
        }
        stretch.heights->search(
            stretch.first, stretch.last,
            [&](double top_m, std::size_t from, std::size_t to) {
                const double x_from = x_km(from);
                const double x_to = x_km(to);
                const double room = std::min(ray(x_from), ray(x_to)) - top_m;
                const double x = std::clamp(range_km / 2.0, x_from, x_to);
                return room <= 0.0 || room * room * scale < least * x * (range_km - x);
            },
            look_at);
    }
    if (nearest.index > 0) {
        // On a straight line the ray may come nearest at a point that is left out.
        for (const std::size_t i : {nearest.index - 1, nearest.index}) {
            if (const double x = left_out_km(i, line); x > 0.0) {
                const double share = (x - x_km(i)) / (x_km(i + 1) - x_km(i));
                const double left_m = i == 0 ? site_.ground_m : plain_heights_[i];
                const double ground_m = left_m + share * (plain_heights_[i + 1] - left_m);
                look(i, x, ground_m - track.per_radius * x * x);
            }
        }
        nearest.scaled_nu = -std::sqrt(least);
    }
    return nearest;
}

CarriedRadial::Rays CarriedRadial::rays(const Track& track, const Obstacles& obstacles,
                                        std::size_t& nearest, const Line& line) const {
    const double range_km = line.range_km;
    const double curvature = track.per_radius * range_km;
    const double direct = line.slope;
    Rays found{};
    const Skyline* steepest = obstacles.skylines[0];
    if (obstacles.count > 1 && obstacles.skylines[1]->steepest > steepest->steepest) {
        steepest = obstacles.skylines[1];
    }
    found.steepest = steepest->steepest;
    found.first = steepest->steepest_index;
    found.first_km = x_km(found.first);
    for (const NearPoint& point : line.nearby) {
        const double up = (lowered_m(track, obstacles, point) - transmitter_m_) / point.x;
        if (up > found.steepest) {
            found.steepest = up;
            found.first = point.index;
            found.first_km = point.x;
        }
    }
    found.hidden_by = found.steepest + curvature - direct;
    if (found.hidden_by <= 0.0) {
        const NearestRay ray = nearest_ray(track, obstacles, nearest, line, direct - curvature);
        found.clearance_nu = ray.scaled_nu;
        // If nothing comes near the ray any point will do for the horizon, which hardly counts.
        const std::size_t last = obstacles.stretches[obstacles.count - 1].last;
        found.first = found.last = ray.index > 0 ? ray.index : std::max<std::size_t>(1, last / 2);
        nearest = found.first;
        found.first_km = found.last_km = ray.index > 0 ? ray.x : x_km(found.first);
        return found;
    }
    const double lowered = line.receiver_m - curvature * range_km;
    double slope = -infinity;
    for (std::size_t k = 0; k < obstacles.count; ++k) {
        Skyline& skyline = *obstacles.skylines[k];
        const UpperHull::Vertex& touch =
            skyline.hull.tangent_from(range_km, lowered, skyline.touch);
        const double down = (touch.y - lowered) / (range_km - touch.x);
        if (down >= slope) {
            slope = down;
            found.last = touch.index;
            found.last_km = touch.x;
        }
    }
    for (const NearPoint& point : line.nearby) {
        const double down = (lowered_m(track, obstacles, point) - lowered) / (range_km - point.x);
        if (down >= slope) {
            slope = down;
            found.last = point.index;
            found.last_km = point.x;
        }
    }
    found.receiver_slope = slope - curvature;
    return found;
}

inline CarriedRadial::Rays CarriedRadial::rays_over_ground(Track& track, const Line& line) const {
    return rays(track, bare_obstacles(track, line.last), track.nearest, line);
}

CarriedRadial::Rays CarriedRadial::rays_over_tops(Track& track, const Line& line,
                                                  const BothWoods& woods) const {
    return rays(track, top_obstacles(track, line.last, woods.receiver), track.nearest_top, line);
}

double CarriedRadial::roughness(std::size_t first, std::size_t last, double at_site_m,
                                double slope) {
    const auto above = [&](std::size_t i) { return plain_heights_[i] - slope * x_km(i); };
    // Nearly always the highest point of all, which the hull knows, lies between the horizons.
    const UpperHull::Vertex& top = plain_hull_.highest_above(slope, rough_top_);
    if (first <= top.index && top.index <= last) {
        return top.y - slope * top.x - at_site_m;
    }
    double highest = std::max(above(first), above(last));
    plain_heights_.search(
        first, last,
        [&](double top_m, std::size_t from, std::size_t to) {
            const std::size_t lower = slope > 0.0 ? from : to;
            return top_m - slope * x_km(lower) > highest;
        },
        [&](std::size_t i) { highest = std::max(highest, above(i)); });
    return highest - at_site_m;
}

CarriedRadial::WayOut CarriedRadial::way_out(double antenna_m, double tops_m, double slope,
                                             double to_km) const {
    const double start_m = site_.woods->way_out_from_m(antenna_m, tops_m);
    return {start_m, slope + (antenna_m - start_m) / to_km};
}

template <typename Away, typename BelowTop>
double CarriedRadial::depth_m(const OwnWoods& own, double slope, double below_top_here_m,
                              Away away_km, BelowTop below_top_m) const {
    const double metres = std::hypot(1000.0, slope); // of ray in a km
    const double enough_km = site_.woods->greatest_depth_m() / 1000.0;
    double before_m = below_top_here_m;
    double before_km = 0.0;
    for (std::size_t k = 1; k <= own.points; ++k) {
        const double after_m = below_top_m(k);
        const double after_km = away_km(k);
        if (after_m <= 0.0) {
            return metres * std::lerp(before_km, after_km, before_m / (before_m - after_m));
        }
        if (after_km > enough_km) {
            return metres * after_km;
        }
        before_m = after_m;
        before_km = after_km;
    }
    const double through_top_km = slope > 0.0 ? before_km + before_m / slope : infinity;
    return metres * std::min(own.edge_km, through_top_km);
}

double CarriedRadial::transmitter_depth_m(const OwnWoods& own, const WayOut& way) const {
    const auto away = [&](std::size_t k) { return x_km(k); };
    return depth_m(own, way.slope, site_.cover_m - way.start_m, away, [&](std::size_t k) {
        return median_.ground[k] + static_cast<double>(along_.cover_m[k]) - site_.ground_m -
               way.start_m - way.slope * away(k);
    });
}

double CarriedRadial::receiver_depth_m(const OwnWoods& own, const RadialReceiver& receiver,
                                       std::size_t last, const WayOut& way) const {
    // Heights are those over the curved earth of the site: lowered by (d^2 - x^2) / 2a less than a
    // level through the receiver asks for, which adds curvature to its slope.
    const double curvature = median_.per_radius * receiver.range_km;
    const double start_m = receiver.ground_m + way.start_m - curvature * receiver.range_km;
    const double lowered_slope = way.slope + 2.0 * curvature;
    const auto away = [&](std::size_t k) { return receiver.range_km - x_km(last + 1 - k); };
    return depth_m(own, way.slope, receiver.cover_m - way.start_m, away, [&](std::size_t k) {
        const std::size_t i = last + 1 - k;
        return median_.ground[i] + static_cast<double>(along_.cover_m[i]) - start_m -
               lowered_slope * away(k);
    });
}

std::size_t CarriedRadial::point_before(double at_km, std::size_t last) const {
    const std::span<const double> inner = along_.x_km.subspan(1, last);
    return static_cast<std::size_t>(std::upper_bound(inner.begin(), inner.end(), at_km) -
                                    inner.begin());
}

inline double CarriedRadial::ground_after_m(std::size_t left, double at_km, const Line& line,
                                            double receiver_ground_m) const {
    const double left_m = left == 0 ? site_.ground_m : plain_heights_[left];
    const bool at_end = left == line.last;
    const double right_km = at_end ? line.range_km : x_km(left + 1);
    const double right_m = at_end ? receiver_ground_m : plain_heights_[left + 1];
    return left_m + (right_m - left_m) * ((at_km - x_km(left)) / (right_km - x_km(left)));
}

inline CarriedRadial::Line CarriedRadial::line_to(const RadialReceiver& receiver) {
    const double receiver_m = receiver.ground_m + receiver.antenna_m;
    const double per_range = 1.0 / receiver.range_km;
    std::size_t last = last_point_before(receiver.range_km);
    const std::span<const NearPoint> near =
        site_.between_cells ? nearby(receiver, last) : std::span<const NearPoint>();
    return {receiver.range_km,
            per_range,
            receiver_m,
            (receiver_m - transmitter_m_) * per_range,
            last,
            near};
}

std::span<const CarriedRadial::NearPoint> CarriedRadial::nearby(const RadialReceiver& receiver,
                                                                std::size_t& last) {
    constexpr double least_gap_km = terrain::ProfileSampler::least_gap_m / 1000.0;
    const double range_km = receiver.range_km;
    std::size_t next = last + 1;
    while (next < known_ && x_km(next) <= range_km - least_gap_km) {
        ++next;
    }
    // The crossings on either side of the receiver, between which the ground is a parabola.
    const std::size_t before = along_.middle[next - 1] != 0 ? next - 2 : next - 1;
    const std::size_t after = next < known_ && along_.middle[next] != 0 ? next + 1 : next;
    last = std::min(last, before);
    const auto ground = [&](std::size_t i) { return static_cast<double>(along_.ground_m[i]); };
    const auto bulge = [&](std::size_t i) { return static_cast<double>(along_.bulge_m[i]); };
    const bool known = after < known_; // else the elevation ends beside the receiver
    double beside_m = 0.0;
    if (known) {
        const double share = (range_km - x_km(next - 1)) / (x_km(next) - x_km(next - 1));
        beside_m = receiver.ground_m - std::lerp(ground(next - 1), ground(next), share) -
                   4.0 * share * (1.0 - share) * bulge(next);
    }
    near_.clear();
    for (std::size_t i = last + 1; i <= before; ++i) {
        const bool own = receiver.wooded && with_cover_ && along_.wooded[i] != 0;
        const double cover_m = with_cover_ && !own && !site_.over_surface
                                   ? static_cast<double>(along_.cover_m[i])
                                   : 0.0;
        const double ground_m = ground(i) + beside_m;
        near_.push_back({i, x_km(i), ground_m, ground_m + cover_m});
    }
    if (!known) {
        return near_;
    }
    const double part = (range_km - x_km(before)) / (x_km(after) - x_km(before));
    const double rise_m = (after - before > 1 ? 4.0 : 1.0) * bulge(after) * part * part;
    if (rise_m > terrain::ProfileSampler::least_bulge_m) {
        const double before_m = near_.empty() ? ground(before) : near_.back().ground_m;
        const double ground_m = (before_m + receiver.ground_m) / 2.0 + rise_m;
        near_.push_back({before, (x_km(before) + range_km) / 2.0, ground_m, ground_m});
    }
    return near_;
}

std::optional<CarriedRadial::BothWoods>
CarriedRadial::woods_along(const Line& line, const RadialReceiver& receiver) const {
    BothWoods woods;
    if (!with_cover_) {
        return woods;
    }
    // Distances and edges as in propagation::split_woodland().
    const double middle_km = line.range_km / 2.0;
    const bool inside = receiver.wooded && receiver.cover_m > 0.0;
    woods.joined = site_.in_woods && inside && site_woods_ >= line.last;
    if (woods.joined) {
        const std::size_t points = point_before(middle_km, line.last);
        woods.site = {true, points, middle_km};
        woods.receiver = {true, line.last - points, middle_km};
        return woods;
    }
    const std::size_t first = run_start_ != 0 ? run_start_ : line.last + 1;
    const std::size_t outside = std::min(site_woods_ + 1, known_ - 1);
    woods.site = {site_.in_woods, site_woods_, (x_km(site_woods_) + x_km(outside)) / 2.0};
    // From the receiver to midway between the last point out of its woods and the first one in
    // them, which is the receiver itself if that is the only one.
    const double out_km = line.range_km - x_km(first - 1);
    const double in_km = first <= line.last ? line.range_km - x_km(first) : 0.0;
    woods.receiver = {inside, line.last + 1 - first, (out_km + in_km) / 2.0};
    if ((site_.in_woods && x_km(outside) > middle_km) ||
        (inside && woods.receiver.edge_km >= middle_km)) {
        return std::nullopt;
    }
    return woods;
}

inline void CarriedRadial::fit_surface(const Line& line, double ground_m,
                                       propagation::P1812Row& row) {
    propagation::SurfaceFit fit = fit_;
    double before_km = x_km(line.last);
    double before_m = plain_heights_[line.last];
    double steepest = plain_steepest_;
    for (const NearPoint& point : line.nearby) {
        fit.add(before_km, before_m, point.x, point.ground_m);
        before_km = point.x;
        before_m = point.ground_m;
        steepest = std::max(steepest, (point.ground_m - transmitter_m_) / point.x);
    }
    fit.add(before_km, before_m, line.range_km, ground_m);
    row.first_point_km = x_km(1);
    if (const double at_km = left_out_km(0, line); at_km > 0.0) {
        row.first_point_km = at_km;
    }
    row.last_point_km = std::max(before_km, left_out_km(line.last, line));
    const propagation::AtEnds fitted = fit.heights_at(line.per_range);
    propagation::AtEnds diffraction = fitted;
    if (steepest > line.slope) {
        const UpperHull::Vertex& top = plain_hull_.highest_above(line.slope, plain_top_);
        const UpperHull::Vertex& touch =
            plain_hull_.tangent_from(line.range_km, line.receiver_m, plain_touch_);
        double above_m = top.y - line.slope * top.x;
        double down = (touch.y - line.receiver_m) / (line.range_km - touch.x);
        for (const NearPoint& point : line.nearby) {
            above_m = std::max(above_m, point.ground_m - line.slope * point.x);
            down = std::max(down, (point.ground_m - line.receiver_m) / (line.range_km - point.x));
        }
        diffraction = propagation::lowered(fitted, above_m - transmitter_m_,
                                           {steepest - line.slope, down + line.slope});
    }
    row.diffraction_transmitter_m = diffraction.transmitter;
    row.diffraction_receiver_m = diffraction.receiver;
    row.smooth_transmitter_m = fitted.transmitter;
    row.smooth_receiver_m = fitted.receiver;
}

inline void CarriedRadial::find_horizons(const Line& line, const Rays& bare,
                                         const RadialReceiver& receiver, propagation::AtEnds slopes,
                                         propagation::P1812Row& row) {
    const double curvature = median_.per_radius * line.range_km;
    const bool hidden = bare.hidden_by > 0.0;
    row.transmitter_slope = hidden ? bare.steepest : line.slope - curvature;
    // The receiver's own tangent plane is the level, not the transmitter's.
    row.receiver_slope = (hidden ? bare.receiver_slope : -line.slope) - curvature;
    row.transmitter_horizon_km = bare.first_km;
    row.receiver_horizon_km = line.range_km - bare.last_km;
    row.transmitter_arrival =
        row.transmitter_slope + site_.antenna_m * line.per_range - slopes.transmitter;
    row.receiver_arrival =
        row.receiver_slope + receiver.antenna_m * line.per_range - slopes.receiver;
    const double smooth_t = std::min(row.smooth_transmitter_m, site_.ground_m);
    const double smooth_r = std::min(row.smooth_receiver_m, receiver.ground_m);
    row.roughness_m =
        roughness(bare.first, bare.last, smooth_t, (smooth_r - smooth_t) * line.per_range);
}

inline propagation::AtEnds CarriedRadial::ground_slopes(const Line& line,
                                                        double receiver_ground_m) {
    if (!site_.low_antennas) {
        return {};
    }
    const double reach_km = propagation::beside_km(line.range_km);
    if (reach_km != site_reach_km_) { // the same from some range on
        site_reach_km_ = reach_km;
        site_slope_ =
            (ground_after_m(point_before(reach_km, line.last), reach_km, line, receiver_ground_m) -
             site_.ground_m) /
            reach_km;
    }
    const double from_km = line.range_km - reach_km;
    beside_ = std::min(line.last, last_within(from_km, beside_));
    return {site_slope_,
            (ground_after_m(beside_, from_km, line, receiver_ground_m) - receiver_ground_m) /
                reach_km};
}

double CarriedRadial::loss_in_woods_db(const Line& line, const RadialReceiver& receiver,
                                       const BothWoods& woods, const Rays& rays,
                                       propagation::AtEnds slopes) const {
    const double curvature = median_.per_radius * line.range_km;
    const bool hidden = rays.hidden_by > 0.0;
    double loss_db = 0.0;
    if (woods.site.inside) {
        const WayOut way =
            way_out(site_.antenna_m, site_.cover_m, hidden ? rays.steepest : line.slope - curvature,
                    hidden ? rays.first_km : line.range_km);
        loss_db +=
            site_.woods->db({transmitter_depth_m(woods.site, way), site_.antenna_m, site_.cover_m,
                             way.slope + way.start_m / line.range_km - slopes.transmitter});
    }
    if (woods.receiver.inside) {
        const WayOut way = way_out(receiver.antenna_m, receiver.cover_m,
                                   (hidden ? rays.receiver_slope : -line.slope) - curvature,
                                   hidden ? line.range_km - rays.last_km : line.range_km);
        loss_db += site_.woods->db({receiver_depth_m(woods.receiver, receiver, line.last, way),
                                    receiver.antenna_m, receiver.cover_m,
                                    way.slope + way.start_m / line.range_km - slopes.receiver});
    }
    return loss_db;
}

bool CarriedRadial::path_to(const RadialReceiver& receiver, Path& path) {
    const Line line = line_to(receiver);
    if (line.last == 0) {
        return false;
    }
    advance_to(line.last);
    const std::optional<BothWoods> woods = woods_along(line, receiver);
    if (!woods) {
        return false;
    }
    propagation::P1812Row& row = path.row;
    row.distance_km = line.range_km;
    row.receiver_asl_m = line.receiver_m;
    row.receiver_cover_m = receiver.cover_m;
    fit_surface(line, receiver.ground_m, row);

    // Horizons are those of the bare ground, diffraction and sight are over what stands on it.
    const Rays bare = rays_over_ground(median_, line);
    const propagation::AtEnds slopes = ground_slopes(line, receiver.ground_m);
    find_horizons(line, bare, receiver, slopes, row);
    const bool over_tops = with_cover_ && !woods->joined;
    const Rays median = over_tops ? rays_over_tops(median_, line, *woods) : bare;
    row.median_transmitter_slope = median.steepest + median_.per_radius * line.range_km;
    row.median_receiver_slope = median.receiver_slope;
    row.median_scaled_nu = median.clearance_nu;
    path.hidden_by = median.hidden_by;
    path.clearance_f1 = -median.clearance_nu / (site_.root_wavelength * std::numbers::sqrt2);
    path.first_horizon_km = median.first_km;
    path.last_horizon_km = median.last_km;
    path.woods_db = with_cover_ ? loss_in_woods_db(line, receiver, *woods, median, slopes) : 0.0;
    if (site_.with_beta) {
        const Rays beta =
            over_tops ? rays_over_tops(beta_, line, *woods) : rays_over_ground(beta_, line);
        row.beta_transmitter_slope = beta.steepest + beta_.per_radius * line.range_km;
        row.beta_receiver_slope = beta.receiver_slope;
        row.beta_scaled_nu = beta.clearance_nu;
    }
    return true;
}

} // namespace earshot::coverage
