#include "earshot/geo/geodesic.hpp"
#include "geo/units.hpp"
#include "report/draw/canvas.hpp"
#include "report/draw/label_placement.hpp"
#include "report/draw/page_style.hpp"
#include "report/draw/pages.hpp"
#include "report/say/numbers.hpp"
#include "report/say/second_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <memory>
#include <numbers>
#include <optional>

namespace earshot::report {
namespace {

using namespace page_style;

/// How `listener` hears `talker`, of a pair that holds both.
const plan::Hearing& hearing_of(const plan::Pair& pair, std::size_t listener) {
    return listener == pair.b ? pair.b_hears_a : pair.a_hears_b;
}

bool contains(const maths::Nodes& nodes, std::size_t station) {
    return std::ranges::find(nodes, station) != nodes.end();
}

/// Width of a link by the class of its margin.
double link_width(double margin_db) {
    const auto classes = margin_classes();
    constexpr std::array widths{3.6, 2.7, 1.8, 1.1};
    for (std::size_t k = 0; k < classes.size(); ++k) {
        if (margin_db >= classes[k].lower_bound_db) {
            return widths[std::min(k, widths.size() - 1)];
        }
    }
    return widths.back();
}

/// Pairs with at least one direction that is heard.
std::vector<const plan::Pair*> heard_pairs(const NetView& view) {
    std::vector<const plan::Pair*> heard;
    for (const plan::Pair& pair : view.pairs) {
        if (pair.a_hears_b.heard || pair.b_hears_a.heard) {
            heard.push_back(&pair);
        }
    }
    return heard;
}

/// The links that are drawn: all, or of many stations each one's strongest.
std::vector<const plan::Pair*> drawn_pairs(const NetView& view) {
    std::vector<const plan::Pair*> heard = heard_pairs(view);
    if (view.stations.size() <= most_stations_with_all_links) {
        return heard;
    }
    constexpr std::size_t strongest = 3;
    // NaN must not get into the order.
    const auto strength = [](const plan::Pair* pair) {
        const double margin_db = pair->mutual() ? pair->weaker_margin_db() : -1e9;
        return std::isfinite(margin_db) ? margin_db : -1e9;
    };
    std::ranges::stable_sort(
        heard, [&](const plan::Pair* a, const plan::Pair* b) { return strength(a) > strength(b); });
    std::vector<std::size_t> count(view.stations.size(), 0);
    std::vector<const plan::Pair*> drawn;
    for (const plan::Pair* pair : heard) {
        if (count[pair->a] < strongest || count[pair->b] < strongest) {
            drawn.push_back(pair);
            ++count[pair->a];
            ++count[pair->b];
        }
    }
    return drawn;
}

/// Stations in metres east and north of their middle, by distance and bearing from there.
std::vector<Point> on_the_ground(const std::vector<link::Station>& stations) {
    const geo::LatLon middle = plan::circle_around(stations).centre;
    std::vector<Point> spots;
    for (const link::Station& station : stations) {
        const geo::GeodesicPath line = geo::geodesic_between(middle, station.position);
        const double bearing = line.bearing_deg * std::numbers::pi / 180.0;
        spots.push_back({line.distance_m * std::sin(bearing), line.distance_m * std::cos(bearing)});
    }
    return spots;
}

class NetDrawing {
public:
    NetDrawing(const Pen& pen, const Box& area, const NetView& view)
        : pen_(pen), area_(area), view_(view), spots_(on_the_ground(view.stations)) {
        fit();
        set_labels();
    }

    void draw() const {
        for (const plan::Pair* pair : drawn_pairs(view_)) {
            draw_link(*pair);
        }
        for (std::size_t k = 0; k < spots_.size(); ++k) {
            draw_station(k);
        }
        draw_scale();
    }

private:
    static constexpr double disc = 7.0;
    static constexpr double frame = 16.0;

    const Pen& pen_;
    Box area_;
    const NetView& view_;
    std::vector<Point> spots_; ///< on the page once fit() is done
    std::vector<std::optional<LabelPlace>> labels_;
    double points_per_metre_ = 1.0;

