#include "report/say/terrain_report.hpp"

#include "earshot/geo/position.hpp"
#include "earshot/terrain/terrain_source.hpp"
#include "report/say/json.hpp"

#include <fmt/format.h>

namespace earshot::report {

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
    std::string text =
        info.files.front() +
        (info.files.size() > 1 ? fmt::format(" and {} more", info.files.size() - 1) : "") + "\n";
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
