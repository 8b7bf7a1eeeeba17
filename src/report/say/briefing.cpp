#include "report/say/briefing.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>

namespace earshot::report {

double map_value_at(const coverage::CoverageRaster& map, geo::LatLon position,
                    coverage::BandKind kind) {
    constexpr double unknown = std::numeric_limits<double>::quiet_NaN();
    const terrain::CellPosition cell = map.georeference.cell_of(position);
    const coverage::Band* band = coverage::find_band(map, kind);
    if (band == nullptr || !(cell.column >= -0.5 && cell.column < map.columns - 0.5 &&
                             cell.row >= -0.5 && cell.row < map.rows - 0.5)) {
        return unknown;
    }
    const auto column = static_cast<std::size_t>(std::floor(cell.column + 0.5));
    const auto row = static_cast<std::size_t>(std::floor(cell.row + 0.5));
    return static_cast<double>(band->values[row * static_cast<std::size_t>(map.columns) + column]);
}

std::string map_metadata(const coverage::CoverageRaster& map, std::string_view key) {
    const auto found =
        std::ranges::find(map.metadata, key, &std::pair<std::string, std::string>::first);
    return found == map.metadata.end() ? std::string() : found->second;
}

std::vector<std::string> station_metadata(const coverage::CoverageRaster& map,
                                          std::string_view key) {
    constexpr std::string_view between = "; ";
    const std::string values = map_metadata(map, key);
    std::vector<std::string> list;
    for (std::size_t start = 0; !values.empty() && start != std::string::npos;) {
        const std::size_t end = values.find(between, start);
        list.push_back(values.substr(start, end - start));
        start = end == std::string::npos ? end : end + between.size();
    }
    return list;
}

} // namespace earshot::report
