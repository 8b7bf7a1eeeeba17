#include "report/say/place_results.hpp"

#include "geo/units.hpp"
#include "link/quality.hpp"
#include "report/say/briefing.hpp"
#include "report/say/numbers.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace earshot::report {
namespace {

constexpr double unknown = std::numeric_limits<double>::quiet_NaN();

std::string radio_words(const link::Station& station) {
    return fmt::format("{} into {:.1f} dBi at {:.1f} m", geo::format_power(station.radio.power_dbm),
                       station.radio.antenna_gain_dbi, station.antenna_height_m);
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
        result.fallback = duty.fallback;
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

std::string pair_verdict(const plan::Pair& pair, std::span<const link::Station> stations,
                         double wanted_margin_db) {
    if (!pair.known()) {
        return "unknown: the path crosses ground of unknown height";
    }
    if (pair.mutual()) {
        return std::string(link::readability(pair.weaker_margin_db()).name);
    }
    if (pair.b_hears_a.heard || pair.a_hears_b.heard) {
        const bool b_listens = pair.b_hears_a.heard;
        return fmt::format("one way: {} hears {}", stations[b_listens ? pair.b : pair.a].name,
                           stations[b_listens ? pair.a : pair.b].name);
    }
    const double best_db = std::max(pair.b_hears_a.margin_db, pair.a_hears_b.margin_db);
    return fmt::format("no: {} short", short_text(best_db, wanted_margin_db));
}

} // namespace earshot::report
