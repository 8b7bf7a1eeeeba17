#include "report/draw/map_sheet.hpp"

#include "earshot/base/error.hpp"
#include "geo/units.hpp"
#include "report/draw/canvas.hpp"
#include "report/draw/map_pieces.hpp"
#include "report/draw/map_style.hpp"
#include "report/draw/page_style.hpp"
#include "report/draw/relief.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace earshot::report {
namespace {

using namespace page_style;

constexpr double gutter = 11.0; ///< between the map and its outer frame, for coordinates
constexpr double panel_width = 192.0;
constexpr double panel_gap = 16.0;
constexpr double least_panel_size = 0.82; ///< of the letters, before the map shrinks instead

// ---- The map in its frame -----------------------------------------------------------------------

/// Pixels for each point: those of a picture itself, or as many as print needs.
double fineness_of(cairo_t* canvas) {
    constexpr double printed_per_inch = 200.0;
    if (cairo_surface_get_type(cairo_get_target(canvas)) != CAIRO_SURFACE_TYPE_IMAGE) {
        return printed_per_inch / 72.0;
    }
    double across = 1.0;
    double down = 0.0;
    cairo_user_to_device_distance(canvas, &across, &down);
    return across;
}

/// Moved so that a picture's pixels fall on whole ones of the canvas.
Box on_whole_pixels(cairo_t* canvas, const Box& box) {
    double left = box.x;
    double top = box.y;
    double right = box.right();
    double bottom = box.bottom();
    cairo_user_to_device(canvas, &left, &top);
    cairo_user_to_device(canvas, &right, &bottom);
    for (double* at : {&left, &top, &right, &bottom}) {
        *at = std::round(*at);
    }
    cairo_device_to_user(canvas, &left, &top);
    cairo_device_to_user(canvas, &right, &bottom);
    return {left, top, right - left, bottom - top};
}

void trace(cairo_t* canvas, const std::vector<std::vector<Point>>& lines) {
    cairo_new_path(canvas);
    for (const std::vector<Point>& line : lines) {
        for (std::size_t k = 0; k < line.size(); ++k) {
            k == 0 ? cairo_move_to(canvas, line[k].x, line[k].y)
                   : cairo_line_to(canvas, line[k].x, line[k].y);
        }
    }
}

void draw_grid_lines(cairo_t* canvas, const Graticule& grid) {
    const KeptState state(canvas);
    // A light rim tells the lines from contours, and shows them on the darkest class.
    trace(canvas, grid.lines);
    set_colour(canvas, map_style::paper, map_style::grid_opacity);
    cairo_set_line_width(canvas, 1.1);
    cairo_stroke_preserve(canvas);
    set_colour(canvas, map_style::grid, map_style::grid_opacity);
    cairo_set_line_width(canvas, 0.4);
    cairo_stroke(canvas);
    trace(canvas, grid.strong_lines);
    cairo_set_line_width(canvas, 0.9);
    cairo_stroke(canvas);
}

const TextStyle zone_style{9.0, true, map_style::quiet_ink};

/// Finds room for the words of the grid on the map, off what is there; those without are left out.
std::vector<GridWords> placed_words(cairo_t* canvas, const Box& frame, const Graticule& grid,
                                    std::vector<Box>& taken) {
    std::vector<GridWords> placed;
    for (const GridWords& entry : grid.zones) {
        const Text text(canvas, entry.words, zone_style);
        // A little above or below if the middle is taken.
        for (const double away : {0.0, 1.5, -1.5, 3.0, -3.0, 5.0, -5.0}) {
            const Box box{entry.middle.x - text.width_px() / 2.0,
                          entry.middle.y + (away - 0.5) * text.height_px(), text.width_px(),
                          text.height_px()};
            if (frame.holds({box.x, box.y}) && frame.holds({box.right(), box.bottom()}) &&
                std::ranges::none_of(
                    taken, [&](const Box& other) { return overlap_area(other, box) > 0.0; })) {
                placed.push_back({{box.x, box.y}, entry.words});
                taken.push_back(box);
                break;
            }
        }
    }
    return placed;
}

/// A coordinate at the frame: small digits, then large ones, then small ones.
void draw_grid_label(const Pen& pen, const GridLabel& label) {
    const TextStyle small_digits{5.2, false, ink};
    const TextStyle large_digits{7.2, true, ink};
    const KeptState state(pen.canvas());
    const bool upright = label.side == Side::top || label.side == Side::bottom;
    const double out = label.side == Side::left || label.side == Side::top ? -1.0 : 1.0;
    cairo_translate(pen.canvas(), label.at.x + (upright ? 0.0 : out * gutter / 2.0),
                    label.at.y + (upright ? out * gutter / 2.0 : 0.0));
    if (!upright) {
        cairo_rotate(pen.canvas(), -std::numbers::pi / 2.0);
    }
    // The principal digits are centred on the line.
    const double width = pen.text_width(label.principal, large_digits);
    const double top = -pen.line_height(large_digits) / 2.0;
    pen.text(-width / 2.0, top, label.principal, large_digits);
    pen.text(-width / 2.0 - 0.4, top + 0.3, label.before, small_digits, Anchor::right);
    pen.text(width / 2.0 + 0.6, top + 0.3, label.after, small_digits);
}

void draw_frame(const Pen& pen, const Box& frame, const Graticule& grid) {
    pen.frame(frame, {0.5, ink});
    pen.frame(frame.grown(gutter), {1.3, ink});
    for (const GridLabel& label : grid.labels) {
        const bool upright = label.side == Side::top || label.side == Side::bottom;
        const double out = label.side == Side::left || label.side == Side::top ? -2.0 : 2.0;
        pen.line(label.at.x, label.at.y, label.at.x + (upright ? 0.0 : out),
                 label.at.y + (upright ? out : 0.0), {0.5, ink});
        draw_grid_label(pen, label);
    }
}

/// The direction in which a place near the middle of the map lies on the page, clockwise from up.
double direction_deg(const MapPlacing& placing, geo::LatLon to) {
    const Point from = placing.frame().middle();
    const Point there = placing.on_page(to);
    return std::atan2(there.x - from.x, from.y - there.y) * 180.0 / std::numbers::pi;
}

void find_norths(const MapPlacing& placing, PanelContent& content) {
    constexpr double step_m = 200.0;
    const geo::LatLon middle = placing.on_ground(placing.frame().middle());
    content.true_north_deg = direction_deg(placing, geo::geodesic_destination(middle, 0.0, step_m));
    content.grid_north_deg.reset();
    if (const auto north = grid_north_of(middle, step_m)) {
        content.grid_north_deg = direction_deg(placing, *north);
    }
}

void draw_map(const Pen& pen, const Box& frame, const coverage::CoverageRaster& map,
              const terrain::HeightGrid& ground, const MapSheet& sheet, PanelContent& content) {
    constexpr double least_grid_gap = 46.0;
    cairo_t* canvas = pen.canvas();
    const MapPlacing placing(map, frame);
    const Graticule grid = graticule(placing, least_grid_gap);
    const MarkPlan marks = plan_marks(canvas, placing, sheet.marks);
    content.grid_words = grid.words;
    content.numbered = marks.numbered;
    content.nameless = marks.nameless;
    find_norths(placing, content);

    draw_colours(canvas, frame, map, ground);
    {
        const KeptState state(canvas, frame);
        std::vector<Box> taken;
        for (const PlacedMark& mark : marks.marks) {
            taken.push_back(mark.symbol);
            if (mark.label) {
                taken.push_back(mark.label->box);
            }
        }
        const std::vector<GridWords> grid_words = placed_words(canvas, frame, grid, taken);
        const ContourSet set = contours_under(frame, map, ground);
        content.contour_interval = set.interval;
        draw_contours(canvas, set.lines, label_contours(canvas, set.lines, frame, taken));
        draw_grid_lines(canvas, grid);
        for (const auto& [corner, words] : grid_words) {
            Text(canvas, words, zone_style).draw_with_halo(corner.x, corner.y, 1.2);
        }
        draw_marks(canvas, marks);
    }
    draw_frame(pen, frame, grid);
}

// ---- The page -----------------------------------------------------------------------------------

/// Height of the map over its width, measured on the ground.
double aspect_of(const coverage::CoverageRaster& map) {
    const auto cell = middle_cell_size(map);
    const double aspect = cell.down_m * map.rows / (cell.across_m * map.columns);
    return std::isfinite(aspect) ? std::clamp(aspect, 0.02, 50.0) : 1.0;
}

/// The largest box of a shape within another, at its upper left or in the middle of its width.
Box fitted_into(const Box& room, double aspect) {
    const double width = std::min(room.width, room.height / aspect);
    return {room.x + (room.width - width) / 2.0, room.y, width, width * aspect};
}

/// A part of the panel and where it goes.
struct PanelPart {
    Box box;
    PanelLayout layout;
};

struct Parts {
    Box frame; ///< of the map, inner
    std::vector<PanelPart> panel;
};

/// Room for the map and what stands under it, with the panel at the right.
double beside_panel(const Box& room) {
    return room.width - panel_width - panel_gap;
}

/// The height of what does not stand beside the map but under it, and the gap above.
double under_height(const Box& room, const PanelContent& content, std::size_t beside) {
    const PanelLayout row = panel_row(content, beside);
    return row.empty() ? 0.0 : panel_height(beside_panel(room), content, row, 1.0) + panel_gap;
}

/// How many blocks of the panel stand beside the map on paper: as many as fit.
std::size_t blocks_beside(const Box& room, const PanelContent& content) {
    std::size_t blocks = panel_blocks(content);
    while (blocks > 1 && panel_height(panel_width, content, panel_column(content, blocks),
                                      least_panel_size) > room.height) {
        --blocks;
    }
    return blocks;
}

/// The panel at the right of the map, `beside` blocks of it; the others under the map.
Parts side_by_side(const Box& room, const PanelContent& content, std::size_t beside) {
    const double under = under_height(room, content, beside);
    const Box map_room{room.x + gutter, room.y + gutter, beside_panel(room) - 2.0 * gutter,
                       room.height - under - 2.0 * gutter};
    Parts parts;
    parts.frame = fitted_into(map_room, content.map_aspect);
    // What the map does not need in width goes to its left margin no more than to the panel.
    parts.frame.x = map_room.x + (map_room.width - parts.frame.width) / 3.0;
    parts.panel.push_back({{room.right() - panel_width, room.y, panel_width, room.height},
                           panel_column(content, beside)});
    const double top = parts.frame.bottom() + gutter + panel_gap;
    parts.panel.push_back(
        {{room.x, top, beside_panel(room), room.bottom() - top}, panel_row(content, beside)});
    return parts;
}

/// The panel below the map.
Parts one_below_other(const Box& room, const PanelContent& content) {
    const PanelLayout layout = panel_columns(content);
    const double wanted = (room.width - 2.0 * gutter) * content.map_aspect + 2.0 * gutter;
    const double full = panel_height(room.width, content, layout, 1.0);
    const double least = panel_height(room.width, content, layout, least_panel_size);
    const double panel = std::clamp(room.height - wanted - panel_gap, least, full);
    const Box map_room{room.x + gutter, room.y + gutter, room.width - 2.0 * gutter,
                       room.height - panel - panel_gap - 2.0 * gutter};
    Parts parts;
    parts.frame = fitted_into(map_room, content.map_aspect);
    const double top = parts.frame.bottom() + gutter + panel_gap;
    parts.panel.push_back({{room.x, top, room.width, room.bottom() - top}, layout});
    return parts;
}

enum class PanelSide { right, below };

/// The side of the panel that leaves the map the more room, and about how much that is.
struct Fit {
    PanelSide panel;
    double map_size;
};

Fit fit_of(const Box& area, double aspect) {
    constexpr double head_and_foot = 62.0;
    constexpr double panel_below = 175.0;
    const auto size = [&](double less_width, double less_height) {
        const Box fitted = fitted_into({0.0, 0.0, area.width - less_width - 2.0 * gutter,
                                        area.height - head_and_foot - less_height - 2.0 * gutter},
                                       aspect);
        return fitted.width * fitted.height;
    };
    const double right = size(panel_width + panel_gap, 0.0);
    const double below = size(0.0, panel_below + panel_gap);
    return right > below ? Fit{PanelSide::right, right} : Fit{PanelSide::below, below};
}

std::string foot_words(const PanelContent& content) {
    return fmt::format("Relief lit from the north-west.{}", content.contour_interval == 0.0 ? ""
                                                            : geo::units() == geo::Units::imperial
                                                                ? " Heights in feet."
                                                                : " Heights in metres.");
}

void check_map(const coverage::CoverageRaster& map) {
    if (map.columns < 1 || map.rows < 1 || map.bands.empty() ||
        map.bands.front().values.size() !=
            static_cast<std::size_t>(map.columns) * static_cast<std::size_t>(map.rows)) {
        throw_input("the map is empty: it has no cells, or no margin for each of them; make it "
                    "again with earshot map");
    }
}

/// What is known of the panel before the map is drawn. The lines that come later are stood in for,
/// so that heights are right.
PanelContent draft_content(cairo_t* canvas, const coverage::CoverageRaster& map,
                           const MapSheet& sheet) {
    PanelContent content = panel_content(map, sheet);
    content.map_aspect = aspect_of(map);
    content.on_paper = cairo_surface_get_type(cairo_get_target(canvas)) != CAIRO_SURFACE_TYPE_IMAGE;
    content.contour_interval = 1.0;
    content.grid_words = "UTM grid every 10 km, zones 31 north and 32 north, WGS 84";
    content.grid_north_deg = 1.0;
    return content;
}

double draw_head(const Pen& pen, const Box& area, const PageWords& words, const MapSheet& sheet) {
    double y = draw_page_head(pen, area, sheet.title, words.right);
    if (!sheet.subtitle.empty()) {
        y +=
            pen.paragraph(area.x, y - 3.0, sheet.subtitle, {8.5, false, quiet_ink}, area.width, 3) +
            3.0;
    }
    return y;
}

/// A sheet at a width with the panel at the right, when the paper sets no height.
struct FreeSheet {
    double height = 0.0;
    std::size_t beside = 0; ///< blocks of the panel that stand beside the map
};

/// So high, and with so many blocks beside the map, that the least paper is left blank.
FreeSheet free_sheet(double width, const PageWords& words, const coverage::CoverageRaster& map,
                     const MapSheet& sheet) {
    check_map(map);
    constexpr double tallest = 1.5; // in widths of the map: more would not fit a screen
    const Surface picture = image_surface(CAIRO_FORMAT_A8, 1, 1);
    const Canvas canvas(cairo_create(picture.get()));
    const Pen pen(canvas.get());
    const PanelContent content = draft_content(canvas.get(), map, sheet);
    const double head = draw_head(pen, {0.0, 0.0, width, 0.0}, words, sheet);
    const Box foot_area{0.0, 0.0, width, 1000.0};
    const double foot =
        foot_area.height - draw_page_foot(pen, foot_area, foot_words(content), words.page);
    const Box room{0.0, 0.0, width, 0.0};
    const double beside_width = beside_panel(room);
    const double map_height =
        (beside_width - 2.0 * gutter) * std::min(content.map_aspect, tallest) + 2.0 * gutter;
    FreeSheet best;
    double least_blank = std::numeric_limits<double>::infinity();
    for (std::size_t beside = panel_blocks(content); beside > 0; --beside) {
        const double right = panel_height(panel_width, content, panel_column(content, beside), 1.0);
        const double left = map_height + under_height(room, content, beside);
        const double height = std::max(left, right);
        const double blank = (height - left) * beside_width + (height - right) * panel_width;
        if (blank < least_blank) {
            least_blank = blank;
            best = {head + height + foot + 2.0, beside};
        }
    }
    return best;
}

void draw_sheet(cairo_t* canvas, const Box& area, const PageWords& words,
                const coverage::CoverageRaster& map, const terrain::HeightGrid& ground,
                const MapSheet& sheet, PanelSide panel, std::size_t beside = 0) {
    const Pen pen(canvas);
    PanelContent content = draft_content(canvas, map, sheet);
    const double top = draw_head(pen, area, words, sheet);
    const double bottom = draw_page_foot(pen, area, foot_words(content), words.page);
    const Box room{area.x, top, area.width, bottom - top};
    Parts parts =
        panel == PanelSide::below
            ? one_below_other(room, content)
            : side_by_side(room, content, beside > 0 ? beside : blocks_beside(room, content));
    parts.frame = on_whole_pixels(canvas, parts.frame);
    content.metres_per_point = middle_cell_size(map).across_m * map.columns / parts.frame.width;
    draw_map(pen, parts.frame, map, ground, sheet, content);
    for (const PanelPart& part : parts.panel) {
        draw_panel(pen, part.box, content, part.layout);
    }
}

} // namespace

