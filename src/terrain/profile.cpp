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

} // namespace

void ProfileSampler::sample(geo::LatLon from, double bearing_deg, double length_m, double step_m,
                            Profile& profile) {
    require_usage(step_m > 0.0,
                  "a profile step of {} m is not possible; it must be longer than 0 m", step_m);
    // The last point before the end stays at least half a step short of it.
    const auto last =
        static_cast<std::size_t>(std::max(0.0, std::floor(length_m / step_m - 0.5))) + 1;
    profile.distance_km.resize(last + 1);
    profile.ground_m.resize(last + 1);
    profile.cover_m.assign(last + 1, 0.0);
    profile.woodland.assign(layers_.cover != nullptr ? last + 1 : 0, 0);
    profile.zone.assign(layers_.zones != nullptr ? last + 1 : 0, 0);
    profile.centre_latitude_deg = middle_latitude_deg(from, bearing_deg, length_m);

    line_.trace(from, bearing_deg, length_m);
    std::size_t i = 0;
    for (const GridLine::Piece& piece : line_.pieces()) {
        const auto stop =
            piece.end_m < length_m
                ? std::min(last - 1, static_cast<std::size_t>(piece.end_m / step_m)) + 1
                : last + 1;
        for (; i < stop; ++i) {
            const double distance_m = i == last ? length_m : step_m * static_cast<double>(i);
            profile.distance_km[i] = distance_m / 1000.0;
            const CellPosition cell = piece.at(distance_m);
            profile.ground_m[i] = grid_->sample(cell);
            if (layers_.cover != nullptr) {
                const CoverClass& cover = layers_.cover->at(cell);
                profile.cover_m[i] = cover.height_m;
                profile.woodland[i] = cover.woodland ? 1 : 0;
            }
            if (layers_.zones != nullptr) {
                profile.zone[i] = static_cast<std::uint8_t>(layers_.zones->at(cell).code);
            }
        }
    }
}

Profile sample_profile(const HeightGrid& grid, geo::LatLon from, geo::LatLon to, double step_m,
                       const GroundLayers& layers) {
    const geo::GeodesicPath path = geo::geodesic_between(from, to);
    Profile profile;
    ProfileSampler(grid, layers).sample(from, path.bearing_deg, path.distance_m, step_m, profile);
    return profile;
}

Profile reversed(const Profile& profile) {
    Profile back;
    const double length_km = profile.length_km();
    back.distance_km.resize(profile.size());
    std::transform(profile.distance_km.rbegin(), profile.distance_km.rend(),
                   back.distance_km.begin(), [=](double d) { return length_km - d; });
    back.ground_m.assign(profile.ground_m.rbegin(), profile.ground_m.rend());
    back.cover_m.assign(profile.cover_m.rbegin(), profile.cover_m.rend());
    back.woodland.assign(profile.woodland.rbegin(), profile.woodland.rend());
    back.zone.assign(profile.zone.rbegin(), profile.zone.rend());
    back.centre_latitude_deg = profile.centre_latitude_deg;
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