    void fit() {
        const auto [left, right] = std::ranges::minmax_element(spots_, {}, &Point::x);
        const auto [bottom, top] = std::ranges::minmax_element(spots_, {}, &Point::y);
        const Box map{area_.x + 60.0, area_.y + frame, area_.width - 120.0,
                      area_.height - 2.0 * frame - 30.0};
        constexpr double least_m = 50.0; // stations on one spot
        const double across = std::max(right->x - left->x, least_m);
        const double down = std::max(top->y - bottom->y, least_m);
        points_per_metre_ = std::min(map.width / across, map.height / down);
        const double middle_x = (left->x + right->x) / 2.0;
        const double middle_y = (bottom->y + top->y) / 2.0;
        std::vector<Point> placed;
        for (const Point& spot : spots_) {
            placed.push_back({map.x + map.width / 2.0 + (spot.x - middle_x) * points_per_metre_,
                              map.y + map.height / 2.0 - (spot.y - middle_y) * points_per_metre_});
        }
        spots_ = placed;
    }

    [[nodiscard]] Box disc_box(std::size_t k) const {
        return {spots_[k].x - disc, spots_[k].y - disc, 2.0 * disc, 2.0 * disc};
    }

    [[nodiscard]] std::string label_of(std::size_t k) const {
        const std::string& name = view_.stations[k].name;
        return contains(view_.net.cut_off, k) ? name + " (cut off)" : name;
    }

    /// A station whose label found no place still has its number, which the table explains.
    void set_labels() {
        std::vector<LabelWish> wishes;
        for (std::size_t k = 0; k < spots_.size(); ++k) {
            const Text set(pen_.canvas(), label_of(k), label_style(), most_label_width());
            wishes.push_back(
                {disc_box(k), set.width_px(), set.height_px(), contains(view_.net.cut_off, k)});
        }
        const Box scale{area_.x, area_.bottom() - 30.0, area_.width, 30.0};
        labels_ = place_labels(area_, wishes, {LabelPlace{scale, std::nullopt}}, 3.0);
    }

    [[nodiscard]] TextStyle label_style() const {
        return {view_.stations.size() > most_stations_with_all_links ? 7.0 : 9.0, true, ink};
    }
    [[nodiscard]] double most_label_width() const { return 0.4 * area_.width; }

    /// Half of a link from the rim of a station's disc, as that station hears the other.
    void half(const Point& end, const Point& other, double margin_db) const {
        const Point middle{(end.x + other.x) / 2.0, (end.y + other.y) / 2.0};
        const double width = link_width(margin_db);
        pen_.line(end.x, end.y, middle.x, middle.y, {width + 1.0, ink});
        pen_.line(end.x, end.y, middle.x, middle.y, {width, colour_of_margin(margin_db)});
    }

    void draw_link(const plan::Pair& pair) const {
        const Point& a = spots_[pair.a];
        const Point& b = spots_[pair.b];
        if (pair.mutual()) {
            half(a, b, pair.a_hears_b.margin_db);
            half(b, a, pair.b_hears_a.margin_db);
        } else if (pair.b_hears_a.heard) {
            arrow(a, b, pair.b_hears_a.margin_db);
        } else {
            arrow(b, a, pair.a_hears_b.margin_db);
        }
    }

    void arrow(const Point& talker, const Point& listener, double margin_db) const {
        pen_.line(talker.x, talker.y, listener.x, listener.y, {1.0, ink, 3.0});
        const double length = std::hypot(listener.x - talker.x, listener.y - talker.y);
        if (length < 4.0 * disc) {
            return;
        }
        // Two thirds of the way, where few lines meet.
        draw_arrow_head(talker.x + (listener.x - talker.x) * 0.66,
                        talker.y + (listener.y - talker.y) * 0.66, (listener.x - talker.x) / length,
                        (listener.y - talker.y) / length, margin_db);
    }

    void draw_arrow_head(double x, double y, double along_x, double along_y,
                         double margin_db) const {
        constexpr double size = 7.0;
        pen_.figure({{x + size * along_x, y + size * along_y},
                     {x - size * along_x - 0.75 * size * along_y,
                      y - size * along_y + 0.75 * size * along_x},
                     {x - size * along_x + 0.75 * size * along_y,
                      y - size * along_y - 0.75 * size * along_x}},
                    colour_of_margin(margin_db), {0.8, ink});
    }

