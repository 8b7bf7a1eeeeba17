#include "report/files/browser_page.hpp"

#include "base/number.hpp"
#include "base/output_file.hpp"
#include "earshot/base/error.hpp"
#include "earshot/propagation/path_loss.hpp"
#include "geo/units.hpp"
#include "link/quality.hpp"
#include "propagation/basic.hpp"
#include "report/draw/map_sheet.hpp"
#include "report/draw/map_style.hpp"
#include "report/draw/path_section.hpp"
#include "report/draw/relief.hpp"
#include "report/files/styled_map.hpp"
#include "report/say/briefing.hpp"
#include "report/say/json.hpp"
#include "report/say/margin_classes.hpp"
#include "report/say/numbers.hpp"
#include "report/say/path_report.hpp"
#include "report/say/phrases.hpp"
#include "report/say/plan_words.hpp"
#include "report/say/second_words.hpp"

#include <cpl_conv.h>
#include <cpl_string.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <memory>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

namespace earshot::report {

// ---- Rasters in the page ------------------------------------------------------------------------

namespace {

constexpr double most_number = 32767.0;

struct CplFree {
    void operator()(void* memory) const { VSIFree(memory); }
};

/// `count` gives how many steps a value is.
template <typename Count>
std::vector<std::int16_t> numbers_of(std::span<const float> values, const Count& count) {
    std::vector<std::int16_t> numbers(values.size());
    std::ranges::transform(values, numbers.begin(), [&](float value) {
        const double number = std::round(count(static_cast<double>(value)));
        return std::isnan(value)
                   ? packed_unknown
                   : static_cast<std::int16_t>(std::clamp(number, -most_number, most_number));
    });
    return numbers;
}

std::string base64(std::span<const unsigned char> bytes) {
    // GDAL's encoder counts in int; whole groups of three bytes join without a seam.
    constexpr std::size_t most_bytes = 3U << 26U;
    std::string text;
    for (std::size_t begin = 0; begin < bytes.size(); begin += most_bytes) {
        const auto part = bytes.subspan(begin, std::min(most_bytes, bytes.size() - begin));
        const std::unique_ptr<char, CplFree> encoded(
            CPLBase64Encode(static_cast<int>(part.size()), part.data()));
        text += encoded.get();
    }
    return text;
}

} // namespace

std::vector<std::int16_t> margin_numbers(std::span<const float> margin_db) {
    return numbers_of(margin_db,
                      [](double margin) { return shown_margin_db(margin, 1) / margin_steps.step; });
}

Steps fitting_steps(std::span<const float> values) {
    double lowest = std::numeric_limits<double>::infinity();
    double highest = -lowest;
    for (const float value : values) {
        // Comparisons with NaN fail, so what is not known does not count.
        lowest = static_cast<double>(value) < lowest ? static_cast<double>(value) : lowest;
        highest = static_cast<double>(value) > highest ? static_cast<double>(value) : highest;
    }
    if (!(lowest <= highest)) {
        return {0.0, 0.1};
    }
    Steps steps{std::round((lowest + highest) / 2.0), 0.1};
    for (double tens = 0.1;; tens *= 10.0) {
        for (const double step : {tens, 2.0 * tens, 5.0 * tens}) {
            if (std::max(highest - steps.offset, steps.offset - lowest) < most_number * step) {
                steps.step = step;
                return steps;
            }
        }
    }
}

std::vector<std::int16_t> whole_numbers(std::span<const float> values, const Steps& steps) {
    return numbers_of(values, [&](double value) { return (value - steps.offset) / steps.step; });
}

std::string packed(std::span<const std::int16_t> numbers, int columns) {
    const auto width = static_cast<std::size_t>(columns);
    std::vector<unsigned char> planes(2 * numbers.size());
    for (std::size_t i = 0; i < numbers.size(); ++i) {
        int before = 0;
        if (i % width != 0) {
            before = numbers[i - 1];
        } else if (i >= width) {
            before = numbers[i - width];
        }
        const auto difference = static_cast<std::uint16_t>(numbers[i] - before);
        planes[i] = static_cast<unsigned char>(difference & 0xFFU);
        planes[numbers.size() + i] = static_cast<unsigned char>(difference >> 8U);
    }
    std::size_t size = 0;
    constexpr int level = 9;
    const std::unique_ptr<void, CplFree> zipped(
        CPLZLibDeflate(planes.data(), planes.size(), level, nullptr, 0, &size));
    if (zipped == nullptr) {
        throw Error(Fault::memory, "the page for a browser does not fit in memory; use larger "
                                   "cells or a shorter range");
    }
    return base64({static_cast<const unsigned char*>(zipped.get()), size});
}

// ---- Numbers ------------------------------------------------------------------------------------

namespace {

/// More cells than this make a page that browsers on small machines cannot open.
constexpr std::size_t most_cells = 40'000'000;
/// The longest side of relief and heights: finer ground is averaged.
constexpr int longest_side = 2400;

/// Numbers to so many decimals; null if not known. Margins stay as they are: the page rounds them
/// itself, and twice would not be the same.
ordered_json number(std::optional<double> value, int decimals) {
    const double tens = std::pow(10.0, decimals);
    return number_or_null(value ? std::round(*value * tens) / tens : value);
}

ordered_json numbers(const std::vector<double>& values, int decimals) {
    return json_list(values, [&](double value) { return number(value, decimals); });
}

std::optional<double> metadata_number(const coverage::CoverageRaster& map, std::string_view key) {
    return number_in(map_metadata(map, key));
}

// ---- Cells and the ground -----------------------------------------------------------------------

/// Positions at the knots of a net over the map, from its upper left corner: between four of them
/// the page interpolates. Longitudes run on across 180 degrees.
ordered_json knots_json(const coverage::CoverageRaster& map, double size_m) {
    // 8 km apart the bend of meridians between knots is about 2 m at 60 degrees of latitude:
    // distance^2 tan(latitude) / (8 earth radii).
    constexpr double apart_m = 8000.0;
    const int count = std::clamp(static_cast<int>(std::ceil(size_m / apart_m)), 16, 128);
    const double middle = middle_of(map).lon_deg;
    std::vector<double> latitudes;
    std::vector<double> longitudes;
    for (int v = 0; v <= count; ++v) {
        for (int u = 0; u <= count; ++u) {
            const geo::LatLon at =
                map.georeference.position_of({static_cast<double>(map.columns) * u / count - 0.5,
                                              static_cast<double>(map.rows) * v / count - 0.5});
            latitudes.push_back(at.lat_deg);
            longitudes.push_back(middle + geo::normalize_longitude_deg(at.lon_deg - middle));
        }
    }
    constexpr int decimals = 8;
    return {{"count", count},
            {"latitude", numbers(latitudes, decimals)},
            {"longitude", numbers(longitudes, decimals)}};
}

terrain::Georeference::CellSize cell_size(const coverage::CoverageRaster& map) {
    return map.georeference.cell_size_at(middle_of(map));
}

ordered_json grid_json(const coverage::CoverageRaster& map) {
    const auto cell = cell_size(map);
    return {
        {"columns", map.columns},
        {"rows", map.rows},
        {"acrossM", cell.across_m},
        {"downM", cell.down_m},
        {"crs", map.georeference.crs_label()},
        {"knots", knots_json(map, std::max(cell.across_m * map.columns, cell.down_m * map.rows))}};
}

ordered_json raster_json(std::span<const std::int16_t> values, int columns, int rows,
                         const Steps& steps) {
    return {{"columns", columns},        {"rows", rows},
            {"offset", steps.offset},    {"step", steps.step},
            {"unknown", packed_unknown}, {"data", packed(values, columns)}};
}

/// As many cells as the ground has under the map, within limits.
struct PictureSize {
    int columns, rows;
};

PictureSize ground_picture_size(const coverage::CoverageRaster& map,
                                const terrain::HeightGrid& ground) {
    const auto cell = cell_size(map);
    const double ground_cell_m = terrain::natural_step_m(ground, middle_of(map));
    const double fineness =
        std::max(1.0, std::round(std::min(cell.across_m, cell.down_m) / ground_cell_m));
    const double wanted = fineness * std::max(map.columns, map.rows);
    const double share = fineness * std::min(1.0, longest_side / wanted);
    const auto side = [share](int cells) {
        return std::max(2, static_cast<int>(std::lround(share * cells)));
    };
    return {side(map.columns), side(map.rows)};
}

ordered_json heights_json(const ReliefGrid& heights) {
    const Steps steps = fitting_steps(heights.height_m);
    return raster_json(whole_numbers(heights.height_m, steps), heights.columns, heights.rows,
                       steps);
}

/// Contours in tenths of a cell of the map, each point less the one before it.
ordered_json contours_json(const coverage::CoverageRaster& map, const ReliefGrid& heights) {
    // The interval suits the whole map at about the size of a window.
    constexpr double window_pt = 540.0;
    const double unit_m = geo::units() == geo::Units::imperial ? geo::metres_per_foot : 1.0;
    ReliefGrid shown = heights;
    for (float& height : shown.height_m) {
        height /= static_cast<float>(unit_m);
    }
    const double interval =
        contour_interval_m(shown, window_pt / std::max(heights.columns, heights.rows));
    if (interval <= 0.0) {
        return nullptr;
    }
    ordered_json lines = ordered_json::array();
    const Box cells{-0.5, -0.5, static_cast<double>(map.columns), static_cast<double>(map.rows)};
    for (const Contour& contour : contours(smoothed(shown), interval, cells)) {
        std::vector<long> steps;
        long x = 0;
        long y = 0;
        for (const Point& point : contour.points) {
            const long to_x = std::lround(10.0 * point.x);
            const long to_y = std::lround(10.0 * point.y);
            if (steps.empty() || to_x != x || to_y != y) {
                steps.push_back(to_x - x);
                steps.push_back(to_y - y);
            }
            x = to_x;
            y = to_y;
        }
        lines.push_back({{"index", contour.index}, {"steps", std::move(steps)}});
    }
    return {{"intervalM", interval * unit_m}, {"lines", std::move(lines)}};
}

ordered_json relief_json(const coverage::CoverageRaster& map, const terrain::HeightGrid& ground,
                         const PictureSize& size) {
    std::vector<float> greys = relief_under(map, ground, size.columns, size.rows);
    std::ranges::transform(greys, greys.begin(),
                           [](float shade) { return static_cast<float>(relief_grey(shade)); });
    constexpr Steps steps{0.0, 1.0 / 255.0};
    return raster_json(whole_numbers(greys, steps), size.columns, size.rows, steps);
}

// ---- What the map holds -------------------------------------------------------------------------

/// The settings a map was made with, as far as its frequency and the bending of rays go.
propagation::Conditions settings_of(const Briefing& briefing) {
    propagation::Conditions settings =
        briefing.scenario ? briefing.scenario->conditions : propagation::Conditions{};
    const coverage::CoverageRaster& map = briefing.map;
    if (const std::string method = map_metadata(map, "METHOD"); !method.empty()) {
        settings.method = propagation::parse_method(method);
    }
    settings.frequency_mhz = metadata_number(map, "FREQUENCY_MHZ").value_or(settings.frequency_mhz);
    return settings;
}

double listener_height_m(const Briefing& briefing) {
    return metadata_number(briefing.map, "RECEIVER_ANTENNA_HEIGHT_M")
        .value_or(briefing.scenario ? briefing.scenario->listener.antenna_height_m
                                    : scenario::default_listener_height_m);
}

/// A band of whole numbers; nothing if the map does not have it.
ordered_json band_json(const coverage::CoverageRaster& map, coverage::BandKind kind) {
    const coverage::Band* band = coverage::find_band(map, kind);
    if (band == nullptr) {
        return nullptr;
    }
    constexpr Steps steps{0.0, 1.0};
    return raster_json(whole_numbers(band->values, steps), map.columns, map.rows, steps);
}

ordered_json margins_json(const coverage::CoverageRaster& map, const std::vector<float>& margins) {
    return raster_json(margin_numbers(margins), map.columns, map.rows, margin_steps);
}

/// The margin with each station, in their order; null if the map does not have all of them.
ordered_json each_json(const Briefing& briefing) {
    const coverage::CoverageRaster& map = briefing.map;
    const std::string title(coverage::band_info(coverage::BandKind::margin_with_each).title);
    ordered_json list = ordered_json::array();
    for (const link::Station& station : briefing.stations) {
        const auto band = std::ranges::find(map.bands, title + station.name, &coverage::Band::name);
        if (band == map.bands.end()) {
            return nullptr;
        }
        list.push_back(margins_json(map, band->values));
    }
    return list;
}

ordered_json both_ways_json(const coverage::CoverageRaster& map) {
    const coverage::Band* band = coverage::find_band(map, coverage::BandKind::both_ways);
    return band == nullptr ? ordered_json(nullptr) : margins_json(map, band->values);
}

// ---- Legend -------------------------------------------------------------------------------------

ordered_json legend_json() {
    ordered_json classes = ordered_json::array();
    const auto shown = margin_classes();
    const auto words = link::readability_classes();
    for (auto at = words.rbegin(); at != words.rend(); ++at) {
        const auto coloured = std::ranges::find(shown, at->name, &MarginClass::name);
        classes.push_back(
            {{"level", static_cast<int>(at->readability)},
             {"name", at->name},
             {"meaning", at->meaning},
             {"least", number(at->least_margin_db, 1)},
             {"colour", coloured == shown.end() ? ordered_json(nullptr)
                                                : ordered_json(hex_colour(coloured->colour))}});
    }
    return {{"classes", classes},
            {"style",
             {{"levelGrey", map_style::level_grey},
              {"classOpacity", map_style::class_opacity},
              {"unknownVeil", map_style::unknown_veil},
              {"hatch", hex_colour(map_style::hatch)}}}};
}

// ---- Stations, places, net ----------------------------------------------------------------------

ordered_json mark_json(const coverage::CoverageRaster& map, const std::string& name,
                       geo::LatLon position) {
    const terrain::CellPosition cell = map.georeference.cell_of(position);
    return {{"name", name},
            {"latitude", number(position.lat_deg, 7)},
            {"longitude", number(position.lon_deg, 7)},
            {"column", number(cell.column, 3)},
            {"row", number(cell.row, 3)}};
}

ordered_json stations_json(const Briefing& briefing) {
    ordered_json list = ordered_json::array();
    for (std::size_t i = 0; i < briefing.stations.size(); ++i) {
        const link::Station& station = briefing.stations[i];
        ordered_json json = mark_json(briefing.map, station.name, station.position);
        json["antennaM"] = number(station.antenna_height_m, 2);
        json["groundM"] = number(briefing.ground.sample(station.position), 1);
        json["power"] = geo::format_power(station.radio.power_dbm);
        json["gainDbi"] = number(station.radio.antenna_gain_dbi, 2);
        json["feederLossDb"] = number(station.radio.feeder_loss_db, 2);
        json["bodyLossDb"] = number(station.radio.body_loss_db, 2);
        if (briefing.scenario && i < briefing.scenario->duties.size()) {
            const scenario::Duty& duty = briefing.scenario->duties[i];
            json["person"] = duty.person;
            json["role"] = duty.role;
            json["fallback"] = fallback_of(briefing, i);
        }
        list.push_back(std::move(json));
    }
    return list;
}

ordered_json places_json(const coverage::CoverageRaster& map, const MapSheet& sheet) {
    ordered_json list = ordered_json::array();
    for (const MapMark& mark : sheet.marks) {
        if (!mark.station) {
            list.push_back(mark_json(map, mark.label, mark.position));
        }
    }
    return list;
}

ordered_json hearing_json(const plan::Hearing& hearing) {
    return {{"marginDb", number_or_null(hearing.margin_db)},
            {"chancePercent", number(hearing.chance_percent, 0)},
            {"level", static_cast<int>(hearing.readability)},
            {"heard", hearing.heard}};
}

ordered_json pair_json(const plan::Pair& pair) {
    return {{"a", pair.a},
            {"b", pair.b},
            {"distanceM", number(pair.distance_m, 0)},
            {"bearing", number(pair.bearing_deg, 1)},
            {"backBearing", number(pair.back_bearing_deg, 1)},
            {"lineOfSight", pair.line_of_sight},
            {"known", pair.known()},
            {"tryFirst", pair.try_first},
            {"bHearsA", hearing_json(pair.b_hears_a)},
            {"aHearsB", hearing_json(pair.a_hears_b)}};
}

ordered_json net_json(const plan::NetStructure& net) {
    const auto way_json = [](const plan::Relayed& way) -> ordered_json {
        return {{"stations", way.stations}, {"weakestDb", number_or_null(way.weakest_margin_db)}};
    };
    return {{"cutOff", net.cut_off},
            {"splitting", net.splitting},
            {"relayed", json_list(net.relayed, way_json)},
            {"unreachablePairs", net.unreachable_pairs}};
}

ordered_json channel_json(const scenario::Channel& channel) {
    return {
        {"name", channel.name},
        {"frequencyMhz", channel.receive_mhz},
        {"talkMhz", channel.direct() ? ordered_json(nullptr) : ordered_json(channel.transmit_mhz)},
        {"toneHz", value_or_null(channel.tone_hz)},
        {"use", channel.use},
        {"power", channel.power}};
}

// ---- Paths and the ladder -----------------------------------------------------------------------

ordered_json section_json(const PathSection& section) {
    const auto all = [&](double SectionPoint::*value, int decimals) {
        return json_list(section.points,
                         [&](const SectionPoint& point) { return number(point.*value, decimals); });
    };
    const auto edge_json = [](const SectionEdge& edge) -> ordered_json {
        return {{"distanceKm", number(edge.distance_km, 3)},
                {"heightM", number(edge.height_m, 1)},
                {"aboveLineM", number(edge.above_line_m, 1)},
                {"clearanceF1", number(edge.clearance_f1, 2)}};
    };
    return {{"distanceKm", all(&SectionPoint::distance_km, 4)},
            {"seaM", all(&SectionPoint::sea_m, 2)},
            {"groundM", all(&SectionPoint::ground_m, 1)},
            {"topM", all(&SectionPoint::top_m, 1)},
            {"lineM", all(&SectionPoint::line_m, 1)},
            {"fresnelM", all(&SectionPoint::fresnel_m, 2)},
            {"edges", json_list(section.edges, edge_json)},
            {"radiusKm", number(section.effective_radius_km, 1)}};
}

ordered_json direction_json(const link::Direction& direction) {
    const auto line_json = [](const link::BudgetLine& line) -> ordered_json {
        return {{"label", line.label}, {"value", number(line.value, 1)}, {"unit", line.unit}};
    };
    return {{"marginDb", number_or_null(direction.budget.margin_db)},
            {"chancePercent", number(direction.chance_percent, 0)},
            {"level", static_cast<int>(link::readability(direction.budget.margin_db).readability)},
            {"lines", json_list(link::budget_lines(direction.budget), line_json)}};
}

ordered_json briefed_json(const BriefedPath& briefed) {
    const link::TwoWayPath& path = briefed.path;
    return {{"title", briefed.title},
            {"a", path.a.name},
            {"b", path.b.name},
            {"distanceM", number(path.line.distance_m, 0)},
            {"bearing", number(path.line.bearing_deg, 1)},
            {"backBearing", number(path.line.back_bearing_deg, 1)},
            {"verdict", path_verdict(path, briefed.wanted_margin_db)},
            {"section", section_json(path_section(path))},
            {"outward", direction_json(path.outward)},
            {"backward", direction_json(path.backward)}};
}

ordered_json rung_json(const plan::Rung& rung) {
    return {{"label", rung_words(rung)},
            {"gainDb", number(rung.gain_db, 1)},
            {"marginDb", number_or_null(rung.margin_db)},
            {"places", rung.places},
            {"rangeM", rung.range ? number(rung.range->typical_m, 0) : ordered_json(nullptr)}};
}

ordered_json ladder_json(const Briefing& briefing) {
    if (!briefing.ladder) {
        return nullptr;
    }
    ordered_json rungs = ordered_json::array();
    rungs.push_back(rung_json(briefing.ladder->start));
    for (const plan::Rung& rung : briefing.ladder->stacked) {
        rungs.push_back(rung_json(rung));
    }
    return {{"title", briefing.ladder_title},
            {"words", ladder_words(*briefing.ladder)},
            {"rungs", rungs}};
}

// ---- Inputs in words ----------------------------------------------------------------------------

ordered_json inputs_json(const Briefing& briefing, const MapSheet& sheet, double radius_km) {
    const coverage::CoverageRaster& map = briefing.map;
    ordered_json rows = ordered_json::array();
    for (const auto& [label, value] : sheet.facts) {
        rows.push_back({label, value});
    }
    rows.push_back({"earth", fmt::format("effective radius {:.0f} km, k = {:.2f}", radius_km,
                                         radius_km / propagation::earth_radius_km)});
    const auto cell = cell_size(map);
    rows.push_back(
        {"map", fmt::format("{} x {} cells of {:.0f} m by {:.0f} m, {}", map.columns, map.rows,
                            cell.across_m, cell.down_m, map.georeference.crs_label())});
    if (const std::string warnings = map_metadata(map, "WARNINGS");
        !warnings.empty() && warnings != "none") {
        rows.push_back({"warnings", warnings});
    }
    return rows;
}

// ---- All of it ----------------------------------------------------------------------------------

void check(const Briefing& briefing) {
    const coverage::CoverageRaster& map = briefing.map;
    if (static_cast<std::size_t>(map.columns) * static_cast<std::size_t>(map.rows) > most_cells) {
        throw_usage(fmt::format("a map of {} x {} cells is more than a page for a browser can "
                                "hold; use larger cells or a shorter range",
                                map.columns, map.rows));
    }
    if (briefing.stations.empty()) {
        throw_input("the map does not say which stations it is of (STATION_NAME and its position "
                    "are missing from its metadata); give a map as earshot map wrote it");
    }
}

// ---- The page -----------------------------------------------------------------------------------

std::string escaped(std::string_view text) {
    std::string out;
    for (const char c : text) {
        switch (c) {
        case '&':
            out += "&amp;";
            break;
        case '<':
            out += "&lt;";
            break;
        case '>':
            out += "&gt;";
            break;
        default:
            out += c;
        }
    }
    return out;
}

/// Text with the one `mark` in it replaced.
std::string filled(std::string_view text, std::string_view mark, std::string_view value) {
    const std::size_t at = text.find(mark);
    if (at == std::string_view::npos) {
        throw Error(Fault::internal,
                    fmt::format("the page for a browser has no place for {}; please report this "
                                "fault",
                                mark));
    }
    std::string out;
    out.reserve(text.size() + value.size());
    out += text.substr(0, at);
    out += value;
    out += text.substr(at + mark.size());
    return out;
}

} // namespace

std::string browser_data(const Briefing& briefing) {
    const coverage::CoverageRaster& map = briefing.map;
    const MapSheet sheet = map_sheet_of(briefing);
    check(briefing);
    const PictureSize size = ground_picture_size(map, briefing.ground);
    const ReliefGrid heights = heights_under(map, briefing.ground, size.columns, size.rows);
    const double radius_km = metadata_number(map, "EFFECTIVE_RADIUS_KM")
                                 .value_or(propagation::radius_km(settings_of(briefing)));
    const ordered_json data = {
        {"title", briefing.title},
        {"date", briefing.date},
        {"preparedBy", briefing.prepared_by},
        {"units", geo::units() == geo::Units::imperial ? "imperial" : "metric"},
        {"grid", grid_json(map)},
        {"margin", margins_json(map, map.bands.front().values)},
        {"chance", band_json(map, coverage::BandKind::chance)},
        {"serving", band_json(map, coverage::BandKind::serving)},
        {"each", each_json(briefing)},
        {"bothWays", both_ways_json(map)},
        {"heights", heights_json(heights)},
        {"contours", contours_json(map, heights)},
        {"relief", relief_json(map, briefing.ground, size)},
        {"legend", legend_json()},
        {"stations", stations_json(briefing)},
        {"places", places_json(map, sheet)},
        {"listenerM", number(listener_height_m(briefing), 2)},
        {"frequencyMhz", settings_of(briefing).frequency_mhz},
        {"radiusKm", radius_km},
        {"tryMark", try_mark},
        {"tryWords", try_words()},
        {"wantedMarginDb", briefing.scenario ? briefing.scenario->wanted_margin_db : 0.0},
        {"declinationDeg", number(briefing.declination_deg, 2)},
        {"pairs", json_list(briefing.pairs, pair_json)},
        {"net", net_json(briefing.net)},
        {"channels", briefing.scenario ? json_list(briefing.scenario->air.channels, channel_json)
                                       : ordered_json::array()},
        {"paths", json_list(briefing.paths, briefed_json)},
        {"ladder", ladder_json(briefing)},
        {"inputs", inputs_json(briefing, sheet, radius_km)},
        {"notes", sheet.notes},
        {"remarks", briefing.remarks},
        {"cautions", cautions()}};
    std::string text = data.dump(-1, ' ', false, ordered_json::error_handler_t::replace);
    // In a page `<` could end the script that holds the data; in JSON it only stands in strings.
    for (std::size_t at = text.find('<'); at != std::string::npos; at = text.find('<', at)) {
        text.replace(at, 1, "\\u003c");
    }
    return text;
}

bool browser_page_available() {
    return !browser_template().empty();
}

void write_browser_page(const std::filesystem::path& path, const Briefing& briefing) {
    if (!browser_page_available()) {
        throw_usage(fmt::format("cannot write {}: this build is without the page for a browser; "
                                "build again with Node.js, npm and -DEARSHOT_BROWSER_PAGE=ON",
                                path.string()));
    }
    // The title comes first in the page, so a mark that stands in the data is left alone.
    const std::string page = filled(browser_template(), "{{data}}", browser_data(briefing));
    write_text_file(path, filled(page, "{{title}}", escaped(briefing.title)));
}

} // namespace earshot::report
