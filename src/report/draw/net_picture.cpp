#include "earshot/geo/geodesic.hpp"
#include "geo/units.hpp"
#include "report/draw/canvas.hpp"
#include "report/draw/ground_view.hpp"
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
#include <span>

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

using Curve = std::vector<Point>;

/// From one point to another in a bow; `bend` is the height of the bow over its length.
Curve bowed(Point from, Point to, double bend) {
    constexpr int pieces = 24;
    // The control point of a parabola stands twice as high as its top.
    const Point control{(from.x + to.x) / 2.0 - 2.0 * bend * (to.y - from.y),
                        (from.y + to.y) / 2.0 + 2.0 * bend * (to.x - from.x)};
    Curve curve;
    for (int k = 0; k <= pieces; ++k) {
        const double t = static_cast<double>(k) / pieces;
        const double a = (1.0 - t) * (1.0 - t);
        const double b = 2.0 * t * (1.0 - t);
        curve.push_back(
            {a * from.x + b * control.x + t * t * to.x, a * from.y + b * control.y + t * t * to.y});
    }
    return curve;
}

bool crosses(const Curve& curve, const Box& box) {
    for (std::size_t k = 1; k < curve.size(); ++k) {
        if (report::crosses(curve[k - 1], curve[k], box)) {
            return true;
        }
    }
    return false;
}

class NetDrawing {
public:
    NetDrawing(const Pen& pen, const Box& area, const NetView& view)
        : pen_(pen), view_(view), ground_(area, rim, positions_of(view)) {
        for (const link::Station& station : view.stations) {
            spots_.push_back(ground_.on_page(station.position));
        }
        for (const plan::Pair* pair : drawn_pairs(view)) {
            links_.push_back({pair, way_between(pair->a, pair->b)});
        }
        set_labels();
    }

    void draw() const {
        if (view_.ground != nullptr) {
            ground_.draw(pen_, *view_.ground);
        }
        for (const auto& [pair, way] : links_) {
            draw_link(*pair, way);
        }
        for (std::size_t k = 0; k < spots_.size(); ++k) {
            draw_station(k);
        }
        ground_.draw_scale(pen_);
        pen_.frame(ground_.frame(), {0.6, ink});
    }

private:
    static constexpr double disc = 7.0;
    static constexpr double rim = 34.0; ///< for marks and names at the edge
    static constexpr double label_pad = 1.5;

    struct DrawnLink {
        const plan::Pair* pair;
        Curve way; ///< from a to b
    };

    const Pen& pen_;
    const NetView& view_;
    GroundView ground_;
    std::vector<Point> spots_;
    std::vector<DrawnLink> links_;
    std::vector<std::optional<LabelPlace>> labels_;

    static std::vector<geo::LatLon> positions_of(const NetView& view) {
        std::vector<geo::LatLon> positions;
        for (const link::Station& station : view.stations) {
            positions.push_back(station.position);
        }
        return positions;
    }

    [[nodiscard]] Box disc_box(std::size_t k) const {
        return {spots_[k].x - disc, spots_[k].y - disc, 2.0 * disc, 2.0 * disc};
    }

    /// Straight, or bowed as little as keeps it off the marks of others.
    [[nodiscard]] Curve way_between(std::size_t a, std::size_t b) const {
        constexpr double clear = 3.0;
        constexpr std::array bends{0.0,  0.05,  -0.05, 0.1,  -0.1, 0.15, -0.15,
                                   0.22, -0.22, 0.3,   -0.3, 0.4,  -0.4};
        for (const double bend : bends) {
            Curve way = bowed(spots_[a], spots_[b], bend);
            bool free =
                std::ranges::all_of(way, [&](Point point) { return ground_.frame().holds(point); });
            for (std::size_t k = 0; free && k < spots_.size(); ++k) {
                free = k == a || k == b || !crosses(way, disc_box(k).grown(clear));
            }
            if (free) {
                return way;
            }
        }
        return bowed(spots_[a], spots_[b], 0.0);
    }

    [[nodiscard]] std::string label_of(std::size_t k) const {
        const std::string& name = view_.stations[k].name;
        return contains(view_.net.cut_off, k) ? name + " (cut off)" : name;
    }

    /// Names keep off links. A station whose name found no place still has its number, which the
    /// table explains.
    void set_labels() {
        std::vector<LabelWish> wishes;
        for (std::size_t k = 0; k < spots_.size(); ++k) {
            const Text set(pen_.canvas(), label_of(k), label_style(), most_label_width());
            wishes.push_back({disc_box(k), set.width_px() + 2.0 * label_pad,
                              set.height_px() + 2.0 * label_pad, contains(view_.net.cut_off, k)});
        }
        std::vector<LabelPlace> standing{{ground_.scale_box(), std::nullopt}};
        for (const DrawnLink& link : links_) {
            for (std::size_t k = 1; k < link.way.size(); ++k) {
                standing.push_back({{link.way[k].x, link.way[k].y, 0.0, 0.0},
                                    LabelPlace::Line{link.way[k - 1], link.way[k]}});
            }
        }
        labels_ = place_labels(ground_.frame().grown(-2.0), wishes, standing, 3.0);
    }