    void draw_station(std::size_t k) const {
        const Point& spot = spots_[k];
        const bool cut_off = contains(view_.net.cut_off, k);
        pen_.fill_disc(spot.x, spot.y, disc + 1.2, paper);
        if (contains(view_.net.splitting, k)) {
            pen_.ring(spot.x, spot.y, disc + 2.6, {1.6, ink});
        }
        pen_.fill_disc(spot.x, spot.y, disc, cut_off ? paper : ink);
        pen_.ring(spot.x, spot.y, disc - 0.6, {1.2, ink});
        const TextStyle number{7.5, true, cut_off ? ink : paper};
        pen_.text(spot.x, spot.y - pen_.line_height(number) / 2.0, fmt::format("{}", k + 1), number,
                  Anchor::middle);
        if (labels_[k]) {
            if (const auto& leader = labels_[k]->leader) {
                pen_.line(leader->from.x, leader->from.y, leader->to.x, leader->to.y, {0.5, ink});
            }
            const Text set(pen_.canvas(), label_of(k), label_style(), most_label_width());
            set.draw_with_halo(labels_[k]->box.x, labels_[k]->box.y, 1.6);
        }
    }

    void draw_scale() const {
        const double y = area_.bottom() - 10.0;
        const auto bar = [&](double at, double unit_m, const std::string& unit) {
            const double length = round_length(0.2 * area_.width / points_per_metre_ / unit_m);
            const double width = length * unit_m * points_per_metre_;
            pen_.line(at, y, at + width, y, {2.0, ink});
            pen_.line(at, y - 4.0, at, y + 1.0, {0.8, ink});
            pen_.line(at + width, y - 4.0, at + width, y + 1.0, {0.8, ink});
            pen_.text(at, y - 4.0 - pen_.line_height(body), fmt::format("{:g} {}", length, unit),
                      body);
            return at + width + 26.0;
        };
        const double right = bar(area_.x + 4.0, 1000.0, "km");
        bar(right, geo::metres_per_mile, "mi");
        draw_north(area_.x + area_.width - 14.0, y);
    }

