#include "agreement.hpp"

#include "earshot/base/error.hpp"
#include "earshot/terrain/profile.hpp"
#include "propagation/p1812.hpp"
#include "terrain/profile_sampler.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace earshot::bench {
namespace {

/// Horizons this many steps apart count as different.
constexpr double differing_steps = 4.0;
/// Smooth-earth losses this far apart do.
constexpr double differing_db = 0.5;

/// Range of the map's rim beyond a cell, as far as the map reaches.
double rim_range_m(const Map& map, Cell cell, double range_m) {
    const auto scale = [](double offset, double from, double last) {
        if (offset == 0.0) {
            return std::numeric_limits<double>::infinity();
        }
        return (offset > 0.0 ? last - from : from) / std::abs(offset);
    };
    const double across =
        scale(cell.column - map.site_cell.column, map.site_cell.column, map.grid.columns - 1.0);
    const double down = scale(cell.row - map.site_cell.row, map.site_cell.row, map.grid.rows - 1.0);
    return std::min(map.request.range_m, range_m * std::min(across, down));
}

/// Exact predictions along a cell's bearing and beside it.
class Sides {
public:
    explicit Sides(const Map& map) : map_(map), sampler_(map.ground) {}

    void explain(CellDifference& difference, double radials_per_rim_cell) {
        const geo::LatLon position = map_.grid.georeference.position_of(
            {1.0 * difference.cell.column, 1.0 * difference.cell.row});
        const geo::GeodesicPath line = geo::geodesic_between(map_.request.site, position);
        const auto size = map_.grid.georeference.cell_size_at(map_.request.site);
        const double spacing_deg =
            std::min(size.across_m, size.down_m) /
            (radials_per_rim_cell * rim_range_m(map_, difference.cell, line.distance_m)) * 180.0 /
            std::numbers::pi;
        const propagation::P1812Result here = predict(line, 0.0);
        const propagation::P1812Result left = predict(line, -spacing_deg / 2.0);
        const propagation::P1812Result right = predict(line, spacing_deg / 2.0);
        const double apart_km = differing_steps * map_.cell_m / 1000.0;
        const auto other_horizons = [&](const propagation::P1812Result& side) {
            const auto differ = [&](double a, double b) { return std::abs(a - b) > apart_km; };
            return !side.geometry.line_of_sight &&
                   (differ(side.geometry.transmitter_horizon_km,
                           here.geometry.transmitter_horizon_km) ||
                    differ(side.geometry.receiver_horizon_km, here.geometry.receiver_horizon_km));
        };
        const auto either = [&](auto differs) { return differs(left) || differs(right); };
        const auto other_sight = [&](const propagation::P1812Result& side) {
            return side.geometry.line_of_sight != here.geometry.line_of_sight;
        };
        const auto other_surface = [&](const propagation::P1812Result& side) {
            return std::abs(side.median.spherical.loss_db - here.median.spherical.loss_db) >
                   differing_db;
        };
        difference.cause = either(other_sight)      ? Cause::sight
                           : either(other_horizons) ? Cause::horizons
                           : either(other_surface)  ? Cause::surface
                                                    : Cause::nearby;
        difference.sides = fmt::format("{}, {}", describe(left), describe(right));
    }

private:
    propagation::P1812Result predict(const geo::GeodesicPath& line, double turn_deg) {
        const auto sample = [&](double bearing_deg) {
            sampler_.sample(
                map_.request.site,
                geo::geodesic_destination(map_.request.site, bearing_deg, line.distance_m),
                map_.request.step_m, profile_);
        };
        sample(line.bearing_deg);
        const double ground_m = profile_.ground_m.back();
        if (turn_deg != 0.0) {
            sample(line.bearing_deg + turn_deg);
            profile_.ground_m.back() = ground_m;
        }
        return *propagation::path_loss(
                    profile_, {map_.request.site_antenna_m, map_.request.receiver_antenna_m},
                    map_.request.conditions)
                    .p1812;
    }

    static std::string describe(const propagation::P1812Result& result) {
        const propagation::PathGeometry& geometry = result.geometry;
        const std::string sight =
            geometry.line_of_sight
                ? "seen"
                : fmt::format("horizons {:.2f} and {:.2f} km", geometry.transmitter_horizon_km,
                              geometry.receiver_horizon_km);
        return fmt::format("{:.1f} ({}, smooth earth {:.1f})", result.loss_db, sight,
                           result.median.spherical.loss_db);
    }

    const Map& map_;
    terrain::ProfileSampler sampler_;
    terrain::Profile profile_;
};

} // namespace

double CellDifference::size_db() const {
    return std::abs(carried_db - exact_db);
}

std::string cause_name(Cause cause) {
    switch (cause) {
    case Cause::sight:
        return "seen or hidden";
    case Cause::horizons:
        return "horizons";
    case Cause::surface:
        return "smooth surface";
    case Cause::nearby:
        break;
    }
    return "ground beside";
}

Agreement compare_with_exact(const Map& map, const coverage::SweepResult& carried,
                             std::size_t cells) {
    const std::vector<Cell> sample = random_cells(map, cells);
    const coverage::SweepResult exact = exact_cells(map, sample, map.request);
    Agreement agreement;
    std::vector<CellDifference> differences;
    for (const Cell cell : sample) {
        const std::size_t i = index_of(map, cell);
        if (std::isnan(exact.loss_db[i]) != std::isnan(carried.loss_db[i])) {
            throw_input(fmt::format("the engines do not know the same cells: column {}, row {}",
                                    cell.column, cell.row));
        }
        if (std::isnan(exact.loss_db[i])) {
            continue;
        }
        const geo::LatLon position =
            map.grid.georeference.position_of({1.0 * cell.column, 1.0 * cell.row});
        differences.push_back(
            {cell, geo::geodesic_between(map.request.site, position).distance_m / 1000.0,
             static_cast<double>(exact.loss_db[i]), static_cast<double>(carried.loss_db[i]),
             Cause::nearby, ""});
        const double size = differences.back().size_db();
        agreement.within_tenth += size <= 0.1 ? 1.0 : 0.0;
        agreement.within_half += size <= 0.5 ? 1.0 : 0.0;
        agreement.other_sight += (exact.sight[i] == coverage::SightClass::blocked) !=
                                         (carried.sight[i] == coverage::SightClass::blocked)
                                     ? 1U
                                     : 0U;
    }
    if (differences.empty()) {
        throw_input("no cell of the sample could be predicted");
    }
    std::ranges::sort(differences, [](const CellDifference& a, const CellDifference& b) {
        return a.size_db() > b.size_db();
    });
    agreement.cells = differences.size();
    const auto percentile = [&](double share) {
        return differences[static_cast<std::size_t>((1.0 - share) *
                                                    static_cast<double>(differences.size()))]
            .size_db();
    };
    agreement.p95_db = percentile(0.95);
    agreement.p99_db = percentile(0.99);
    Sides sides(map);
    constexpr std::size_t shown = 5;
    for (std::size_t k = 0; k < differences.size(); ++k) {
        const bool large = differences[k].size_db() > 0.5;
        if (!large && k >= shown) {
            break;
        }
        sides.explain(differences[k], carried.radials_per_rim_cell);
        if (large) {
            ++agreement.beyond_half_by_cause[static_cast<std::size_t>(differences[k].cause)];
        }
        if (k < shown) {
            agreement.worst.push_back(differences[k]);
        }
    }
    return agreement;
}

} // namespace earshot::bench
