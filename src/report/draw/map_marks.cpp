#include "report/draw/canvas.hpp"
#include "report/draw/map_pieces.hpp"
#include "report/draw/map_style.hpp"

#include <algorithm>
#include <array>
#include <numbers>

namespace earshot::report {
namespace {

constexpr double station_radius = 3.7; // points, as all sizes here
constexpr double place_radius = 2.6;
constexpr double rim = 0.9;
constexpr double halo = 1.15;
constexpr double gap = 2.4;
constexpr double plate_opacity = 0.9;

/// Draws the current path light then dark, so that it shows on any ground.
void stroke_with_rim(cairo_t* canvas, double line_width, double rim_width = rim) {
    cairo_set_line_width(canvas, line_width + 2.0 * rim_width);
    set_colour(canvas, map_style::paper);
    cairo_stroke_preserve(canvas);
    cairo_set_line_width(canvas, line_width);
    set_colour(canvas, map_style::ink);
    cairo_stroke(canvas);
}

void draw_station_symbol(cairo_t* canvas, Point at, double size) {
    constexpr double pi = std::numbers::pi;
    constexpr double reach = pi / 5.0;
    const double radius = station_radius * size;
    const double line = 1.15 * size;
    cairo_new_path(canvas);
    cairo_arc(canvas, at.x, at.y, 1.75 * radius, -reach, reach);
    cairo_new_sub_path(canvas);
    cairo_arc(canvas, at.x, at.y, 1.75 * radius, pi - reach, pi + reach);
    stroke_with_rim(canvas, line);
    cairo_arc(canvas, at.x, at.y, radius, 0.0, 2.0 * pi);
    stroke_with_rim(canvas, line);
    const Pen pen(canvas);
    pen.fill_disc(at.x, at.y, 0.8 * radius, map_style::paper);
    pen.fill_disc(at.x, at.y, 0.42 * radius, map_style::ink);
}

void draw_place_symbol(cairo_t* canvas, Point at, double size) {
    const double half = place_radius * size;
    cairo_new_path(canvas);
    cairo_move_to(canvas, at.x, at.y - half);
    cairo_line_to(canvas, at.x + half, at.y);
    cairo_line_to(canvas, at.x, at.y + half);
    cairo_line_to(canvas, at.x - half, at.y);
    cairo_close_path(canvas);
    cairo_set_line_join(canvas, CAIRO_LINE_JOIN_MITER);
    cairo_set_line_width(canvas, 2.0 * rim);
    set_colour(canvas, map_style::paper);
    cairo_stroke_preserve(canvas);
    set_colour(canvas, map_style::ink);
    cairo_fill(canvas);
}

Box symbol_box(bool station, Point at, double size) {
    const double half_width = (station ? 1.95 * station_radius + 0.5 : place_radius) * size + rim;
    const double half_height = (station ? station_radius + 0.5 : place_radius) * size + rim;
    return {at.x - half_width, at.y - half_height, 2.0 * half_width, 2.0 * half_height};
}

/// Sizes of letters and symbols to try, the first if there is room.
struct Sizes {
    double station_text;
    double place_text;
    double symbol;
};
constexpr std::array<Sizes, 4> all_sizes{
    {{8.6, 7.8, 1.0}, {8.2, 7.0, 0.9}, {7.8, 6.3, 0.8}, {7.4, 5.6, 0.7}}};

LabelWish wish_for(cairo_t* canvas, const PlacedMark& mark, double widest) {
    LabelWish wish{mark.symbol, 0.0, 0.0, mark.station};
    if (!mark.words.empty()) {
        const Text text(canvas, mark.words, mark.style, widest, most_label_lines);
        wish.width = text.width_px();
        wish.height = text.height_px();
    }
    return wish;
}

MarkPlan plan_in_sizes(cairo_t* canvas, const MapPlacing& placing,
                       const std::vector<MapMark>& marks, const Sizes& sizes) {
    constexpr double widest_share = 0.3; // of the map, but room for a word at least
    constexpr double least_letters = 10.0;
    constexpr double widest_letters = 19.0;
    MarkPlan plan;
    plan.symbol_size = sizes.symbol;
    plan.widest = std::clamp(widest_share * placing.frame().width, least_letters * sizes.place_text,
                             widest_letters * sizes.place_text);
    for (const MapMark& mark : marks) {
        const Point at = placing.on_page(mark.position);
        if (placing.frame().holds(at)) {
            const double size = mark.station ? sizes.station_text : sizes.place_text;
            plan.marks.push_back({mark.station,
                                  symbol_box(mark.station, at, sizes.symbol),
                                  mark.label,
                                  {size, mark.station, map_style::ink},
                                  std::nullopt});
        }
    }
    std::vector<LabelWish> wishes;
    for (const PlacedMark& mark : plan.marks) {
        wishes.push_back(wish_for(canvas, mark, plan.widest));
    }
    const auto places = place_labels(placing.frame().grown(-2.0 * halo), wishes, {}, gap);
    for (std::size_t k = 0; k < places.size(); ++k) {
        plan.marks[k].label = places[k];
    }
    return plan;
}

bool lacks_label(const PlacedMark& mark) {
    return !mark.label && !mark.words.empty();
}

/// Numbers beside the marks whose label found no room, off everything there is by now.
void number_rest(cairo_t* canvas, const MapPlacing& placing, MarkPlan& plan) {
    constexpr double number_size = 5.8;
    std::vector<LabelPlace> standing;
    std::vector<PlacedMark*> rest;
    std::vector<LabelWish> wishes;
    for (PlacedMark& mark : plan.marks) {
        if (mark.label) {
            standing.push_back(*mark.label);
        }
        if (!lacks_label(mark)) {
            standing.push_back({mark.symbol, std::nullopt});
            continue;
        }
        plan.numbered.push_back(mark.words);
        mark.words = std::to_string(plan.numbered.size());
        mark.style = {number_size, true, map_style::ink};
        rest.push_back(&mark);
        wishes.push_back(wish_for(canvas, mark, plan.widest));
    }
    const auto places =
        place_labels(placing.frame().grown(-2.0 * halo), wishes, standing, 0.5 * gap);
    for (std::size_t k = 0; k < rest.size(); ++k) {
        rest[k]->label = places[k];
        plan.nameless += places[k] ? 0 : 1;
    }
}

} // namespace

void draw_symbol(cairo_t* canvas, bool station, Point at, double size) {
    if (station) {
        draw_station_symbol(canvas, at, size);
    } else {
        draw_place_symbol(canvas, at, size);
    }
}

MarkPlan plan_marks(cairo_t* canvas, const MapPlacing& placing, const std::vector<MapMark>& marks) {
    // Trying the larger sizes with very many marks would only take time.
    constexpr std::size_t marks_a_size = 60;
    MarkPlan plan;
    for (std::size_t k = std::min(marks.size() / marks_a_size, all_sizes.size() - 1);
         k < all_sizes.size(); ++k) {
        plan = plan_in_sizes(canvas, placing, marks, all_sizes[k]);
        if (std::ranges::none_of(plan.marks, lacks_label)) {
            return plan;
        }
    }
    number_rest(canvas, placing, plan);
    return plan;
}

void draw_marks(cairo_t* canvas, const MarkPlan& plan) {
    for (const PlacedMark& mark : plan.marks) {
        if (mark.label && mark.label->leader) {
            const auto& [from, to] = *mark.label->leader;
            cairo_new_path(canvas);
            cairo_move_to(canvas, from.x, from.y);
            cairo_line_to(canvas, to.x, to.y);
            stroke_with_rim(canvas, 0.6, 0.6);
        }
    }
    // The last mark drawn lies on top, and the first is the one that matters most.
    for (auto mark = plan.marks.rbegin(); mark != plan.marks.rend(); ++mark) {
        draw_symbol(canvas, mark->station, mark->symbol.middle(), plan.symbol_size);
    }
    for (const PlacedMark& mark : plan.marks) {
        if (mark.label) {
            // On a plate, which tells names from what the map shows in grey print as well.
            const Box plate = mark.label->box.grown(halo);
            cairo_rectangle(canvas, plate.x, plate.y, plate.width, plate.height);
            set_colour(canvas, map_style::paper, plate_opacity);
            cairo_fill(canvas);
            if (mark.station) {
                Pen(canvas).frame(plate, {0.5, map_style::ink});
            }
            Text(canvas, mark.words, mark.style, plan.widest, most_label_lines)
                .draw(mark.label->box.x, mark.label->box.y);
        }
    }
}

} // namespace earshot::report
