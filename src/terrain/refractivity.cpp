#include "earshot/terrain/refractivity.hpp"

#include "base/input_file.hpp"
#include "base/number.hpp"
#include "base/require.hpp"
#include "geo/text.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <sstream>
#include <string>
#include <string_view>
#include <system_error>
#include <utility>

namespace earshot::terrain {
namespace {

// Appends the numbers of one line; its length and where it stands go into any complaint.
void append_row(const std::string& line, int line_number, const std::string& file,
                std::vector<double>& values) {
    int count = 0;
    std::istringstream words(line);
    for (std::string word; words >> word; ++count) {
        // Some exporters write a leading plus sign.
        const auto value = number_in(std::string_view(word).substr(word.front() == '+' ? 1 : 0));
        require_input(value && std::isfinite(*value),
                      "{}, line {}: '{}' is not a number; use the map file that accompanies "
                      "Recommendation ITU-R P.1812",
                      file, line_number, word);
        values.push_back(*value);
    }
    require_input(count == GlobalMap::columns,
                  "{}, line {}: {} values where a row of the map has {}; use the map file that "
                  "accompanies Recommendation ITU-R P.1812",
                  file, line_number, count, GlobalMap::columns);
}

std::filesystem::path find_map(const std::filesystem::path& folder, std::string_view name) {
    std::error_code error;
    for (std::filesystem::directory_iterator entry(folder, error), end; !error && entry != end;
         entry.increment(error)) {
        if (geo::upper(entry->path().filename().string()) == name) {
            return entry->path();
        }
    }
    require_input(
        !error,
        "{}: cannot read this folder ({}); name the folder that holds DN50.TXT and N050.TXT",
        folder.string(), error.message());
    throw_input("{}: no {} in this folder; download the maps that accompany Recommendation ITU-R "
                "P.1812 into it",
                folder.string(), name);
}

} // namespace

GlobalMap GlobalMap::read(const std::filesystem::path& file) {
    const std::string name = file.string();
    std::istringstream in(read_text_file(file, "map"));
    GlobalMap map;
    map.values_.reserve(static_cast<std::size_t>(rows) * static_cast<std::size_t>(columns));
    int row = 0;
    int line_number = 0;
    for (std::string line; std::getline(in, line);) {
        ++line_number;
        if (line.find_first_not_of(" \t\r\v\f") == std::string::npos) {
            continue;
        }
        require_input(++row <= rows,
                      "{}, line {}: more than the {} rows of a map; use the map file that "
                      "accompanies Recommendation ITU-R P.1812",
                      name, line_number, rows);
        append_row(line, line_number, name, map.values_);
    }
    require_input(row == rows,
                  "{}: {} rows where a map has {}; the file is cut short or not a map of "
                  "Recommendation ITU-R P.1812",
                  name, row, rows);
    return map;
}

double GlobalMap::at(geo::LatLon position) const {
    const double east_deg = position.lon_deg - 360.0 * std::floor(position.lon_deg / 360.0);
    const double column = east_deg / step_deg;
    const double row = (90.0 - std::clamp(position.lat_deg, -90.0, 90.0)) / step_deg;
    // The last cell starts one before the last node, so that its far edge belongs to it.
    const int left = std::min(static_cast<int>(column), columns - 2);
    const int top = std::min(static_cast<int>(row), rows - 2);
    const double right_share = column - left;
    const double bottom_share = row - top;
    const auto node = [&](int r, int c) {
        return values_[static_cast<std::size_t>(r) * static_cast<std::size_t>(columns) +
                       static_cast<std::size_t>(c)];
    };
    const double upper = std::lerp(node(top, left), node(top, left + 1), right_share);
    const double lower = std::lerp(node(top + 1, left), node(top + 1, left + 1), right_share);
    return std::lerp(upper, lower, bottom_share);
}

RefractivityMaps::RefractivityMaps(GlobalMap delta_n, GlobalMap n0)
    : delta_n_(std::move(delta_n)), n0_(std::move(n0)) {}

RefractivityMaps RefractivityMaps::open(const std::filesystem::path& folder) {
    return {GlobalMap::read(find_map(folder, "DN50.TXT")),
            GlobalMap::read(find_map(folder, "N050.TXT"))};
}

Refractivity RefractivityMaps::at(geo::LatLon position) const {
    return {delta_n_.at(position), n0_.at(position)};
}

} // namespace earshot::terrain
