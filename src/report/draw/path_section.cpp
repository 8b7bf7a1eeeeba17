#include "report/draw/path_section.hpp"

#include "propagation/basic.hpp"
#include "propagation/multiple_edges.hpp"
#include "propagation/vegetation.hpp"

#include <algorithm>
#include <cmath>
#include <functional>

namespace earshot::report {
namespace {

SectionPoint point_at(const link::TwoWayPath& path, std::size_t index, double radius_km) {
    const terrain::Profile& profile = path.profile;
    const double length_km = profile.length_km();
    const double d1 = profile.distance_km[index];
    const double d2 = length_km - d1;
    const double from_m = profile.ground_m.front() + path.a.antenna_height_m;
    const double to_m = profile.ground_m.back() + path.b.antenna_height_m;
    SectionPoint point;
    point.distance_km = d1;
    point.sea_m = propagation::earth_bulge_m(d1, d2, radius_km);
    point.ground_m = profile.ground_m[index] + point.sea_m;
    point.top_m = point.ground_m + profile.cover_m[index];
    point.line_m = (from_m * d2 + to_m * d1) / length_km;
    if (d1 > 0.0 && d2 > 0.0) {
        point.fresnel_m = propagation::fresnel_radius_m(d1, d2, path.conditions.frequency_mhz);
    }
    point.woodland = !profile.woodland.empty() && profile.woodland[index] != 0;
    return point;
}

/// Ground and what counts as an obstacle on it.
std::vector<double> obstacle_heights(const link::TwoWayPath& path, double radius_km) {
    const terrain::Profile& profile = path.profile;
    std::vector<double> heights(profile.size());
    const bool woods = std::ranges::any_of(profile.woodland, [](auto w) { return w != 0; });
    const std::vector<double> cover_m =
        woods ? propagation::split_woodland(profile, profile.woodland, path.a.antenna_height_m,
                                            path.b.antenna_height_m, radius_km,
                                            propagation::WoodlandLoss(path.conditions))
                    .cover_m
              : profile.cover_m;
    std::ranges::transform(profile.ground_m, cover_m, heights.begin(), std::plus<>());
    return heights;
}

/// Points of the profile, the one that matters most first.
std::vector<std::size_t> edge_indices(const link::TwoWayPath& path, double radius_km,
                                      std::size_t most) {
    const std::vector<double> heights = obstacle_heights(path, radius_km);
    propagation::ObstaclePath obstacles;
    obstacles.distance_km = path.profile.distance_km;
    obstacles.height_m = heights;
    obstacles.tx_height_m = path.profile.ground_m.front() + path.a.antenna_height_m;
    obstacles.rx_height_m = path.profile.ground_m.back() + path.b.antenna_height_m;
    obstacles.wavelength_m = propagation::wavelength_m(path.conditions.frequency_mhz);
    obstacles.effective_radius_km = radius_km;

    const propagation::Sight sight = propagation::line_of_sight(obstacles);
    if (!std::isfinite(sight.closest.nu)) {
        return {};
    }
    std::vector<std::size_t> indices{sight.closest.index};
    if (sight.clear) {
        return indices;
    }
    std::vector<propagation::Edge> edges =
        propagation::epstein_peterson(obstacles, propagation::KnifeEdgeForm::itu).edges;
    std::ranges::sort(edges, std::greater<>(), &propagation::Edge::nu);
    for (const propagation::Edge& edge : edges) {
        // Two marks on one summit would say the same twice.
        constexpr double near_share = 0.02;
        const double near_km = near_share * path.profile.length_km();
        const bool known = std::ranges::any_of(indices, [&](std::size_t index) {
            return std::abs(path.profile.distance_km[index] - edge.distance_km) < near_km;
        });
        if (!known && indices.size() < most) {
            indices.push_back(edge.index);
        }
    }
    return indices;
}

} // namespace

PathSection path_section(const link::TwoWayPath& path, std::size_t most_edges) {
    PathSection section;
    section.effective_radius_km = propagation::radius_km(path.conditions);
    const double half_km = path.profile.length_km() / 2.0;
    section.greatest_bulge_m =
        propagation::earth_bulge_m(half_km, half_km, section.effective_radius_km);
    section.points.reserve(path.profile.size());
    for (std::size_t i = 0; i < path.profile.size(); ++i) {
        section.points.push_back(point_at(path, i, section.effective_radius_km));
    }
    const std::vector<double> heights = obstacle_heights(path, section.effective_radius_km);
    for (const std::size_t index : edge_indices(path, section.effective_radius_km, most_edges)) {
        const SectionPoint& point = section.points[index];
        const double height_m = heights[index] + point.sea_m;
        section.edges.push_back({point.distance_km, height_m, height_m - point.line_m,
                                 (point.line_m - height_m) / point.fresnel_m});
    }
    std::ranges::sort(section.edges, {}, &SectionEdge::distance_km);
    return section;
}

} // namespace earshot::report
