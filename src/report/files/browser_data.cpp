#include "report/files/browser_data.hpp"

#include "earshot/base/error.hpp"
#include "earshot/propagation/path_loss.hpp"
#include "geo/units.hpp"
#include "link/quality.hpp"
#include "propagation/basic.hpp"
#include "report/draw/map_sheet.hpp"
#include "report/draw/map_style.hpp"
#include "report/draw/path_section.hpp"
#include "report/draw/relief.hpp"
#include "report/files/browser_raster.hpp"
#include "report/say/briefing.hpp"
#include "report/say/margin_classes.hpp"
#include "report/say/path_report.hpp"
#include "report/say/phrases.hpp"
#include "report/say/plan_words.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

namespace earshot::report {
namespace {

using nlohmann::ordered_json;

/// More cells than this make a page that browsers on small machines cannot open.
constexpr std::size_t most_cells = 40'000'000;
/// The longest side of relief and heights: finer ground is averaged.
constexpr int longest_side = 2400;

/// Numbers to so many decimals; null if not known.
ordered_json number(double value, int decimals) {
    if (!std::isfinite(value)) {
        return nullptr;
    }
    const double tens = std::pow(10.0, decimals);
    return std::round(value * tens) / tens;
}

/// A margin, which the page rounds itself: twice would not be the same. Null if not known.
ordered_json raw(double margin_db) {
    return std::isfinite(margin_db) ? ordered_json(margin_db) : ordered_json(nullptr);
}

ordered_json numbers(const std::vector<double>& values, int decimals) {
    ordered_json list = ordered_json::array();
    for (const double value : values) {
        list.push_back(number(value, decimals));
    }
    return list;
}

std::optional<double> metadata_number(const coverage::CoverageRaster& map, std::string_view key) {
    const std::string text = map_metadata(map, key);
    double value = 0.0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    return error == std::errc() && end == text.data() + text.size() ? std::optional(value)
                                                                    : std::nullopt;
}

// ---- Cells and the ground -----------------------------------------------------------------------

/// Positions at the knots of a net over the map, from its upper left corner: between four of them
/// the page interpolates. Longitudes run on across 180 degrees.
ordered_json knots_json(const coverage::CoverageRaster& map, double size_m) {
    // 8 km apart the bend of meridians between knots is about 2 m at 60 degrees of latitude:
    // distance^2 tan(latitude) / (8 earth radii).
    constexpr double apart_m = 8000.0;
    const int count = std::clamp(static_cast<int>(std::ceil(size_m / apart_m)), 16, 128);
    const double middle =
        map.georeference.position_of({(map.columns - 1) / 2.0, (map.rows - 1) / 2.0}).lon_deg;
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

struct CellSize {
    double across_m, down_m;
};

CellSize cell_size(const coverage::CoverageRaster& map) {
    const auto size = map.georeference.cell_size_at(
        map.georeference.position_of({(map.columns - 1) / 2.0, (map.rows - 1) / 2.0}));
    return {size.across_m, size.down_m};
}

ordered_json grid_json(const coverage::CoverageRaster& map) {
    const CellSize cell = cell_size(map);
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
    const CellSize cell = cell_size(map);
    const double ground_cell_m = terrain::natural_step_m(
        ground, map.georeference.position_of({(map.columns - 1) / 2.0, (map.rows - 1) / 2.0}));
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
    const double interval_m =
        contour_interval_m(heights, window_pt / std::max(heights.columns, heights.rows));
    if (interval_m <= 0.0) {
        return nullptr;
    }
    ordered_json lines = ordered_json::array();
    const Box cells{-0.5, -0.5, static_cast<double>(map.columns), static_cast<double>(map.rows)};
    for (const Contour& contour : contours(smoothed(heights), interval_m, cells)) {
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
    return {{"intervalM", interval_m}, {"lines", std::move(lines)}};
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

/// The settings a map was made with, as far as its chance of contact depends on them.
propagation::Conditions settings_of(const Briefing& briefing) {
    propagation::Conditions settings =
        briefing.scenario ? briefing.scenario->conditions : propagation::Conditions{};
    const coverage::CoverageRaster& map = briefing.map;
    if (const std::string method = map_metadata(map, "METHOD"); !method.empty()) {
        settings.method = propagation::parse_method(method);
    }
    settings.frequency_mhz = metadata_number(map, "FREQUENCY_MHZ").value_or(settings.frequency_mhz);
    settings.time_percent = metadata_number(map, "TIME_PERCENT").value_or(settings.time_percent);
    settings.location_percent =
        metadata_number(map, "PLACES_PERCENT").value_or(settings.location_percent);
    return settings;
}

double listener_height_m(const Briefing& briefing) {
    return metadata_number(briefing.map, "RECEIVER_ANTENNA_HEIGHT_M")
        .value_or(briefing.scenario ? briefing.scenario->listener.antenna_height_m
                                    : scenario::default_listener_height_m);
}

/// Deviation of the margins among places and of the prediction itself, dB. That over the year
/// needs a second prediction for every cell; over the short paths of small radios it is small
/// against these two.
double deviation_db(const Briefing& briefing, const propagation::Conditions& conditions) {
    const double place_db =
        link::place_deviation_db(conditions, listener_height_m(briefing), 0.0, false);
    return link::deviation_db(conditions, place_db, 0.0, 0.0);
}

/// The map's own chances if it has them; else a deviation that gives them from the margins, which
/// has to be that of half of the times and places; else nothing.
ordered_json chance_json(const Briefing& briefing) {
    const coverage::CoverageRaster& map = briefing.map;
    if (const coverage::Band* band = coverage::find_band(map, coverage::BandKind::chance)) {
        constexpr Steps percent{0.0, 1.0};
        return {{"raster", raster_json(whole_numbers(band->values, percent), map.columns, map.rows,
                                       percent)}};
    }
    const propagation::Conditions settings = settings_of(briefing);
    const bool median = settings.time_percent == 50.0 && settings.location_percent == 50.0;
    if (propagation::knows_shares(settings.method) && !median) {
        return nullptr;
    }
    return {{"deviationDb", number(deviation_db(briefing, settings), 3)}};
}

ordered_json serving_json(const coverage::CoverageRaster& map) {
    const coverage::Band* band = coverage::find_band(map, coverage::BandKind::serving);
    if (band == nullptr) {
        return nullptr;
    }
    constexpr Steps steps{0.0, 1.0};
    return raster_json(whole_numbers(band->values, steps), map.columns, map.rows, steps);
}

// ---- Legend -------------------------------------------------------------------------------------

std::string css_colour(const Rgb& colour) {
    const auto part = [](double value) { return static_cast<int>(std::lround(255.0 * value)); };
    return fmt::format("#{:02x}{:02x}{:02x}", part(colour.red), part(colour.green),
                       part(colour.blue));
}

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
                                                : ordered_json(css_colour(coloured->colour))}});
    }
    return {{"classes", classes},
            {"style",
             {{"levelGrey", map_style::level_grey},
              {"classOpacity", map_style::class_opacity},
              {"unknownVeil", map_style::unknown_veil},
              {"hatch", css_colour(map_style::hatch)}}}};
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
            json["fallback"] = duty.fallback;
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
    return {{"marginDb", raw(hearing.margin_db)},
            {"chancePercent", number(hearing.chance_percent, 0)},
            {"level", static_cast<int>(hearing.readability)},
            {"heard", hearing.heard}};
}