void draw_colours(cairo_t* canvas, const Box& frame, const coverage::CoverageRaster& map,
                  const terrain::HeightGrid& ground) {
    const double fineness = fineness_of(canvas);
    const auto pixels = [&](double points) {
        return std::max(2, static_cast<int>(std::lround(points * fineness)));
    };
    const int width = pixels(frame.width);
    const int height = pixels(frame.height);
    const Surface image = paint_map(map, ground, width, height, map_style::hatch_pt * fineness);
    const KeptState state(canvas, frame);
    cairo_translate(canvas, frame.x, frame.y);
    cairo_scale(canvas, frame.width / width, frame.height / height);
    cairo_set_source_surface(canvas, image.get(), 0.0, 0.0);
    cairo_pattern_set_extend(cairo_get_source(canvas), CAIRO_EXTEND_PAD);
    cairo_paint(canvas);
}

ContourSet contours_under(const Box& frame, const coverage::CoverageRaster& map,
                          const terrain::HeightGrid& ground) {
    constexpr double cells_for_each_point = 1.2;
    ReliefGrid heights =
        smoothed(heights_under(map, ground, static_cast<int>(frame.width * cells_for_each_point),
                               static_cast<int>(frame.height * cells_for_each_point)));
    if (geo::units() == geo::Units::imperial) {
        for (float& height : heights.height_m) {
            height /= static_cast<float>(geo::metres_per_foot);
        }
    }
    ContourSet set;
    set.interval = contour_interval_m(heights, frame.width / heights.columns);
    if (set.interval > 0.0) {
        set.lines = contours(heights, set.interval, frame);
    }
    return set;
}

