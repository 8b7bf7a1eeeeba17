#include "app/map_arguments.hpp"

#include "earshot/base/error.hpp"
#include "geo/units.hpp"
#include "report/say/phrases.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <ctime>

namespace earshot::app {

void GridArguments::add_to(const Options& options) {
    options.add("--grid", grid,
                "Cells of the map: terrain (those of the elevation, the default) or utm (squares "
                "in the local UTM zone)",
                "NAME");
    options.add("--cell", cell, "Side of a cell with --grid utm, for example 30m", "LENGTH");
}

void GridArguments::check() const {
    if (!grid.empty() && grid != "terrain" && grid != "utm") {
        throw_usage(fmt::format("--grid '{}' is not known; use terrain or utm", grid));
    }
    if (!utm() && !cell.empty()) {
        throw_usage("--cell goes with --grid utm; on the terrain's own grid the cells are those of "
                    "the elevation");
    }
}

coverage::GridChoice GridArguments::choice(double range_m) const {
    coverage::GridChoice choice{utm(), 0.0};
    if (choice.utm && !cell.empty()) {
        choice.cell_m = geo::parse_length_m(cell, "--cell");
        if (!(choice.cell_m > 0.0)) {
            throw_usage(fmt::format("--cell '{}' must be longer than nothing", cell));
        }
        if (choice.cell_m > range_m) {
            throw_usage(
                fmt::format("--cell '{}' is larger than the range of {}; choose smaller cells",
                            cell, geo::format_distance(range_m)));
        }
    }
    return choice;
}

std::vector<coverage::BandKind> parse_bands(const std::vector<std::string>& names,
                                            bool several_stations) {
    const auto listed = [](auto wanted) {
        std::vector<std::string_view> list;
        for (const coverage::BandInfo& info : coverage::band_kinds()) {
            if (!info.name.empty() && wanted(info)) {
                list.push_back(info.name);
            }
        }
        return fmt::format("{}", fmt::join(list, ", "));
    };
    std::vector<coverage::BandKind> bands;
    for (const std::string& name : names) {
        const auto kinds = coverage::band_kinds();
        const auto info = std::ranges::find(kinds, name, &coverage::BandInfo::name);
        if (name.empty() || info == kinds.end()) {
            throw_usage(fmt::format("--bands '{}' is not known; choose from {}", name,
                                    listed([](const auto&) { return true; })));
        }
        if (several_stations && !info->for_several) {
            throw_usage(fmt::format(
                "--bands '{}' is for one station; with several choose from {}", name,
                listed([](const coverage::BandInfo& other) { return other.for_several; })));
        }
        if (!several_stations && !info->for_one) {
            throw_usage(fmt::format(
                "--bands '{}' is for several stations; give --at more than once", name));
        }
        if (std::ranges::count(names, name) > 1) {
            throw_usage(fmt::format("--bands names '{}' twice", name));
        }
        bands.push_back(info->kind);
    }
    return bands;
}

void put_metadata(coverage::CoverageRaster& map,
                  std::vector<std::pair<std::string, std::string>> metadata) {
    map.metadata = {
        {"PROGRAM", "earshot " EARSHOT_VERSION},
        {"CREATED", fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", fmt::gmtime(std::time(nullptr)))}};
    map.metadata.insert(map.metadata.end(), metadata.begin(), metadata.end());
    map.metadata.emplace_back("CAUTION", report::cautions());
}

} // namespace earshot::app