    [[nodiscard]] TextStyle label_style() const {
        return {view_.stations.size() > most_stations_with_all_links ? 7.0 : 9.0, true, ink};
    }
    [[nodiscard]] double most_label_width() const { return 0.4 * ground_.frame().width; }

    /// Half of a link from a station, as that station hears the other.
    void half(std::span<const Point> way, double margin_db) const {
        const double width = link_width(margin_db);
        for (const Stroke& stroke : {Stroke{width + 2.4, paper}, Stroke{width + 1.0, ink},
                                     Stroke{width, colour_of_margin(margin_db)}}) {
            trace(way);
            pen_.stroke_path(stroke);
        }
    }

    void trace(std::span<const Point> way) const {
        for (const Point& point : way) {
            cairo_line_to(pen_.canvas(), point.x, point.y);
        }
    }

    void draw_link(const plan::Pair& pair, const Curve& way) const {
        if (pair.mutual()) {
            const std::span<const Point> all(way);
            const std::size_t middle = way.size() / 2;
            half(all.first(middle + 1), pair.a_hears_b.margin_db);
            half(all.subspan(middle), pair.b_hears_a.margin_db);
        } else if (pair.b_hears_a.heard) {
            arrow(way, pair.b_hears_a.margin_db);
        } else {
            arrow({way.rbegin(), way.rend()}, pair.a_hears_b.margin_db);
        }
    }

    /// From the talker to the listener.
    void arrow(const Curve& way, double margin_db) const {
        trace(way);
        pen_.stroke_path({2.6, paper});
        trace(way);
        pen_.stroke_path({1.0, ink, 3.0});
        if (std::hypot(way.back().x - way.front().x, way.back().y - way.front().y) < 4.0 * disc) {
            return;
        }
        // Two thirds of the way, where few lines meet.
        const std::size_t at = way.size() * 2 / 3;
        const Point from = way[at - 1];
        const Point to = way[at];
        const double length = std::hypot(to.x - from.x, to.y - from.y);
        draw_arrow_head(to.x, to.y, (to.x - from.x) / length, (to.y - from.y) / length, margin_db);
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
            // On a plate, as on the map.
            pen_.fill(labels_[k]->box, paper);
            const Text set(pen_.canvas(), label_of(k), label_style(), most_label_width());
            set.draw(labels_[k]->box.x + label_pad, labels_[k]->box.y + label_pad);
        }
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

/// Some of the rows and columns of the table.
struct NetTable {
    const NetView* view;
    NamesRoom room;
    std::size_t first_row, rows, first_column, columns;
    bool numbers_on_top = false; ///< in the place of names

    static constexpr double least_cell = 8.8;   ///< high
    static constexpr double least_width = 15.4; ///< of a cell

    /// Into the upper left of a box. Returns the y under it.
    double draw(const Pen& pen, const Box& table) const {
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
        return cells.bottom();
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
        const double line = pen.line_height(small);
        for (std::size_t column = 0; column < columns; ++column) {
            const double middle = cells.x + cell_width * (static_cast<double>(column) + 0.5);
            if (numbers_on_top) {
                pen.text(middle, cells.y - line - 2.0, fmt::format("{}", first_column + column + 1),
                         small, Anchor::middle);
                continue;
            }
            const KeptState kept(canvas);
            cairo_translate(canvas, middle - pen.line_height(style) / 2.0, cells.y - 3.0);
            cairo_rotate(canvas, -std::numbers::pi / 2.0);
            pen.paragraph(0.0, 0.0, name_of(first_column + column), style, room.head_height - 8.0,
                          1);
        }
        const double corner = cells.x - room.names_width;
        const double up = numbers_on_top ? line + 2.0 : 3.0 * line;
        pen.text(cells.x - 6.0, cells.y - up, "talks \u2192", small, Anchor::right);
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
        } else if (std::isinf(hearing_of(*pair, listener).margin_db)) {
            write(pen, cell, "\u2013", quiet_ink, false); // no channel for it
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
};

/// On a page of its own, with head and foot and its key.
struct NetTablePage {
    Box page;
    std::shared_ptr<const NetView> view;
    NetTable table;

    static constexpr double page_height = 78.0; ///< head and foot of the page, and the key

    void draw(cairo_t* canvas, const PageWords& words) const {
        const Pen pen(canvas);
        const double foot = draw_page_foot(pen, page, words.foot, words.page);
        const double y = draw_page_head(pen, page, "Who hears whom: margins in dB", words.right);
        const double key_height = pen.line_height(body) + 4.0;
        table.draw(pen, {page.x, y, page.width, foot - key_height - y});
        draw_key(pen, page.x, foot - key_height);
    }

