#pragma once

#include "earshot/base/task.hpp"
#include "earshot/coverage/map_grid.hpp"
#include "earshot/geo/geodesic.hpp"
#include "earshot/link/path.hpp"
#include "earshot/terrain/height_grid.hpp"
#include "earshot/terrain/profile.hpp"

#include <cstdint>
#include <vector>

/// The losses around a station. The promise: the carried engine lies within 0.1 dB of the exact one
/// in 95 percent of the cells and within 0.5 dB in 99, at a small part of its cost.
///
///     auto request = link::made_in<coverage::SweepRequest>(setting);
///     request.site = ridge;
///     request.site_antenna_m = 10.0;
///     request.range_m = 2000.0;
///     const coverage::SweepResult result = coverage::sweep(map, request);

namespace earshot::coverage {

/// What a receiver at a cell can see of the station's antenna.
enum class SightClass : std::uint8_t {
    blocked = 0, ///< ground stands in the ray
    grazing = 1, ///< line of sight, but less than 0.6 of the first Fresnel zone is clear
    clear = 2,   ///< line of sight with at least 0.6 of the first Fresnel zone clear
    unknown = 255,
};

/// How a map is worked out.
enum class Engine {
    carried, ///< terms carried along radials; a cell takes from the radials on either side of it
    exact,   ///< a fresh profile to every cell: the reference
};

struct SweepRequest : link::Setting {
    geo::LatLon site;
    double site_antenna_m = 0.0;     ///< above the ground, at least 0
    double receiver_antenna_m = 1.5; ///< above the ground of each cell, at least 0
    double range_m = 0.0;            ///< cells whose centre lies farther are left unknown
    /// Methods that the carried engine does not know, ground with zones, and line of sight alone
    /// over cover are always swept by the exact one.
    Engine engine = Engine::carried;
    /// Radials of the carried engine for each cell's width at the far rim of the map. 0: as many as
    /// a trial on the ground at hand shows to be needed.
    double radials_per_rim_cell = 0.0;
    /// Only line of sight: no losses, and the Fresnel zone is not looked at, so that every cell in
    /// sight counts as clear.
    bool sight_only = false;
    bool with_sight = true; ///< false leaves out the sight of the cells and saves its memory
};

/// Row-major results on the map's grid.
struct SweepResult {
    std::vector<float> loss_db; ///< all of the path, woodland and what a field correction changes
                                ///< included; NaN where not known
    std::vector<SightClass> sight;
    std::uint64_t cells_predicted = 0;
    std::uint64_t cells_off_terrain = 0; ///< within range, but no ground height at the cell
    std::uint64_t cells_behind_void = 0; ///< ground is known, but the path crosses a void
    Engine engine = Engine::exact;       ///< the engine that was used
    double radials_per_rim_cell = 0.0;   ///< of the carried engine
};

/// Predicts the loss from a site to the centre of every cell of a map, along WGS 84 geodesics.
/// Throws Error(Fault::stopped) if the user stops
/// it, Error(Fault::input) if the site has no ground height, Error(Fault::memory).
[[nodiscard]] SweepResult sweep(const MapGrid& map, const SweepRequest& request,
                                Task& task = silent_task());

/// Sight class of a path from its clearance.
[[nodiscard]] SightClass sight_class(const propagation::Sight& sight);

} // namespace earshot::coverage
