#pragma once

#include "earshot/base/task.hpp"
#include "earshot/coverage/raster.hpp"
#include "earshot/coverage/sweep.hpp"
#include "earshot/link/budget.hpp"
#include "earshot/link/path.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

/// A coverage map from its question to its bands.

namespace earshot::coverage {

/// Which cells a map has.
struct GridChoice {
    bool utm = false;    ///< squares in the local UTM zone, else the elevation's own cells
    double cell_m = 0.0; ///< side of the squares; 0: about that of the elevation's cells
};

/// What a map is to show.
struct Job : link::Setting {
    std::vector<link::Station> stations; ///< at least one
    link::Radio receiver;
    double receiver_height_m = 1.5; ///< above the ground of each cell
    double range_m = 0.0;
    GridChoice grid;
    std::vector<BandKind> bands{BandKind::margin};
    double wanted_margin_db = 0.0; ///< from which on a station counts as heard
    /// Margins are those of the weaker way, as if the way back lost what the way out does.
    bool both_ways = false;
    Engine engine = Engine::carried;
    double radials_per_rim_cell = 0.0; ///< 0: as many as the ground asks for

    [[nodiscard]] const link::Station& first() const { return stations.front(); }
    /// A circle of this radius around the first station holds all that the map needs of the ground.
    [[nodiscard]] double reach_m() const;
};

/// Where the elevation ends before the range of a station does.
struct ShortGround {
    double share_percent = 0.0; ///< of directions
    double nearest_m = 0.0;
    double nearest_bearing_deg = 0.0;
};

struct Result {
    CoverageRaster raster; ///< the bands asked for, in order; no metadata
    std::uint64_t cells_predicted = 0, cells_off_terrain = 0, cells_behind_void = 0;
    double predicted_km2 = 0.0;            ///< area of the cells that are known
    std::optional<double> heard_km2;       ///< of those, heard; absent if no band needed margins
    std::optional<double> in_sight_km2;    ///< of those, in sight; absent if no band asks for it
    std::vector<ShortGround> short_ground; ///< one for each station
    double seconds = 0.0;
    Engine engine = Engine::exact; ///< that was used
};

/// Sweeps from every station and composes the bands. Throws as terrain_map_grid(), utm_map_grid()
/// and sweep() do, Error(Fault::input) if not one cell could be predicted, and Error(Fault::usage)
/// for the band doubt of a method that has no second.
///
///     auto job = link::made_in<coverage::Job>(setting);
///     job.stations = {ridge};
///     job.range_m = 2000.0;
///     job.bands = {coverage::BandKind::margin, coverage::BandKind::chance};
///     const coverage::Result result = coverage::run(job);
///     const double heard_km2 = *result.heard_km2;
///
/// Promise: the margin of a cell is that of link::two_way_path() to its centre, within 0.1 dB in
/// 95 % of the cells and 0.5 dB in 99 % (sweep.hpp); the chance within 1 % in 95 % of the cells and
/// 3 % in 99 %, since what a second model says of a cell is known less exactly.
[[nodiscard]] Result run(const Job& job, Task& task = silent_task());

/// As people ask for it and metadata say it.
[[nodiscard]] std::string_view name_of(Engine engine);

/// What metadata say of a map's inputs, in words.
struct InputLabels {
    std::string terrain, cover;
    std::string correction; ///< the field correction; empty if there is none
};

/// Keys and values that explain a map (docs/file-formats.md).
[[nodiscard]] std::vector<std::pair<std::string, std::string>>
metadata_of(const Job& job, Engine engine, const InputLabels& labels);

} // namespace earshot::coverage
