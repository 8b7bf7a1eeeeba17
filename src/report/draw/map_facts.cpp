#include "base/number.hpp"
#include "earshot/base/error.hpp"
#include "geo/units.hpp"
#include "report/draw/map_sheet.hpp"
#include "report/draw/page_style.hpp"
#include "report/say/briefing.hpp"
#include "report/say/numbers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace earshot::report {
namespace {

using Facts = std::vector<std::pair<std::string, std::string>>;

/// What a file is called, without where it lies and what is in it.
std::string file_name(const std::string& words) {
    const std::string path = words.substr(0, words.find(';'));
    const std::size_t slash = path.rfind('/');
    return slash == std::string::npos ? path : path.substr(slash + 1);
}

/// A number at the end does not stand alone on a line.
std::string with_last_word_bound(std::string words) {
    constexpr std::size_t short_word = 3;
    const std::size_t space = words.rfind(' ');
    if (space != std::string::npos && words.size() - space <= short_word) {
        words.replace(space, 1, "\u00a0");
    }
    return words;
}

/// "−3.5", to a tenth, with a true minus sign.
std::string signed_number(double value) {
    const double tenths = std::round(std::abs(value) * 10.0) / 10.0;
    return fmt::format("{}{:g}", value < 0.0 && tenths > 0.0 ? "\u2212" : "", tenths);
}

class Metadata {
public:
    explicit Metadata(const coverage::CoverageRaster& map) : map_(map) {}
    [[nodiscard]] std::string text(std::string_view key) const { return map_metadata(map_, key); }
    [[nodiscard]] std::optional<double> number(std::string_view key) const {
        return finite_number_in(text(key));
    }
    /// Of station `k`; nothing if there are not as many values as stations.
    [[nodiscard]] std::optional<double> number(std::string_view key, std::size_t k,
                                               std::size_t stations) const {
        const std::vector<std::string> list = station_metadata(map_, key);
        return list.size() == stations ? finite_number_in(list[k]) : std::nullopt;
    }

private:
    const coverage::CoverageRaster& map_;
};

std::string joined(const std::vector<std::string>& words, const char* between) {
    std::string text;
    for (const std::string& word : words) {
        if (!word.empty()) {
            text.append(text.empty() ? "" : between).append(word);
        }
    }
    return text;
}

void add_antenna(std::optional<double> gain_dbi, std::optional<double> height_m,
                 std::vector<std::string>& words) {
    if (gain_dbi) {
        words.push_back(signed_number(*gain_dbi) + "\u00a0dBi");
    }
    if (height_m) {
        words.push_back(fmt::format("{}\u00a0up", page_style::typeset(height_text(*height_m, 1))));
    }
}

/// "25 W, 5.2 dBi, 9.0 m up": what is known of it.
std::string station_words(const Metadata& metadata, std::size_t k, std::size_t stations) {
    std::vector<std::string> words;
    if (const auto power = metadata.number("STATION_POWER_DBM", k, stations)) {
        words.push_back(geo::format_power(*power));
    }
    add_antenna(metadata.number("STATION_ANTENNA_GAIN_DBI", k, stations),
                metadata.number("STATION_ANTENNA_HEIGHT_M", k, stations), words);
    return joined(words, ", ");
}

void add_stations(const coverage::CoverageRaster& map, const Metadata& metadata, Facts& facts) {
    constexpr std::size_t most_shown = 6;
    const std::vector<std::string> names = station_metadata(map, "STATION_NAME");
    if (names.empty()) {
        return;
    }
    std::vector<std::string> radios;
    for (std::size_t k = 0; k < names.size(); ++k) {
        radios.push_back(station_words(metadata, k, names.size()));
    }
    if (std::ranges::all_of(radios, [&](const std::string& r) { return r == radios.front(); })) {
        facts.emplace_back(names.size() == 1 ? "station" : "stations",
                           names.size() == 1
                               ? joined({names.front(), radios.front()}, ": ")
                               : fmt::format("{}, each {}", names.size(), radios.front()));
        return;
    }
    std::vector<std::string> words;
    for (std::size_t k = 0; k < std::min(names.size(), most_shown); ++k) {
        words.push_back(joined({names[k], radios[k]}, ": "));
    }
    if (names.size() > most_shown) {
        words.push_back(fmt::format("and {} more", names.size() - most_shown));
    }
    facts.emplace_back("stations", joined(words, "\n"));
}

void add_listener(const Metadata& metadata, Facts& facts) {
    std::vector<std::string> words;
    add_antenna(metadata.number("RECEIVER_ANTENNA_GAIN_DBI"),
                metadata.number("RECEIVER_ANTENNA_HEIGHT_M"), words);
    if (const auto threshold = metadata.number("RECEIVER_THRESHOLD_DBM")) {
        words.push_back(fmt::format("needs {}\u00a0dBm", signed_number(*threshold)));
    }
    if (const auto body = metadata.number("RECEIVER_BODY_LOSS_DB"); body && *body > 0.0) {
        words.push_back(fmt::format("body costs {:g}\u00a0dB", *body));
    }
    if (!words.empty()) {
        facts.emplace_back("listener", joined(words, ", "));
    }
}

void add_share(const Metadata& metadata, Facts& facts) {
    const auto time = metadata.number("TIME_PERCENT");
    const auto places = metadata.number("PLACES_PERCENT");
    if (time && places) {
        facts.emplace_back(
            "holds for",
            fmt::format("{:g}\u00a0% of the time, {:g}\u00a0% of places", *time, *places));
    }
}

void check_prediction(const coverage::CoverageRaster& map) {
    if (map.bands.empty() || map.bands.front().values.empty()) {
        throw_input("the map is empty: it has no cells; make it again with earshot map");
    }
    if (std::ranges::all_of(map.bands.front().values,
                            [](float value) { return std::isnan(value); })) {
        throw_input("the map holds no prediction: no cell of it is known; check that the elevation "
                    "covers the ground around the stations, and make it again");
    }
    for (const char* key : {"FREQUENCY_MHZ", "METHOD_SOURCE", "RECEIVER_THRESHOLD_DBM"}) {
        if (map_metadata(map, key).empty()) {
            throw_input(fmt::format("the map does not say what it was made with ({} is missing "
                                    "from its metadata); give a map as earshot map wrote it",
                                    key));
        }
    }
}

/// Whether a place is one of the stations under the same name.
bool is_station(const scenario::Place& place, const std::vector<link::Station>& stations) {
    constexpr double same_place_m = 250.0;
    return std::ranges::any_of(stations, [&](const link::Station& station) {
        return station.name == place.name &&
               geo::geodesic_between(station.position, place.position).distance_m < same_place_m;
    });
}

} // namespace