void draw_map_sheet(cairo_t* canvas, const Box& area, const PageWords& words,
                    const coverage::CoverageRaster& map, const terrain::HeightGrid& ground,
                    const MapSheet& sheet) {
    check_map(map);
    draw_sheet(canvas, area, words, map, ground, sheet, fit_of(area, aspect_of(map)).panel);
}

Orientation fitting_orientation(const coverage::CoverageRaster& map, Paper paper) {
    check_map(map);
    const double aspect = aspect_of(map);
    return fit_of(printed_area(paper, Orientation::wide), aspect).map_size >
                   fit_of(printed_area(paper, Orientation::upright), aspect).map_size
               ? Orientation::wide
               : Orientation::upright;
}

void write_map_picture(const std::filesystem::path& path, const coverage::CoverageRaster& map,
                       const terrain::HeightGrid& ground, const MapSheet& sheet,
                       const PageWords& words, int width_px) {
    constexpr int narrowest_px = 800;
    constexpr int widest_px = 8000;
    constexpr double page_width_pt = 800.0;
    // Letters of narrow pictures shrink less than the picture: they must stay readable.
    constexpr double least_px_for_a_point = 1.4;
    if (width_px < narrowest_px || width_px > widest_px) {
        throw_usage(fmt::format("a map picture cannot be {} pixels wide; choose {} to {}", width_px,
                                narrowest_px, widest_px));
    }
    const double scale = std::max(width_px / page_width_pt, least_px_for_a_point);
    constexpr double margin = 15.0;
    Box area{margin, margin, width_px / scale - 2.0 * margin, 0.0};
    const FreeSheet free = free_sheet(area.width, words, map, sheet);
    area.height = free.height;
    const int height_px = static_cast<int>(std::ceil((area.height + 2.0 * margin) * scale));
    write_png(path, width_px, height_px, scale, [&](cairo_t* canvas) {
        draw_sheet(canvas, area, words, map, ground, sheet, PanelSide::right, free.beside);
    });
}

} // namespace earshot::report