    void draw_north(double x, double bottom) const {
        cairo_t* canvas = pen_.canvas();
        pen_.line(x, bottom + 2.0, x, bottom - 18.0, {1.2, ink});
        cairo_move_to(canvas, x, bottom - 25.0);
        cairo_line_to(canvas, x - 3.6, bottom - 15.0);
        cairo_line_to(canvas, x + 3.6, bottom - 15.0);
        pen_.fill_path(ink);
        pen_.text(x - 14.0, bottom - 12.0, "N", body_bold, Anchor::left);
    }
};

// ---- Words beside the picture -------------------------------------------------------------------

/// The name, or of many stations the number that stands on picture and table.
std::string short_name(const NetView& view, std::size_t station) {
    return view.stations.size() > most_stations_with_all_links ? fmt::format("{}", station + 1)
                                                               : view.stations[station].name;
}

std::string names_of(const NetView& view, const std::vector<std::size_t>& stations) {
    std::string list;
    for (const std::size_t station : stations) {
        list += (list.empty() ? "" : ", ") + short_name(view, station);
    }
    return list;
}

/// A heading and the sentences below it.
struct Section {
    std::string heading;
    std::vector<std::string> lines;
};

std::vector<Section> words_of(const NetView& view) {
    std::vector<Section> sections;
    const plan::NetStructure& net = view.net;
    if (!net.cut_off.empty()) {
        sections.push_back({"Cut off, talk with nobody", {names_of(view, net.cut_off)}});
    }
    if (!net.splitting.empty()) {
        sections.push_back({"The net splits without", {names_of(view, net.splitting)}});
    }
    std::vector<std::string> parts;
    for (const maths::Nodes& part : net.parts) {
        if (part.size() > 1) {
            parts.push_back(names_of(view, part));
        }
    }
    if (parts.size() > 1) {
        sections.push_back({"Parts that cannot reach each other", parts});
    }
    std::vector<std::string> groups;
    for (const maths::Nodes& group : net.groups.groups) {
        if (group.size() > 1) {
            groups.push_back(names_of(view, group));
        }
    }
    if (groups.empty()) {
        groups.emplace_back("nobody");
    }
    sections.push_back({"All hear one another directly", groups});
    std::vector<std::string> ways;
    for (const plan::Relayed& way : net.relayed) {
        const std::vector<std::size_t> over(way.stations.begin() + 1, way.stations.end() - 1);
        ways.push_back(fmt::format(
            "{} to {}: over {} (weakest hop {})", short_name(view, way.stations.front()),
            short_name(view, way.stations.back()), names_of(view, over),
            typeset(margin_text(way.weakest_margin_db, 0, view.wanted_margin_db))));
    }
    if (!ways.empty()) {
        sections.push_back({"Messages to be passed on", ways});
    }
    return sections;
}

double draw_key(const Pen& pen, const Box& area, const NetView& view) {
    double y = area.y;
    const double row = pen.line_height(body) + 3.0;
    pen.text(area.x, y, "How a station hears the other", heading);
    y += pen.line_height(heading) + 3.0;
    for (const MarginClass& shown : margin_classes()) {
        if (shown.lower_bound_db + 1e-9 < view.wanted_margin_db &&
            &shown != &margin_classes().front()) {
            // Below what was asked for nothing counts as heard, and no link has this class.
            const MarginClass* above = &shown - 1;
            if (above->lower_bound_db <= view.wanted_margin_db) {
                continue;
            }
        }
        const double middle = y + row / 2.0 - 1.0;
        const double width = link_width(shown.lower_bound_db);
        pen.line(area.x, middle, area.x + 26.0, middle, {width + 1.0, ink});
        pen.line(area.x, middle, area.x + 26.0, middle, {width, shown.colour});
        pen.text(area.x + 33.0, y,
                 fmt::format("{}: {:g} dB and more", shown.name, shown.lower_bound_db), body,
                 Anchor::left, area.width - 33.0);
        y += row;
    }
    pen.line(area.x, y + row / 2.0, area.x + 26.0, y + row / 2.0, {1.0, ink, 3.0});
    y += pen.paragraph(area.x + 33.0, y, "heard one way only, to the listener at the arrow", body,
                       area.width - 33.0, 2) +
         3.0;
    std::string words = "Each half of a line shows how the station at its end hears the other.";
    if (view.stations.size() > most_stations_with_all_links) {
        words += " Of so many stations only the strongest links of each are drawn; the table has "
                 "all.";
    }
    y += pen.paragraph(area.x, y, words, small, area.width, 4);
    return y + 8.0;
}

/// As many of the sections as fit; says how many lines are left out.
void draw_words(const Pen& pen, const Box& area, const NetView& view) {
    double y = area.y;
    const double row = pen.line_height(small) + 2.0;
    for (const Section& section : words_of(view)) {
        if (y + pen.line_height(heading) + 2.0 * row > area.bottom()) {
            break;
        }
        pen.text(area.x, y, section.heading, heading, Anchor::left, area.width);
        y += pen.line_height(heading) + 2.0;
        for (std::size_t k = 0; k < section.lines.size(); ++k) {
            const double height = pen.paragraph_height(section.lines[k], body, area.width, 4) + 2.0;
            const bool last = k + 1 == section.lines.size();
            if (y + height + (last ? 0.0 : row) > area.bottom()) {
                y += pen.paragraph(
                    area.x, y, fmt::format("and {} more: see the cards", section.lines.size() - k),
                    small, area.width, 1);
                break;
            }
            y += pen.paragraph(area.x, y, section.lines[k], body, area.width, 4) + 2.0;
        }
        y += 6.0;
    }
}

// ---- The table ----------------------------------------------------------------------------------

std::string numbered_name(const NetView& view, std::size_t station) {
    return fmt::format("{} {}", station + 1, view.stations[station].name);
}

/// What the table leaves to the names of stations.
struct NamesRoom {
    double names_width = 0.0; ///< of the rows
    double head_height = 0.0; ///< of the columns
};

/// As long as the longest name, but no more than a crowded table can spare.
NamesRoom names_room(const NetView& view) {
    const Canvas measuring = measuring_canvas();
    const Pen pen(measuring.get());
    double longest = 40.0;
    for (std::size_t k = 0; k < view.stations.size(); ++k) {
        longest = std::max(longest, pen.text_width(numbered_name(view, k), body) + 11.0);
    }
    const bool crowded = view.stations.size() > 24;
    return {std::min(longest, crowded ? 118.0 : 190.0), std::min(longest, crowded ? 70.0 : 130.0)};
}

/// Some of the rows and columns of the table, on a page.
struct NetTable {
    Box page;
    std::shared_ptr<const NetView> view;
    NamesRoom room;
    std::size_t first_row, rows, first_column, columns;

    static constexpr double page_height = 78.0; ///< head and foot of the page, and the key
    static constexpr double least_cell = 8.8;   ///< high
    static constexpr double least_width = 15.4; ///< of a cell

