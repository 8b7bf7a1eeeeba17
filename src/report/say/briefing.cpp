#include "report/say/briefing.hpp"

#include "geo/units.hpp"
#include "link/quality.hpp"
#include "report/say/numbers.hpp"
#include "report/say/plan_words.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>

namespace earshot::report {
namespace {

constexpr double unknown = std::numeric_limits<double>::quiet_NaN();

std::string radio_words(const link::Station& station) {
    return fmt::format("{} into {:.1f} dBi at {}", geo::format_power(station.radio.power_dbm),
                       station.radio.antenna_gain_dbi, height_text(station.antenna_height_m, 1));
}

/// Which station is heard best at a position with that margin.
std::string best_station_at(const Briefing& briefing, geo::LatLon position, double margin_db) {
    if (!(margin_db >= 0.0) || briefing.stations.empty()) {
        return {};
    }
    if (briefing.stations.size() == 1) {
        return briefing.stations.front().name;
    }
    const double number = map_value_at(briefing.map, position, coverage::BandKind::serving);
    return number >= 1.0 && number <= static_cast<double>(briefing.stations.size())
               ? briefing.stations[static_cast<std::size_t>(number) - 1].name
               : std::string();
}

std::string place_words(const PlaceResult& result, const Briefing& briefing) {
    if (std::isnan(result.margin_db)) {
        return "Not predicted: outside the map, or ground of unknown height.";
    }
    const link::ReadabilityClass& heard = link::readability(result.margin_db);
    std::string words =
        fmt::format("{} ({}): {}", heard.name, margin_text(result.margin_db), heard.meaning);
    if (!result.best_station.empty()) {
        words += fmt::format("; best from {}", result.best_station);
    }
    const double heard_from =
        map_value_at(briefing.map, result.position, coverage::BandKind::heard);
    if (!std::isnan(heard_from)) {
        words += fmt::format("; hears {:.0f} of {} stations", heard_from, briefing.stations.size());
    }
    return words + ".";
}

std::string station_words(const PlaceResult& result, const Briefing& briefing,
                          const link::Station& station) {
    std::string words = radio_words(station) + ".";
    if (!result.person.empty() || !result.role.empty()) {
        words = fmt::format("{}{}{}. {}", result.person,
                            result.person.empty() || result.role.empty() ? "" : ", ", result.role,
                            words);
    }
    if (!briefing.pairs.empty()) {
        words += result.talks_with.empty()
                     ? " Talks with nobody directly."
                     : fmt::format(" Talks with {}.", fmt::join(result.talks_with, ", "));
    }
    if (!result.fallback.empty()) {
        words += fmt::format(" When not heard, go to {}.", result.fallback);
    }
    return words;
}

PlaceResult station_result(const Briefing& briefing, std::size_t number) {
    const link::Station& station = briefing.stations[number];
    PlaceResult result;
    result.name = station.name;
    result.position = station.position;
    result.station = true;
    result.ground_m = briefing.ground.sample(station.position);
    result.margin_db = unknown;
    if (briefing.scenario && number < briefing.scenario->duties.size()) {
        const scenario::Duty& duty = briefing.scenario->duties[number];
        result.person = duty.person;
        result.role = duty.role;
        result.fallback = fallback_of(briefing, number);
    }
    if (number < briefing.net.mutual.size()) {
        for (const std::size_t other : briefing.net.mutual[number]) {
            result.talks_with.push_back(briefing.stations[other].name);
        }
    }
    result.words = station_words(result, briefing, station);
    return result;
}

PlaceResult result_at(const Briefing& briefing, const scenario::Place& place) {
    PlaceResult result;
    result.name = place.name;
    result.position = place.position;
    result.ground_m = briefing.ground.sample(place.position);
    result.margin_db = map_value_at(briefing.map, place.position);
    result.people = place.people;
    result.best_station = best_station_at(briefing, place.position, result.margin_db);
    result.words = place_words(result, briefing);
    return result;
}

} // namespace

std::string fallback_of(const Briefing& briefing, std::size_t number) {
    if (number >= briefing.fallbacks.size()) {
        return briefing.scenario->duties[number].fallback;
    }
    const auto& fallback = briefing.fallbacks[number];
    return fallback && fallback->found() ? fallback_name(*fallback) : std::string();
}

double map_value_at(const coverage::CoverageRaster& map, geo::LatLon position,
                    coverage::BandKind kind) {
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

geo::LatLon middle_of(const coverage::CoverageRaster& map) {
    return map.georeference.position_of({(map.columns - 1) / 2.0, (map.rows - 1) / 2.0});
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

std::vector<PlaceResult> place_results(const Briefing& briefing) {
    std::vector<PlaceResult> results;
    for (std::size_t number = 0; number < briefing.stations.size(); ++number) {
        results.push_back(station_result(briefing, number));
    }
    for (const scenario::Place& place : briefing.places) {
        if (std::ranges::find(briefing.stations, place.name, &link::Station::name) ==
            briefing.stations.end()) {
            results.push_back(result_at(briefing, place));
        }
    }
    return results;
}

} // namespace earshot::report
