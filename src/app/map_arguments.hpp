#pragma once

#include "app/options.hpp"
#include "earshot/coverage/coverage.hpp"

#include <string>
#include <vector>

/// What commands share that make maps.

namespace earshot::app {

/// Which cells a map has.
struct GridArguments {
    std::string grid, cell;

    void add_to(const Options& options);
    /// Refuses values that contradict each other; throws Error(Fault::usage).
    void check() const;
    /// Throws Error(Fault::usage) if the cells are not possible in a map that reaches so far.
    [[nodiscard]] coverage::GridChoice choice(double range_m) const;

private:
    [[nodiscard]] bool utm() const { return grid == "utm" || (grid.empty() && !cell.empty()); }
};

/// Bands by their names. Throws Error(Fault::usage) if one is not known, named twice, or not for
/// this number of stations.
[[nodiscard]] std::vector<coverage::BandKind> parse_bands(const std::vector<std::string>& names,
                                                          bool several_stations);

/// Puts program, time and cautions around what explains a map.
void put_metadata(coverage::CoverageRaster& map,
                  std::vector<std::pair<std::string, std::string>> metadata);

} // namespace earshot::app