    void draw(cairo_t* canvas, const PageWords& words) const {
        const Pen pen(canvas);
        const double foot = draw_page_foot(pen, page, words.foot, words.page);
        const double y = draw_page_head(pen, page, "Who hears whom: margins in dB", words.right);
        const double key_height = pen.line_height(body) + 4.0;
        const Box table{page.x, y, page.width, foot - key_height - y};
        const double cell_width =
            std::min(46.0, (table.width - room.names_width) / static_cast<double>(columns));
        const double cell_height =
            std::min(20.0, (table.height - room.head_height) / static_cast<double>(rows));
        const Box cells{table.x + room.names_width, table.y + room.head_height,
                        cell_width * static_cast<double>(columns),
                        cell_height * static_cast<double>(rows)};
        draw_column_names(pen, cells, cell_width);
        draw_row_names(pen, cells, cell_height);
        for (std::size_t row = 0; row < rows; ++row) {
            for (std::size_t column = 0; column < columns; ++column) {
                const Box cell{cells.x + cell_width * static_cast<double>(column),
                               cells.y + cell_height * static_cast<double>(row), cell_width,
                               cell_height};
                draw_cell(pen, cell, first_row + row, first_column + column);
            }
        }
        pen.frame(cells, {0.8, ink});
        draw_table_key(pen, page.x, foot - key_height);
    }

    [[nodiscard]] std::string name_of(std::size_t station) const {
        return numbered_name(*view, station);
    }

    [[nodiscard]] const plan::Pair* pair_of(std::size_t one, std::size_t other) const {
        const auto found = std::ranges::find_if(view->pairs, [&](const plan::Pair& pair) {
            return (pair.a == one && pair.b == other) || (pair.a == other && pair.b == one);
        });
        return found == view->pairs.end() ? nullptr : &*found;
    }

    void draw_column_names(const Pen& pen, const Box& cells, double cell_width) const {
        cairo_t* canvas = pen.canvas();
        const TextStyle style = name_style(0.42 * cell_width + 3.5);
        for (std::size_t column = 0; column < columns; ++column) {
            const KeptState kept(canvas);
            cairo_translate(canvas,
                            cells.x + cell_width * (static_cast<double>(column) + 0.5) -
                                pen.line_height(style) / 2.0,
                            cells.y - 3.0);
            cairo_rotate(canvas, -std::numbers::pi / 2.0);
            pen.paragraph(0.0, 0.0, name_of(first_column + column), style, room.head_height - 8.0,
                          1);
        }
        const double corner = cells.x - room.names_width;
        const double line = pen.line_height(small);
        pen.text(cells.x - 6.0, cells.y - 3.0 * line, "talks \u2192", small, Anchor::right);
        pen.text(corner, cells.y - line - 2.0, "listens \u2193", small);
    }

    static TextStyle name_style(double height) {
        return {std::clamp(height - 3.5, 6.0, 8.5), false, ink};
    }

    void draw_row_names(const Pen& pen, const Box& cells, double cell_height) const {
        const TextStyle style = name_style(cell_height);
        for (std::size_t row = 0; row < rows; ++row) {
            const double middle = cells.y + cell_height * (static_cast<double>(row) + 0.5);
            // As a sentence: the number comes first whatever the script of the name.
            pen.paragraph(cells.x - room.names_width, middle - pen.line_height(style) / 2.0,
                          name_of(first_row + row), style, room.names_width - 6.0, 1);
        }
    }

    void draw_cell(const Pen& pen, const Box& cell, std::size_t listener,
                   std::size_t talker) const {
        const plan::Pair* pair = pair_of(listener, talker);
        if (listener == talker) {
            pen.fill(cell, hairline);
        } else if (pair == nullptr || !pair->known()) {
            cairo_rectangle(pen.canvas(), cell.x, cell.y, cell.width, cell.height);
            pen.hatch_path(3.0, {0.5, hairline});
            write(pen, cell, "?", quiet_ink, false);
        } else {
            const plan::Hearing& hearing = hearing_of(*pair, listener);
            const Rgb colour = hearing.heard ? colour_of_margin(hearing.margin_db) : paper;
            if (hearing.heard) {
                pen.fill(cell, colour);
            }
            write(pen, cell,
                  typeset(fmt::format("{:.0f}{}",
                                      shown_margin_db(hearing.margin_db, 0, view->wanted_margin_db),
                                      pair->try_first ? try_mark : "")),
                  hearing.heard ? ink_on(colour) : quiet_ink, hearing.heard);
            if (hearing.heard && !pair->mutual()) {
                mark_one_way(pen, cell, ink_on(colour));
            }
        }
        pen.frame(cell, {0.3, hairline});
    }

