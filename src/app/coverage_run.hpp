#pragma once

#include "app/options.hpp"
#include "earshot/base/task.hpp"
#include "earshot/coverage/map_grid.hpp"
#include "earshot/coverage/raster.hpp"
#include "earshot/coverage/sweep.hpp"
#include "earshot/link/path.hpp"
#include "earshot/terrain/height_grid.hpp"
#include "earshot/terrain/profile.hpp"
#include "earshot/terrain/terrain_source.hpp"

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

/// The work behind a coverage map, for every command that makes one.

namespace earshot::app {

/// A map's inputs.
struct CoverageJob : link::Setting {
    std::vector<link::Station> stations; ///< at least one
    link::Radio receiver;
    double receiver_height_m = 0.0;
    double range_m = 0.0;
    /// Names as `earshot map --bands` takes them, for one station or for several.
    std::vector<std::string> bands{"margin"};
    coverage::Engine engine = coverage::Engine::carried;
    double radials_per_rim_cell = 0.0;      ///< 0: as many as the ground asks for
    std::string terrain_label, cover_label; ///< for the metadata
    std::vector<std::string> warnings;      ///< of inputs beyond what the method is made for
    std::string correction; ///< the field correction in words; empty if there is none

    [[nodiscard]] const link::Station& first() const { return stations.front(); }
    [[nodiscard]] std::vector<geo::LatLon> sites() const;
    /// A circle of this radius around the first station holds all that the map needs of the ground.
    [[nodiscard]] double reach_m() const;
};

/// What came of the sweeps.
struct CoverageOutcome {
    std::uint64_t predicted = 0, off_terrain = 0, behind_void = 0;
    double predicted_km2 = 0.0; ///< area of the cells whose margin is known
    double heard_km2 = 0.0;     ///< of those, with a margin of 0 dB or more
    double seconds = 0.0;
    coverage::Engine engine = coverage::Engine::exact; ///< that was used
};

/// Which cells a map has.
struct GridArguments {
    std::string grid, cell;

    void add_to(const Options& options);
    /// Refuses values that contradict each other; throws Error(Fault::usage).
    void check() const;
    /// The cells around the job's stations; throws as the functions of sweep/map_grid.hpp do.
    [[nodiscard]] coverage::MapGrid make(const CoverageJob& job) const;

private:
    [[nodiscard]] bool utm() const { return grid == "utm" || (grid.empty() && !cell.empty()); }
};

/// As --engine takes it and metadata say it.
[[nodiscard]] std::string_view name_of(coverage::Engine engine);

/// Refuses bands that are not known, named twice, or not for this number of stations. Throws
/// Error(Fault::usage).
void check_bands(const std::vector<std::string>& bands, bool several_stations);

/// "file.tif and 3 more; 400 x 300 cells, EPSG:4326".
[[nodiscard]] std::string terrain_label_of(const terrain::TerrainInfo& info);

/// Sweeps from every station and composes the bands, with metadata that explain them. Throws as
/// coverage::sweep() does, and Error(Fault::input) if not one cell could be predicted.
[[nodiscard]] coverage::CoverageRaster run_coverage(const coverage::MapGrid& map,
                                                    const CoverageJob& job,
                                                    CoverageOutcome& outcome,
                                                    Task& task = silent_task());

/// What people should know of the map, a sentence each: warnings, elevation that ends too soon,
/// voids.
[[nodiscard]] std::vector<std::string> coverage_notes(const CoverageJob& job,
                                                      const terrain::TerrainSource& source,
                                                      const terrain::HeightSummary& heights,
                                                      const CoverageOutcome& outcome);

} // namespace earshot::app
