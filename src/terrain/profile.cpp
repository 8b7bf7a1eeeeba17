#include "earshot/terrain/profile.hpp"

#include "earshot/base/error.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace earshot::terrain {

bool Profile::has_void() const {
    return std::ranges::any_of(ground_m, [](double height) { return std::isnan(height); });
}

void ProfileSampler::sample(geo::LatLon from, double bearing_deg, double length_m, double step_m,
                            Profile& profile) {
    if (!(step_m > 0.0)) {
        throw_usage(fmt::format(
            "a profile step of {} m is not possible; it must be longer than 0 m", step_m));
    }
    // The last point before the end stays at least half a step short of it.
    const auto last =
        static_cast<std::size_t>(std::max(0.0, std::floor(length_m / step_m - 0.5))) + 1;
    profile.distance_km.resize(last + 1);
    profile.ground_m.resize(last + 1);
    profile.cover_m.assign(last + 1, 0.0);

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
            profile.ground_m[i] = grid_->sample(piece.at(distance_m));
        }
    }
}

Profile sample_profile(const HeightGrid& grid, geo::LatLon from, geo::LatLon to, double step_m) {
    const geo::GeodesicPath path = geo::geodesic_between(from, to);
    Profile profile;
    ProfileSampler(grid).sample(from, path.bearing_deg, path.distance_m, step_m, profile);
    return profile;
}

double natural_step_m(const HeightGrid& grid, geo::LatLon at) {
    const Georeference::CellSize size = grid.georeference.cell_size_at(at);
    return std::min(size.across_m, size.down_m);
}

} // namespace earshot::terrain