    static void write(const Pen& pen, const Box& cell, const std::string& text, const Rgb& colour,
                      bool bold) {
        const TextStyle style{std::clamp(std::min(cell.height - 3.4, 0.46 * cell.width), 5.5, 9.0),
                              bold, colour};
        pen.text(cell.x + cell.width / 2.0, cell.y + (cell.height - pen.line_height(style)) / 2.0,
                 text, style, Anchor::middle);
    }

    /// A small triangle in the corner: the other does not hear the answer.
    static void mark_one_way(const Pen& pen, const Box& cell, const Rgb& colour) {
        const double size = std::min(5.0, cell.height / 2.5);
        cairo_move_to(pen.canvas(), cell.right() - size, cell.y);
        cairo_line_to(pen.canvas(), cell.right(), cell.y);
        cairo_line_to(pen.canvas(), cell.right(), cell.y + size);
        pen.fill_path(colour);
    }

    void draw_table_key(const Pen& pen, double x, double y) const {
        const double side = pen.line_height(body) - 2.0;
        for (const MarginClass& shown : margin_classes()) {
            pen.fill({x, y + 1.0, side, side}, shown.colour);
            x += side + 4.0;
            x += pen.text(x, y, shown.name, body) + 12.0;
        }
        const Box box{x, y + 1.0, side, side};
        pen.frame(box, {0.4, ink});
        mark_one_way(pen, box, ink);
        x += side + 4.0;
        x += pen.text(x, y, "one way only", body) + 12.0;
        if (std::ranges::any_of(view->pairs, &plan::Pair::try_first)) {
            x += pen.text(x, y, try_key, body) + 12.0;
        }
        pen.text(x, y, fmt::format("no colour: below the {:g} dB wanted", view->wanted_margin_db),
                 body, Anchor::left, page.right() - x);
    }
};

} // namespace

void draw_net_page(cairo_t* canvas, const Box& area, const PageWords& words, const NetView& view) {
    const Pen pen(canvas);
    const double foot = draw_page_foot(pen, area, words.foot, words.page);
    const double y = draw_page_head(pen, area, "Who hears whom", words.right);
    const Box rest{area.x, y, area.width, foot - 4.0 - y};
    constexpr double side = 215.0;
    constexpr double gap = 16.0;
    const Box map{rest.x, rest.y, rest.width - side - gap, rest.height};
    const double left = map.right() + gap;
    const double under = draw_key(pen, {left, rest.y, side, rest.height}, view);
    draw_words(pen, {left, under, side, rest.bottom() - under}, view);
    pen.frame(map, {0.5, hairline});
    const Box inner{map.x + 4.0, map.y + 4.0, map.width - 8.0, map.height - 8.0};
    NetDrawing(pen, inner, view).draw();
}

std::vector<PageDrawing> net_table_pages(const Box& area, const NetView& view) {
    const std::size_t stations = view.stations.size();
    const auto fits = [](double room, double cell) {
        return static_cast<std::size_t>(std::max(1.0, std::floor(room / cell)));
    };
    // Blocks of even size look better than a last page with two rows.
    const auto even = [stations](std::size_t most) {
        const std::size_t blocks = (stations + most - 1) / most;
        return (stations + blocks - 1) / blocks;
    };
    const NamesRoom room = names_room(view);
    const std::size_t rows =
        even(fits(area.height - NetTable::page_height - room.head_height, NetTable::least_cell));
    const std::size_t columns = even(fits(area.width - room.names_width, NetTable::least_width));
    const auto shared = std::make_shared<const NetView>(view);
    std::vector<PageDrawing> pages;
    for (std::size_t row = 0; row < stations; row += rows) {
        for (std::size_t column = 0; column < stations; column += columns) {
            const NetTable table{area,
                                 shared,
                                 room,
                                 row,
                                 std::min(rows, stations - row),
                                 column,
                                 std::min(columns, stations - column)};
            pages.emplace_back(
                [table](cairo_t* canvas, const PageWords& words) { table.draw(canvas, words); });
        }
    }
    return pages;
}

} // namespace earshot::report
