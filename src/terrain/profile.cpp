#include "earshot/terrain/profile.hpp"

#include "base/require.hpp"
#include "terrain/profile_sampler.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace earshot::terrain {

bool Profile::has_void() const {
    return std::any_of(ground_m.begin(), ground_m.end(),
                       [](double height) { return std::isnan(height); });
}

namespace {

double middle_latitude_deg(geo::LatLon from, double bearing_deg, double length_m) {
    constexpr double radians = std::numbers::pi / 180.0;
    constexpr double radius_m = 6371e3;
    const double half_arc = length_m / 2.0 / radius_m;
    const double lat = from.lat_deg * radians;
    const double sine = std::sin(lat) * std::cos(half_arc) +
                        std::cos(lat) * std::sin(half_arc) * std::cos(bearing_deg * radians);
    return std::asin(std::clamp(sine, -1.0, 1.0)) / radians;
}

/// Puts a profile's ends in each other's place.
void turn_round(Profile& profile) {
    const double length_km = profile.length_km();
    std::reverse(profile.distance_km.begin(), profile.distance_km.end());
    for (double& distance_km : profile.distance_km) {
        distance_km = length_km - distance_km;
    }
    std::reverse(profile.ground_m.begin(), profile.ground_m.end());
    std::reverse(profile.cover_m.begin(), profile.cover_m.end());
    std::reverse(profile.woodland.begin(), profile.woodland.end());
    std::reverse(profile.zone.begin(), profile.zone.end());
}

} // namespace

void ProfileSampler::add(double distance_m, CellPosition cell, Profile& profile) const {
    profile.distance_km.push_back(distance_m / 1000.0);
    profile.ground_m.push_back(grid_->sample(cell));
    profile.cover_m.push_back(0.0);
    if (layers_.cover != nullptr) {
        const CoverClass& cover = layers_.cover->at(cell);
        profile.cover_m.back() = cover.height_m;
        profile.woodland.push_back(cover.woodland ? 1 : 0);
    }
    if (layers_.zones != nullptr) {
        profile.zone.push_back(static_cast<std::uint8_t>(layers_.zones->at(cell).code));
    }
}

/// Adds the middle between the last point and the one after it, if the ground rises there.
void ProfileSampler::add_middle(double distance_m, CellPosition cell, CellPosition after,
                                Profile& profile) const {
    const double between_m = (profile.ground_m.back() + grid_->sample(after)) / 2.0;
    if (grid_->sample(cell) - between_m > least_bulge_m) {
        add(distance_m, cell, profile);
    }
}

void ProfileSampler::add_crossings(double length_m, Profile& profile) {
    crossings_.clear();
    for (const GridLine::Piece& piece : line_.pieces()) {
        finder_.find(piece, crossings_);
    }
    double before_m = 0.0;
    auto piece = line_.pieces().begin();
    const auto middle_to = [&](const Crossing& after) {
        const double middle_m = (before_m + after.distance_m) / 2.0;
        while (piece->end_m < middle_m) {
            ++piece;
        }
        add_middle(middle_m, piece->at(middle_m), after.cell, profile);
    };
    for (const Crossing& crossing : crossings_) {
        if (crossing.distance_m - before_m >= least_gap_m &&
            length_m - crossing.distance_m >= least_gap_m) {
            middle_to(crossing);
            add(crossing.distance_m, crossing.cell, profile);
            before_m = crossing.distance_m;
        }
    }
    middle_to({length_m, line_.pieces().back().at(length_m)});
}

void ProfileSampler::add_parts(double length_m, double step_m, Profile& profile) const {
    const double parts = std::max(1.0, std::round(length_m / step_m));
    double part = 1.0;
    for (const GridLine::Piece& piece : line_.pieces()) {
        for (; part < parts && length_m * (part / parts) <= piece.end_m; ++part) {
            const double distance_m = length_m * (part / parts);
            add(distance_m, piece.at(distance_m), profile);
        }
    }
}

void ProfileSampler::sample(geo::LatLon from, geo::LatLon to, double step_m, Profile& profile,
                            double least_length_m) {
    if (!(step_m >= 0.0)) {
        throw_usage(fmt::format("a profile step of {} m is not possible; it must be longer than "
                                "0 m, or 0 for the crossings of the grid",
                                step_m));
    }
    const bool turned =
        to.lat_deg < from.lat_deg || (to.lat_deg == from.lat_deg && to.lon_deg < from.lon_deg);
    const geo::LatLon start = turned ? to : from;
    const geo::GeodesicPath way = geo::geodesic_between(start, turned ? from : to);
    const double length_m = std::max(way.distance_m, least_length_m);
    profile.distance_km.clear();
    profile.ground_m.clear();
    profile.cover_m.clear();
    profile.woodland.clear();
    profile.zone.clear();
    profile.surface = grid_->kind == GroundKind::surface;
    profile.centre_latitude_deg = middle_latitude_deg(start, way.bearing_deg, length_m);

    line_.trace(start, way.bearing_deg, length_m);
    add(0.0, line_.pieces().front().at(0.0), profile);
    if (step_m > 0.0) {
        add_parts(length_m, step_m, profile);
    } else {
        add_crossings(length_m, profile);
    }
    add(length_m, line_.pieces().back().at(length_m), profile);
    if (turned) {
        turn_round(profile);
    }
}

Profile sample_profile(const HeightGrid& grid, geo::LatLon from, geo::LatLon to, double step_m,
                       const GroundLayers& layers) {
    Profile profile;
    ProfileSampler(grid, layers).sample(from, to, step_m, profile);
    return profile;
}

Profile reversed(const Profile& profile) {
    Profile back = profile;
    turn_round(back);
    return back;
}

const CoverTable& zone_table() {
    static const CoverTable table(
        "radio-climatic zones",
        {{1, "sea", Clutter::water, 0.0, false}, {3, "coastal land"}, {4, "inland"}});
    return table;
}

double natural_step_m(const HeightGrid& grid, geo::LatLon at) {
    const Georeference::CellSize size = grid.georeference.cell_size_at(at);
    return std::min(size.across_m, size.down_m);
}

} // namespace earshot::terrain
