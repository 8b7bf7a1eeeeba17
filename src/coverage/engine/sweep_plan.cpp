#include "coverage/engine/sweep_plan.hpp"

#include "coverage/engine/exact_cell.hpp"
#include "propagation/basic.hpp"
#include "propagation/vegetation.hpp"

#include <algorithm>
#include <limits>

namespace earshot::coverage {
namespace {

double cell_side_m(const terrain::Georeference& georeference, geo::LatLon at) {
    const auto size = georeference.cell_size_at(at);
    return std::min(size.across_m, size.down_m);
}

RadialSite radial_site(const terrain::HeightGrid& ground, const SweepRequest& request) {
    RadialSite site;
    site.ground_m = ground.sample(request.site);
    site.antenna_m = request.site_antenna_m;
    site.receiver_antenna_m = request.receiver_antenna_m;
    site.step_km = request.step_m / 1000.0;
    site.wavelength_m = propagation::wavelength_m(request.conditions.frequency_mhz);
    site.root_wavelength = std::sqrt(site.wavelength_m);
    const bool standard = propagation::from_p1812(request.conditions.method);
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
double frame_reach_m(const SweepRequest& request) {
    return request.range_m + 70.0 * request.step_m;
}

} // namespace

double Wedge::bearing_rad(std::size_t radial) const {
    return from_rad + static_cast<double>(radial) * wedge_rad / static_cast<double>(sectors);
}

SweepPlan::SweepPlan(const MapGrid& map_grid, const SweepRequest& sweep_request)
    : ground(*sweep_request.ground), map(map_grid), request(sweep_request),
      cells(map.georeference, map.columns, map.rows, request.site),
      map_frame(map.georeference, request.site, frame_reach_m(request),
                cell_side_m(map.georeference, request.site)),
      ground_frame(ground.georeference, request.site, frame_reach_m(request),
                   cell_side_m(ground.georeference, request.site)),
      map_cell_m(cell_side_m(map.georeference, request.site)), site(radial_site(ground, request)),
      offset_(shared_cells(ground, map)) {}

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

void SweepPlan::sample_ground(double bearing_rad, double reach_m,
                              std::vector<float>& ground_m) const {
    constexpr std::size_t stride = 32; // points from one exact position to the next
    const double step_m = request.step_m;
    const auto points = static_cast<std::size_t>(std::ceil(reach_m / step_m)) + 2;
    const std::size_t pieces = (points + stride - 1) / stride;
    ground_m.resize(pieces * stride);
    const double sine = std::sin(bearing_rad);
    const double cosine = std::cos(bearing_rad);
    const auto position = [&](std::size_t index) {
        const double x = static_cast<double>(index) * step_m;
        return ground_frame.at({x * sine, x * cosine});
    };
    const auto inside = [this](const terrain::CellPosition& cell) {
        return cell.column >= 0.0 && cell.row >= 0.0 && cell.column < ground.columns - 1.001 &&
               cell.row < ground.rows - 1.001;
    };
    // A radial that runs along the rim of the elevation may stray past it between cells that lie on
    // it, by as much as it is away from its neighbour: the rim's height is carried that far.
    const auto beside = [this](terrain::CellPosition cell) {
        constexpr double spare = 1.5;
        const auto carried = [](double value, int count) {
            const double kept = std::clamp(value, 0.0, count - 1.0);
            return std::abs(value - kept) <= spare ? kept : value;
        };
        return ground.sample(terrain::CellPosition{carried(cell.column, ground.columns),
                                                   carried(cell.row, ground.rows)});
    };
    terrain::CellPosition here = position(0);
    for (std::size_t piece = 0; piece < pieces; ++piece) {
        const terrain::CellPosition next = position((piece + 1) * stride);
        const double columns = (next.column - here.column) / stride;
        const double rows = (next.row - here.row) / stride;
        float* out = &ground_m[piece * stride];
        if (inside(here) && inside(next)) {
            kernels::sample_line(ground.height_m.data(), static_cast<std::size_t>(ground.columns),
                                 here.column, here.row, columns, rows, stride, out);
        } else {
            for (std::size_t k = 0; k < stride; ++k) {
                out[k] = static_cast<float>(beside({here.column + static_cast<double>(k) * columns,
                                                    here.row + static_cast<double>(k) * rows}));
            }
        }
        here = next;
    }
    ground_m.resize(points);
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

void SweepPlan::sample_cover(double bearing_rad, std::size_t count, std::vector<float>& cover_m,
                             std::vector<std::uint8_t>& wooded) const {
    const terrain::GroundCover* cover = request.layers.cover;
    cover_m.clear();
    wooded.clear();
    if (cover == nullptr) {
        return;
    }
    cover_m.resize(count);
    wooded.resize(count);
    constexpr std::size_t stride = 32; // as in sample_ground()
    const double sine = std::sin(bearing_rad);
    const double cosine = std::cos(bearing_rad);
    const auto position = [&](std::size_t index) {
        const double x = static_cast<double>(index) * request.step_m;
        return ground_frame.at({x * sine, x * cosine});
    };
    for (std::size_t from = 0; from < count; from += stride) {
        const terrain::CellPosition here = position(from);
        const terrain::CellPosition next = position(from + stride);
        for (std::size_t k = 0; k < stride && from + k < count; ++k) {
            const double share = static_cast<double>(k) / stride;
            const terrain::CoverClass& found =
                cover->at({here.column + share * (next.column - here.column),
                           here.row + share * (next.row - here.row)});
            cover_m[from + k] = static_cast<float>(found.height_m);
            wooded[from + k] = found.woodland ? 1 : 0;
        }
    }
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

/// The cells nearest the site, by the exact engine.
void sweep_near_cells(const SweepPlan& plan, SweepResult& result) {
    const double near_m = std::min(near_steps * plan.request.step_m, plan.request.range_m);
    ExactCell exact(plan.map, plan.request);
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
                exact.predict(column, row, plan.request.range_m, result);
            }
        }
    }
    exact.add_counts_to(result);
}

} // namespace earshot::coverage
