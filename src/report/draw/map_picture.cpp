#include "report/draw/map_picture.hpp"

#include "earshot/base/error.hpp"
#include "report/draw/canvas.hpp"
#include "report/draw/map_sheet_parts.hpp"
#include "report/draw/map_style.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace earshot::report {
namespace {

constexpr int narrowest_px = 800;
constexpr int widest_px = 8000;
constexpr double page_width_pt = 800.0;
/// Letters of narrow pictures shrink less than the picture: they must stay readable.
constexpr double least_px_for_a_point = 1.4;

} // namespace

void write_map_picture(const std::filesystem::path& path, const coverage::CoverageRaster& map,
                       const terrain::HeightGrid& ground, const MapSheet& sheet,
                       const PageWords& words, int width_px) {
    if (width_px < narrowest_px || width_px > widest_px) {
        throw_usage(fmt::format("a map picture cannot be {} pixels wide; choose {} to {}", width_px,
                                narrowest_px, widest_px));
    }
    const double scale = std::max(width_px / page_width_pt, least_px_for_a_point);
    constexpr double margin = 15.0;
    Box area{margin, margin, width_px / scale - 2.0 * margin, 0.0};
    area.height = free_sheet_height(area.width, words, map, sheet);
    const int height_px = static_cast<int>(std::ceil((area.height + 2.0 * margin) * scale));
    write_png(path, width_px, height_px, scale, [&](cairo_t* canvas) {
        draw_map_sheet(canvas, area, words, map, ground, sheet, PanelSide::right);
    });
}

void write_map_picture(const std::filesystem::path& path, const coverage::CoverageRaster& map,
                       const terrain::HeightGrid& ground, const MapPicture& picture) {
    MapSheet sheet;
    sheet.title = picture.title;
    sheet.subtitle = picture.subtitle;
    sheet.marks = picture.marks;
    sheet.facts = map_facts(map);
    write_map_picture(path, map, ground, sheet, {}, picture.width_px);
}

} // namespace earshot::report
