#include "report/say/coverage_words.hpp"

#include "geo/units.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

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

} // namespace

std::string coverage_words(const coverage::Job& job, const coverage::Result& result) {
    const double reached_km2 = result.heard_km2.value_or(result.in_sight_km2.value_or(0.0));
    return fmt::format(
        "{} is {} in {:.1f} km2 of {:.1f} km2 within {} ({:.0f} %).",
        job.stations.size() == 1 ? job.first().name
                                 : fmt::format("One or more of {} stations", job.stations.size()),
        result.heard_km2 ? "heard" : "in sight", reached_km2, result.predicted_km2,
        geo::format_distance(job.range_m), 100.0 * reached_km2 / result.predicted_km2);
}

std::vector<std::string> coverage_notes(const coverage::Job& job, const coverage::Result& result,
                                        const terrain::HeightSummary& heights) {
    std::vector<std::string> notes = propagation::validity_warnings(
        job.conditions, {job.first().antenna_height_m, job.receiver_height_m});
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

std::string terrain_words(const terrain::TerrainInfo& info) {
    return fmt::format("{}{}; {} x {} cells, {}", info.files.front(),
                       info.files.size() > 1 ? fmt::format(" and {} more", info.files.size() - 1)
                                             : "",
                       info.columns, info.rows, info.crs_label);
}

} // namespace earshot::report
