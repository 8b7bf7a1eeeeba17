#include "coverage/engine/sweep_plan.hpp"

#include "coverage/engine/exact_cell.hpp"
#include "propagation/basic.hpp"
#include "propagation/clutter.hpp"
#include "propagation/vegetation.hpp"
#include "terrain/profile_sampler.hpp"

#include <algorithm>
#include <limits>

namespace earshot::coverage {
namespace {

double cell_side_m(const terrain::Georeference& georeference, geo::LatLon at) {
    const auto size = georeference.cell_size_at(at);
    return std::min(size.across_m, size.down_m);
}

RadialSite radial_site(const terrain::HeightGrid& ground, const SweepRequest& request,
                       double spacing_m) {
    RadialSite site;
    site.ground_m = ground.sample(request.site);
    site.antenna_m = request.site_antenna_m;
    site.step_km = spacing_m / 1000.0;
    site.wavelength_m = propagation::wavelength_m(request.conditions.frequency_mhz);
    site.root_wavelength = std::sqrt(site.wavelength_m);
    const bool standard = propagation::from_p1812(request.conditions.method);
    site.low_antennas = request.conditions.method == propagation::Method::short_range;
    site.with_beta = standard && request.conditions.time_percent < 50.0;
    if (standard) {
        site.radii = propagation::effective_radii(request.conditions.refractivity.delta_n);
    } else {
        site.radii.median_km = propagation::radius_km(request.conditions);
    }
    if (request.layers.cover != nullptr) {
        const terrain::CoverClass& cover =
            request.layers.cover->at(ground.georeference.cell_of(request.site));
        site.cover_m = cover.height_m;
        site.in_woods = cover.woodland && cover.height_m > 0.0;
        site.woods.emplace(request.conditions);
        site.over_surface = ground.kind == terrain::GroundKind::surface;
    }
    return site;
}

/// Where the cells of a map begin in the raster of the ground, if they are cells of it.
std::optional<std::pair<int, int>> shared_cells(const terrain::HeightGrid& ground,
                                                const MapGrid& map) {
    const terrain::Georeference& a = ground.georeference;
    const terrain::Georeference& b = map.georeference;
    if (a.crs_wkt() != b.crs_wkt() || a.dx() != b.dx() || a.dy() != b.dy()) {
        return std::nullopt;
    }
    const double columns = (b.x0() - a.x0()) / a.dx();
    const double rows = (b.y0() - a.y0()) / a.dy();
    const double column = std::round(columns);
    const double row = std::round(rows);
    if (std::abs(columns - column) > 1e-6 || std::abs(rows - row) > 1e-6 || column < 0.0 ||
        row < 0.0 || column + map.columns > ground.columns || row + map.rows > ground.rows) {
        return std::nullopt;
    }
    return std::pair{static_cast<int>(column), static_cast<int>(row)};
}

/// Frames reach a little beyond the range, for the outlines of wedges and the points of radials.
double frame_reach_m(const SweepRequest& request, double spacing_m) {
    return request.range_m + 70.0 * spacing_m;
}

} // namespace

double Wedge::bearing_rad(std::size_t radial) const {
    return from_rad + static_cast<double>(radial) * wedge_rad / static_cast<double>(sectors);
}

SweepPlan::SweepPlan(const MapGrid& map_grid, const SweepRequest& sweep_request, bool at_roofs)
    : ground(*sweep_request.ground), map(map_grid), request(sweep_request),
      spacing_m(request.step_m > 0.0 ? request.step_m
                                     : terrain::natural_step_m(ground, request.site)),
      cells(map.georeference, map.columns, map.rows, request.site),
      map_frame(map.georeference, request.site, frame_reach_m(request, spacing_m),
                cell_side_m(map.georeference, request.site)),
      ground_frame(ground.georeference, request.site, frame_reach_m(request, spacing_m),
                   cell_side_m(ground.georeference, request.site)),
      map_cell_m(cell_side_m(map.georeference, request.site)),
      site(radial_site(ground, request, spacing_m)), receiver_heights_m{request.receiver_antenna_m},
      at_roofs_(at_roofs), offset_(shared_cells(ground, map)) {
    if (const terrain::GroundCover* cover = request.layers.cover; cover != nullptr) {
        site_roofs_m_ = cover->at(ground.georeference.cell_of(request.site)).roofs_m();
        site.antenna_m = path_height_m(request.site_antenna_m, site_roofs_m_);
        for (const terrain::CoverClass& each : cover->classes()) {
            if (height_of(&each) == receiver_heights_m.size()) {
                receiver_heights_m.push_back(each.roofs_m());
            }
        }
    }
    const bool crossings = !(request.step_m > 0.0);
    site.between_cells = !offset_ && crossings;
    if (crossings && !request.sight_only) {
        bulges.emplace(ground, terrain::ProfileSampler::least_bulge_m,
                       ground.georeference.cell_of(request.site),
                       frame_reach_m(request, spacing_m) /
                           cell_side_m(ground.georeference, request.site));
    }
}

Place SweepPlan::place_of(int column, int row) const {
    const LocalPoint point = cells.at(column, row);
    const double bearing = std::atan2(point.east_m, point.north_m);
    return {std::hypot(point.east_m, point.north_m),
            bearing < 0.0 ? bearing + full_circle : bearing};
}

Wedges SweepPlan::cut_wedges(double radials_per_rim_cell) const {
    Wedges wedges;
    for (std::size_t k = 0; k < wedge_count; ++k) {
        wedges[k].number = k;
        wedges[k].from_rad = static_cast<double>(k) * wedge_rad;
    }
    const auto reach = [&](int column, int row) {
        const Place place = place_of(column, row);
        Wedge& wedge = wedges[place.wedge()];
        wedge.reach_m = std::max(wedge.reach_m, place.range_m);
    };
    // The farthest cell of a wedge lies on the map's rim.
    for (int column = 0; column < map.columns; ++column) {
        reach(column, 0);
        reach(column, map.rows - 1);
    }
    for (int row = 0; row < map.rows; ++row) {
        reach(0, row);
        reach(map.columns - 1, row);
    }
    // A small map has fewer cells on its rim than there are wedges.
    const Wedges found = wedges;
    for (std::size_t k = 0; k < wedge_count; ++k) {
        const double around = std::max({found[k].reach_m, found[(k + 1) % wedge_count].reach_m,
                                        found[(k + wedge_count - 1) % wedge_count].reach_m});
        wedges[k].reach_m = std::min(around + map_cell_m, request.range_m);
        wedges[k].sectors = 1 + static_cast<std::size_t>(radials_per_rim_cell * wedge_rad *
                                                         wedges[k].reach_m / map_cell_m);
    }
    return wedges;
}

const float* SweepPlan::cell_ground(int row, int first_column, int count,
                                    std::vector<float>& scratch) const {
    if (offset_) {
        return ground.height_m.data() +
               static_cast<std::size_t>(offset_->second + row) *
                   static_cast<std::size_t>(ground.columns) +
               static_cast<std::size_t>(offset_->first + first_column);
    }
    scratch.resize(static_cast<std::size_t>(count));
    for (int k = 0; k < count; ++k) {
        scratch[static_cast<std::size_t>(k)] =
            static_cast<float>(ground.sample(ground_frame.at(cells.at(first_column + k, row))));
    }
    return scratch.data();
}

const terrain::CoverClass* SweepPlan::cell_cover(int column, int row) const {
    if (request.layers.cover == nullptr) {
        return nullptr;
    }
    return &request.layers.cover->at(
        offset_
            ? terrain::CellPosition{1.0 * (offset_->first + column), 1.0 * (offset_->second + row)}
            : ground_frame.at(cells.at(column, row)));
}

double SweepPlan::path_height_m(double antenna_m, double roofs_m) const {
    // A surface holds the roofs: antennas are at their height already.
    return at_roofs_ && !site.over_surface
               ? propagation::path_height_m(request.conditions.houses, {antenna_m, roofs_m})
               : antenna_m;
}

std::size_t SweepPlan::height_of(const terrain::CoverClass* cover) const {
    const double height_m = cover == nullptr
                                ? request.receiver_antenna_m
                                : path_height_m(request.receiver_antenna_m, cover->roofs_m());
    return static_cast<std::size_t>(
        std::find(receiver_heights_m.begin(), receiver_heights_m.end(), height_m) -
        receiver_heights_m.begin());
}

double SweepPlan::houses_db(double receiver_roofs_m, double range_km) const {
    if (!at_roofs_) {
        return 0.0;
    }
    const propagation::Conditions& conditions = request.conditions;
    return propagation::houses_db(conditions, {request.site_antenna_m, site_roofs_m_}, range_km) +
           propagation::houses_db(conditions, {request.receiver_antenna_m, receiver_roofs_m},
                                  range_km);
}

/// The cells nearest the site, by the exact engine.
void for_each_near_cell(const SweepPlan& plan, const std::function<void(int, int)>& visit) {
    const double near_m = std::min(plan.near_m(), plan.request.range_m);
    const terrain::CellPosition site = plan.map.georeference.cell_of(plan.request.site);
    const auto size = plan.map.georeference.cell_size_at(plan.request.site);
    const double across = near_m / size.across_m + 2.0;
    const double down = near_m / size.down_m + 2.0;
    const auto clipped = [](double value, int count) {
        return static_cast<int>(std::clamp(value, 0.0, count - 1.0));
    };
    if (site.column + across < 0.0 || site.column - across > plan.map.columns ||
        site.row + down < 0.0 || site.row - down > plan.map.rows) {
        return;
    }
    for (int row = clipped(site.row - down, plan.map.rows);
         row <= clipped(site.row + down, plan.map.rows); ++row) {
        for (int column = clipped(site.column - across, plan.map.columns);
             column <= clipped(site.column + across, plan.map.columns); ++column) {
            if (plan.place_of(column, row).range_m < near_m) {
                visit(column, row);
            }
        }
    }
}

void sweep_near_cells(const SweepPlan& plan, SweepResult& result) {
    ExactCell exact(plan.map, plan.request);
    for_each_near_cell(plan, [&](int column, int row) {
        exact.predict(column, row, plan.request.range_m, result);
    });
    exact.add_counts_to(result);
}

} // namespace earshot::coverage
