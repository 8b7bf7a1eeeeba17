#include "report/say/coverage_report.hpp"

#include "coverage/areas.hpp"
#include "earshot/geo/position.hpp"
#include "geo/units.hpp"
#include "propagation/second_opinion.hpp"
#include "report/say/json.hpp"
#include "report/say/numbers.hpp"
#include "report/say/phrases.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

namespace earshot::report {
namespace {

/// Says where the elevation ends before the range does; empty if nowhere.
std::string short_ground_note(const coverage::Job& job, const coverage::Result& result) {
    std::vector<std::string> stations;
    for (std::size_t k = 0; k < job.stations.size(); ++k) {
        if (result.short_ground[k].share_percent > 0.0) {
            stations.push_back(fmt::format("{} ({:.0f} % of directions)", job.stations[k].name,
                                           result.short_ground[k].share_percent));
        }
    }
    if (stations.empty()) {
        return {};
    }
    if (job.stations.size() == 1) {
        const coverage::ShortGround& found = result.short_ground.front();
        return fmt::format(
            "the elevation ends before the range of {} in {:.0f} % of directions "
            "(nearest about {} away, bearing {:.0f} deg); the map is blank beyond it",
            geo::format_distance(job.range_m), found.share_percent,
            geo::format_distance(found.nearest_m), found.nearest_bearing_deg);
    }
    return fmt::format("the elevation ends before the range of {} around {}; the map is blank "
                       "beyond it",
                       geo::format_distance(job.range_m), fmt::join(stations, ", "));
}

/// Where one hears and is heard, of a map that shows this first: result.heard_km2 is of one way.
std::optional<double> both_ways_area_km2(const coverage::Job& job, const coverage::Result& result) {
    const coverage::CoverageRaster& map = result.raster;
    if (job.bands.front() != coverage::BandKind::both_ways) {
        return std::nullopt;
    }
    return coverage::measure_areas(map.bands.front().values, job.wanted_margin_db,
                                   {map.columns, map.rows, map.georeference})
        .reached_km2;
}

std::string files_words(const terrain::TerrainInfo& info) {
    return info.files.front() +
           (info.files.size() > 1 ? fmt::format(" and {} more", info.files.size() - 1) : "");
}

} // namespace

std::string map_title(const std::vector<link::Station>& stations, bool both_ways) {
    if (both_ways) {
        return stations.size() == 1
                   ? fmt::format("Where {} and a listener hear each other", stations.front().name)
                   : fmt::format("Where a listener and one or more of {} stations hear each other",
                                 stations.size());
    }
    return stations.size() == 1
               ? fmt::format("Where {} is heard", stations.front().name)
               : fmt::format("Where one or more of {} stations are heard", stations.size());
}

std::string coverage_words(const coverage::Job& job, const coverage::Result& result) {
    const std::optional<double> both_ways_km2 = both_ways_area_km2(job, result);
    const double reached_km2 =
        both_ways_km2.value_or(result.heard_km2.value_or(result.in_sight_km2.value_or(0.0)));
    const bool one = job.stations.size() == 1;
    return fmt::format(
        "{} {} in {} of {} within {} ({:.0f} %).",
        one ? job.first().name : fmt::format("One or more of {} stations", job.stations.size()),
        !result.heard_km2 ? (one ? "is in sight" : "are in sight")
        : both_ways_km2   ? (one ? "hears and is heard" : "hear and are heard")
                          : (one ? "is heard" : "are heard"),
        area_text(reached_km2), area_text(result.predicted_km2), geo::format_distance(job.range_m),
        100.0 * reached_km2 / result.predicted_km2);
}

std::vector<std::string> coverage_notes(const coverage::Job& job, const coverage::Result& result,
                                        const terrain::HeightSummary& heights) {
    const propagation::AntennaHeights heights_m{job.first().antenna_height_m,
                                                job.receiver_height_m};
    std::vector<std::string> notes = propagation::validity_warnings(job.conditions, heights_m);
    if (std::ranges::find(job.bands, coverage::BandKind::doubt) != job.bands.end()) {
        propagation::Conditions other = job.conditions;
        other.method = propagation::second_method(other.method).value();
        for (const std::string& warning : propagation::validity_warnings(other, heights_m)) {
            notes.push_back("the second model of the band doubt: " + warning);
        }
    }
    if (job.conditions.method == propagation::Method::irregular_terrain &&
        job.layers.cover != nullptr) {
        notes.emplace_back("ground cover counts around antennas alone: the irregular terrain model "
                           "takes bare ground");
    }
    if (std::string note = short_ground_note(job, result); !note.empty()) {
        notes.push_back(std::move(note));
    }
    if (heights.filled_cells > 0) {
        notes.push_back(fmt::format("{} void cells of the elevation were filled by interpolation",
                                    heights.filled_cells));
    }
    if (const auto blank = result.cells_off_terrain + result.cells_behind_void;
        blank > 0 && heights.void_cells > 0) {
        notes.push_back(fmt::format("{} cells lie in or behind voids of the elevation and are left "
                                    "blank",
                                    blank));
    }
    return notes;
}

std::string coverage_json(const coverage::Job& job, const coverage::Result& result,
                          const std::string& output, const std::vector<std::string>& notes) {
    const coverage::CoverageRaster& map = result.raster;
    ordered_json json = {{"output", output},
                         {"columns", map.columns},
                         {"rows", map.rows},
                         {"crs", map.georeference.crs_label()},
                         {"stations", job.stations.size()},
                         {"cells_predicted", result.cells_predicted},
                         {"cells_off_terrain", result.cells_off_terrain},
                         {"cells_behind_void", result.cells_behind_void},
                         {"predicted_km2", result.predicted_km2}};
    if (result.heard_km2) {
        json["heard_km2"] = *result.heard_km2;
    }
    if (const auto both_ways_km2 = both_ways_area_km2(job, result)) {
        json["both_ways_km2"] = *both_ways_km2;
    }
    if (result.in_sight_km2) {
        json["in_sight_km2"] = *result.in_sight_km2;
    }
    json.update({{"engine", coverage::name_of(result.engine)},
                 {"sweep_seconds", result.seconds},
                 {"notes", notes},
                 {"cautions", cautions()}});
    return text_of(json);
}

std::string terrain_words(const terrain::TerrainInfo& info) {
    return fmt::format("{}; {} x {} cells, {}", files_words(info), info.columns, info.rows,
                       info.crs_label);
}

std::vector<std::string> height_unit_notes(const terrain::TerrainInfo& info) {
    if (info.height_unit_source.find("assumed") == std::string::npos) {
        return {};
    }
    return {
        "the elevation does not say the unit of its heights, and metres were taken; if they are "
        "feet, say so with --height-unit, or height_unit in a scenario"};
}

std::string terrain_json(const terrain::TerrainInfo& info, const terrain::HeightSummary& heights) {
    const auto corner = [](geo::LatLon position) {
        return ordered_json{{"latitude", position.lat_deg}, {"longitude", position.lon_deg}};
    };
    return text_of({{"files", info.files},
                    {"columns", info.columns},
                    {"rows", info.rows},
                    {"crs", info.crs_label},
                    {"cell_across_m", info.cell_across_m},
                    {"cell_down_m", info.cell_down_m},
                    {"north_west", corner(info.north_west)},
                    {"south_east", corner(info.south_east)},
                    {"sample_type", info.sample_type},
                    {"height_unit", info.height_unit},
                    {"height_unit_source", info.height_unit_source},
                    {"vertical_datum", info.vertical_datum},
                    {"ground_kind", terrain::name_of(info.ground_kind)},
                    {"pixel_meaning", info.pixel_meaning},
                    {"lowest_m", heights.lowest_m},
                    {"highest_m", heights.highest_m},
                    {"mean_m", heights.mean_m},
                    {"lowest", corner(heights.lowest)},
                    {"highest", corner(heights.highest)},
                    {"void_cells", heights.void_cells},
                    {"voids", heights.voids},
                    {"filled_cells", heights.filled_cells},
                    {"largest_void_cells", heights.largest_void_cells}});
}

std::string terrain_text(const terrain::TerrainInfo& info, const terrain::HeightSummary& heights) {
    std::string text = files_words(info) + "\n";
    const auto line = [&](std::string_view label, const std::string& value) {
        text += fmt::format("  {:<18}{}\n", label, value);
    };
    line("cells", fmt::format("{} x {} ({})", info.columns, info.rows, info.sample_type));
    line("cell size",
         fmt::format("{:.1f} m east-west, {:.1f} m north-south, a cell is {}", info.cell_across_m,
                     info.cell_down_m, info.pixel_meaning == "point" ? "a point" : "an area"));
    line("reference system", info.crs_label);
    line("north-west corner", geo::format_decimal(info.north_west));
    line("south-east corner", geo::format_decimal(info.south_east));
    line("height unit", fmt::format("{} ({})", info.height_unit, info.height_unit_source));
    line("vertical datum", info.vertical_datum);
    line("heights of", std::string(terrain::name_of(info.ground_kind)));
    line("lowest",
         fmt::format("{:.1f} m at {}", heights.lowest_m, geo::format_decimal(heights.lowest)));
    line("highest",
         fmt::format("{:.1f} m at {}", heights.highest_m, geo::format_decimal(heights.highest)));
    line("mean", fmt::format("{:.1f} m", heights.mean_m));
    if (heights.void_cells == 0) {
        line("voids", "none");
    } else {
        line("voids", fmt::format("{} cells in {} areas, the largest of {}; {} cells in small "
                                  "areas are filled by interpolation, the rest stays unknown",
                                  heights.void_cells, heights.voids, heights.largest_void_cells,
                                  heights.filled_cells));
    }
    return text;
}

} // namespace earshot::report