Facts map_facts(const coverage::CoverageRaster& map) {
    const Metadata metadata(map);
    Facts facts;
    add_stations(map, metadata, facts);
    if (const auto frequency = metadata.number("FREQUENCY_MHZ")) {
        const std::string polarization = metadata.text("POLARIZATION");
        facts.emplace_back("frequency",
                           fmt::format("{:g} MHz{}{}", *frequency, polarization.empty() ? "" : ", ",
                                       polarization));
    }
    add_listener(metadata, facts);
    const auto add = [&facts](const char* label, const std::string& value) {
        if (!value.empty()) {
            facts.emplace_back(label, value);
        }
    };
    add("model", with_last_word_bound(metadata.text("METHOD_SOURCE")));
    add_share(metadata, facts);
    add("ground", file_name(metadata.text("TERRAIN")));
    add("cover", file_name(metadata.text("GROUND_COVER")));
    return facts;
}

MapSheet map_sheet_of(const Briefing& briefing) {
    check_prediction(briefing.map);
    MapSheet sheet;
    sheet.title = briefing.title;
    for (const link::Station& station : briefing.stations) {
        sheet.marks.push_back({station.position, station.name, true});
    }
    for (const scenario::Place& place : briefing.places) {
        if (!is_station(place, briefing.stations)) {
            sheet.marks.push_back({place.position, place.name, false});
        }
    }
    sheet.facts = map_facts(briefing.map);
    sheet.facts.emplace_back("correction", briefing.correction.empty() ? "none from field logs"
                                                                       : briefing.correction);
    if (!briefing.date.empty()) {
        sheet.facts.emplace_back("date", briefing.date);
    }
    if (!briefing.prepared_by.empty()) {
        sheet.facts.emplace_back("prepared by", briefing.prepared_by);
    }
    const std::string made = map_metadata(briefing.map, "CREATED");
    const std::string program = map_metadata(briefing.map, "PROGRAM");
    if (!made.empty()) {
        sheet.facts.emplace_back("predicted",
                                 made.substr(0, 10) + (program.empty() ? "" : " by ") + program);
    }
    sheet.notes = briefing.remarks;
    sheet.notes.insert(sheet.notes.end(), briefing.notes.begin(), briefing.notes.end());
    sheet.declination_deg = briefing.declination_deg;
    return sheet;
}

} // namespace earshot::report