ordered_json pairs_json(const Briefing& briefing) {
    ordered_json list = ordered_json::array();
    for (const plan::Pair& pair : briefing.pairs) {
        list.push_back({{"a", pair.a},
                        {"b", pair.b},
                        {"distanceM", number(pair.distance_m, 0)},
                        {"bearing", number(pair.bearing_deg, 1)},
                        {"backBearing", number(pair.back_bearing_deg, 1)},
                        {"lineOfSight", pair.line_of_sight},
                        {"known", pair.known()},
                        {"bHearsA", hearing_json(pair.b_hears_a)},
                        {"aHearsB", hearing_json(pair.a_hears_b)}});
    }
    return list;
}

ordered_json net_json(const plan::NetStructure& net) {
    ordered_json relayed = ordered_json::array();
    for (const plan::Relayed& way : net.relayed) {
        relayed.push_back({{"stations", way.stations}, {"weakestDb", raw(way.weakest_margin_db)}});
    }
    return {{"cutOff", net.cut_off},
            {"splitting", net.splitting},
            {"relayed", relayed},
            {"unreachablePairs", net.unreachable_pairs}};
}

ordered_json channels_json(const Briefing& briefing) {
    ordered_json list = ordered_json::array();
    if (briefing.scenario) {
        for (const scenario::Channel& channel : briefing.scenario->channels) {
            list.push_back({{"name", channel.name},
                            {"frequencyMhz", channel.frequency_mhz},
                            {"toneHz", channel.tone_hz ? ordered_json(*channel.tone_hz)
                                                       : ordered_json(nullptr)},
                            {"use", channel.use},
                            {"power", channel.power}});
        }
    }
    return list;
}

// ---- Paths and the ladder -----------------------------------------------------------------------