    void draw_key(const Pen& pen, double x, double y) const {
        const double side = pen.line_height(body) - 2.0;
        for (const MarginClass& shown : margin_classes()) {
            pen.fill({x, y + 1.0, side, side}, shown.colour);
            x += side + 4.0;
            x += pen.text(x, y, shown.name, body) + 12.0;
        }
        const Box box{x, y + 1.0, side, side};
        pen.frame(box, {0.4, ink});
        NetTable::mark_one_way(pen, box, ink);
        x += side + 4.0;
        x += pen.text(x, y, "one way only", body) + 12.0;
        if (std::ranges::any_of(view->pairs, &plan::Pair::try_first)) {
            x += pen.text(x, y, try_key, body) + 12.0;
        }
        pen.text(x, y, fmt::format("no colour: below the {:g} dB wanted", view->wanted_margin_db),
                 body, Anchor::left, page.right() - x);
    }
};

/// The table as it stands beside the picture: the whole of it, with numbers over its columns.
struct TableBeside {
    static constexpr double head_height = 14.0;
    static constexpr double most_share = 0.53; ///< of the page's width
    static constexpr double usual_cell = 28.0;
    static constexpr double row_height = 14.5;

    NetTable table;
    double width = 0.0;

    /// Nothing for a net that is too large.
    static std::optional<TableBeside> of(const Box& area, const NetView& view) {
        const std::size_t count = view.stations.size();
        const double names = std::min(names_room(view).names_width, 118.0);
        const double cells = static_cast<double>(count);
        const double most = most_share * area.width;
        if (names + cells * NetTable::least_width > most) {
            return std::nullopt;
        }
        TableBeside beside{{&view, {names, head_height}, 0, count, 0, count, true},
                           std::clamp(names + cells * usual_cell, 215.0, most)};
        return beside;
    }

    /// Returns the y under it.
    double draw(const Pen& pen, const Box& box) const {
        const NetView& view = *table.view;
        pen.text(box.x, box.y, "Margins in dB", heading);
        double y = box.y + pen.line_height(heading) + 1.0;
        const double rows = static_cast<double>(table.rows);
        // No more than half of what is left: words follow.
        y = table.draw(pen, {box.x, y, box.width,
                             std::min(head_height + row_height * rows,
                                      std::max(head_height + NetTable::least_cell * rows,
                                               0.55 * (box.bottom() - y)))});
        std::string key =
            fmt::format("Rows listen, columns talk; no colour: below the {:g} dB wanted; a "
                        "corner: one way only",
                        view.wanted_margin_db);
        if (std::ranges::any_of(view.pairs, &plan::Pair::try_first)) {
            key += fmt::format("; {}", try_key);
        }
        y += 3.0;
        return y + pen.paragraph(box.x, y, key + ".", small, box.width, 3) + 8.0;
    }
};

} // namespace

void draw_net_page(cairo_t* canvas, const Box& area, const PageWords& words, const NetView& view) {
    const Pen pen(canvas);
    const double foot = draw_page_foot(pen, area, words.foot, words.page);
    const double y = draw_page_head(pen, area, "Who hears whom", words.right);
    const Box rest{area.x, y, area.width, foot - 4.0 - y};
    constexpr double gap = 16.0;
    const std::optional<TableBeside> beside = TableBeside::of(area, view);
    const double side = beside ? beside->width : 215.0;
    const Box map{rest.x, rest.y, rest.width - side - gap, rest.height};
    const double left = map.right() + gap;
    double under = draw_key(pen, {left, rest.y, side, rest.height}, view);
    if (beside) {
        under = beside->draw(pen, {left, under, side, rest.bottom() - under});
    }
    draw_words(pen, {left, under, side, rest.bottom() - under}, view);
    NetDrawing(pen, map, view).draw();
}

bool net_page_holds_table(const Box& area, const NetView& view) {
    return TableBeside::of(area, view).has_value();
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
    const std::size_t rows = even(
        fits(area.height - NetTablePage::page_height - room.head_height, NetTable::least_cell));
    const std::size_t columns = even(fits(area.width - room.names_width, NetTable::least_width));
    const auto shared = std::make_shared<const NetView>(view);
    std::vector<PageDrawing> pages;
    for (std::size_t row = 0; row < stations; row += rows) {
        for (std::size_t column = 0; column < stations; column += columns) {
            const NetTablePage table{area,
                                     shared,
                                     {shared.get(), room, row, std::min(rows, stations - row),
                                      column, std::min(columns, stations - column)}};
            pages.emplace_back(
                [table](cairo_t* canvas, const PageWords& words) { table.draw(canvas, words); });
        }
    }
    return pages;
}

} // namespace earshot::report