ordered_json section_json(const PathSection& section) {
    std::vector<double> distance_km, sea_m, ground_m, top_m, line_m, fresnel_m;
    for (const SectionPoint& point : section.points) {
        distance_km.push_back(point.distance_km);
        sea_m.push_back(point.sea_m);
        ground_m.push_back(point.ground_m);
        top_m.push_back(point.top_m);
        line_m.push_back(point.line_m);
        fresnel_m.push_back(point.fresnel_m);
    }
    ordered_json edges = ordered_json::array();
    for (const SectionEdge& edge : section.edges) {
        edges.push_back({{"distanceKm", number(edge.distance_km, 3)},
                         {"heightM", number(edge.height_m, 1)},
                         {"aboveLineM", number(edge.above_line_m, 1)},
                         {"clearanceF1", number(edge.clearance_f1, 2)}});
    }
    return {{"distanceKm", numbers(distance_km, 4)},
            {"seaM", numbers(sea_m, 2)},
            {"groundM", numbers(ground_m, 1)},
            {"topM", numbers(top_m, 1)},
            {"lineM", numbers(line_m, 1)},
            {"fresnelM", numbers(fresnel_m, 2)},
            {"edges", edges},
            {"radiusKm", number(section.effective_radius_km, 1)}};
}

ordered_json direction_json(const link::Direction& direction) {
    ordered_json lines = ordered_json::array();
    for (const link::BudgetLine& line : link::budget_lines(direction.budget)) {
        lines.push_back(
            {{"label", line.label}, {"value", number(line.value, 1)}, {"unit", line.unit}});
    }
    return {{"marginDb", raw(direction.budget.margin_db)},
            {"chancePercent", number(direction.chance_percent, 0)},
            {"level", static_cast<int>(link::readability(direction.budget.margin_db).readability)},
            {"lines", lines}};
}

ordered_json paths_json(const Briefing& briefing) {
    ordered_json list = ordered_json::array();
    for (const BriefedPath& briefed : briefing.paths) {
        const link::TwoWayPath& path = briefed.path;
        list.push_back({{"title", briefed.title},
                        {"a", path.a.name},
                        {"b", path.b.name},
                        {"distanceM", number(path.line.distance_m, 0)},
                        {"bearing", number(path.line.bearing_deg, 1)},
                        {"backBearing", number(path.line.back_bearing_deg, 1)},
                        {"verdict", path_verdict(path)},
                        {"section", section_json(path_section(path))},
                        {"outward", direction_json(path.outward)},
                        {"backward", direction_json(path.backward)}});
    }
    return list;
}

ordered_json rung_json(const plan::Rung& rung) {
    return {{"label", rung_words(rung)},
            {"gainDb", rung.gain_db ? number(*rung.gain_db, 1) : ordered_json(nullptr)},
            {"marginDb", rung.margin_db ? raw(*rung.margin_db) : ordered_json(nullptr)},
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
    const CellSize cell = cell_size(map);
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

void check_size(const coverage::CoverageRaster& map) {
    if (static_cast<std::size_t>(map.columns) * static_cast<std::size_t>(map.rows) > most_cells) {
        throw_usage(fmt::format("a map of {} x {} cells is more than a page for a browser can "
                                "hold; use larger cells or a shorter range",
                                map.columns, map.rows));
    }
}

void check_stations(const Briefing& briefing) {
    if (briefing.stations.empty()) {
        throw_input("the map does not say which stations it is of (STATION_NAME and its position "
                    "are missing from its metadata); give a map as earshot map wrote it");
    }
}

} // namespace

std::string browser_data(const Briefing& briefing) {
    const coverage::CoverageRaster& map = briefing.map;
    check_size(map);
    const MapSheet sheet = map_sheet_of(briefing);
    check_stations(briefing);
    const PictureSize size = ground_picture_size(map, briefing.ground);
    const ReliefGrid heights = heights_under(map, briefing.ground, size.columns, size.rows);
    const double radius_km = metadata_number(map, "EFFECTIVE_RADIUS_KM")
                                 .value_or(propagation::radius_km(settings_of(briefing)));
    const ordered_json data = {
        {"title", briefing.title},
        {"date", briefing.date},
        {"preparedBy", briefing.prepared_by},
        {"grid", grid_json(map)},
        {"margin", raster_json(margin_numbers(map.bands.front().values), map.columns, map.rows,
                               margin_steps)},
        {"chance", chance_json(briefing)},
        {"serving", serving_json(map)},
        {"heights", heights_json(heights)},
        {"contours", contours_json(map, heights)},
        {"relief", relief_json(map, briefing.ground, size)},
        {"legend", legend_json()},
        {"stations", stations_json(briefing)},
        {"places", places_json(map, sheet)},
        {"listenerM", number(listener_height_m(briefing), 2)},
        {"frequencyMhz", settings_of(briefing).frequency_mhz},
        {"radiusKm", radius_km},
        {"wantedMarginDb", briefing.scenario ? briefing.scenario->wanted_margin_db : 0.0},
        {"declinationDeg",
         briefing.declination_deg ? number(*briefing.declination_deg, 2) : ordered_json(nullptr)},
        {"pairs", pairs_json(briefing)},
        {"net", net_json(briefing.net)},
        {"channels", channels_json(briefing)},
        {"paths", paths_json(briefing)},
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

} // namespace earshot::report
