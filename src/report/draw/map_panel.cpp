#include "geo/units.hpp"
#include "report/draw/canvas.hpp"
#include "report/draw/map_pieces.hpp"
#include "report/draw/map_style.hpp"
#include "report/draw/page_style.hpp"
#include "report/draw/relief.hpp"
#include "report/say/briefing.hpp"
#include "report/say/margin_classes.hpp"
#include "report/say/numbers.hpp"
#include "report/say/phrases.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <sstream>
#include <utility>

namespace earshot::report {
namespace {

using namespace page_style;

constexpr double column_gap = 18.0;
constexpr double block_gap = 11.0;
constexpr std::size_t most_areas = 12; ///< more could not be told apart on a small map
const TextStyle label_style{7.4, false, quiet_ink};
const TextStyle value_style{7.4, false, ink};
const TextStyle name_style{8.6, true, ink};
const TextStyle number_style{7.6, false, ink};

/// A number with thin spaces between thousands.
std::string grouped(long number) {
    std::string digits = std::to_string(number);
    for (auto at = static_cast<std::ptrdiff_t>(digits.size()) - 3; at > 0; at -= 3) {
        digits.insert(static_cast<std::size_t>(at), "\u202f");
    }
    return digits;
}

std::string degrees_and_side(double degrees) {
    return fmt::format("{:.1f}° {}", std::abs(degrees), degrees < 0.0 ? "west" : "east");
}

/// Draws downward from a position; with each piece the next one starts lower.
class Column {
public:
    Column(const Pen& pen, const Box& box, const PanelContent& content)
        : pen_(pen), x_(box.x), y_(box.y), width_(box.width), content_(content) {}

    [[nodiscard]] double bottom() const { return y_; }
    void skip(double height) { y_ += height; }

    void legend() {
        head("How a voice call comes through");
        std::optional<double> above_db;
        const auto classes = margin_classes();
        for (std::size_t k = 0; k < classes.size(); ++k) {
            const MarginClass& entry = classes[k];
            swatch([&](const Box& box) { pen_.fill(box, entry.colour); });
            words(entry.name,
                  above_db
                      ? fmt::format("{} to {:g} dB", signed_db(entry.lower_bound_db), *above_db)
                      : fmt::format("{:g} dB and more", entry.lower_bound_db),
                  entry.meaning, share(k));
            above_db = entry.lower_bound_db;
        }
        swatch([&](const Box& box) {
            constexpr double grey = map_style::level_grey;
            pen_.fill(box, {grey, grey, grey});
        });
        words("not heard", fmt::format("below {} dB", signed_db(*above_db)), "no words get through",
              share(classes.size()));
        if (content_.any_unknown) {
            swatch([&](const Box& box) { unknown_swatch(box); });
            words("no prediction", "", "out of range, or height of the ground not known", "");
        }
        symbols();
        y_ += 1.0;
        paragraph("dB: margin, the strength of the signal over what the receiver needs. %: share "
                  "of the ground that was predicted.",
                  small);
    }

    void scale() {
        const double norths_width = 58.0;
        const double top = y_;
        const double room = width_ - norths_width - 10.0;
        scale_bar("km", 1000.0, room);
        scale_bar("mi", geo::metres_per_mile, room);
        const double bars_bottom = y_;
        y_ = std::max(bars_bottom, norths(x_ + width_ - norths_width / 2.0, top)) + 2.0;
        if (content_.on_paper) {
            constexpr double metres_per_printed_point = 0.0254 / 72.0;
            const double ratio = content_.metres_per_point / metres_per_printed_point;
            const double rounding = std::pow(10.0, std::floor(std::log10(ratio)) - 1.0) / 2.0;
            paragraph(fmt::format("1 : {} if printed at full size",
                                  grouped(std::lround(std::round(ratio / rounding) * rounding))),
                      value_style);
        }
        if (content_.contour_interval > 0.0) {
            const std::string_view unit =
                geo::units() == geo::Units::imperial ? "\u00a0ft" : "\u00a0m";
            paragraph(fmt::format("Contours every {:g}{}, a strong one every {:g}{}",
                                  content_.contour_interval, unit,
                                  index_interval(content_.contour_interval), unit),
                      value_style);
        }
        paragraph(content_.grid_words, value_style);
        if (content_.declination_deg) {
            const double declination = *content_.declination_deg;
            paragraph(fmt::format("Magnetic north is {} of true north: a compass shows {:.1f}° {} "
                                  "than the true bearing",
                                  degrees_and_side(declination), std::abs(declination),
                                  declination < 0.0 ? "more" : "less"),
                      value_style);
        }
        if (content_.grid_north_deg) {
            const double convergence = *content_.grid_north_deg - content_.true_north_deg;
            if (std::abs(convergence) >= 0.05) {
                paragraph(fmt::format("Grid north is {} of true north in the middle of the map",
                                      degrees_and_side(convergence)),
                          value_style);
            }
        }
    }

    /// The map of areas and under it whose they are.
    void serving() {
        head("Which station is heard best where");
        const ServingAreas& areas = *content_.serving;
        constexpr double tallest = 1.1; // in widths
        const double width = width_ / std::max(1.0, content_.map_aspect / tallest);
        const Box box{x_, y_, width, width * content_.map_aspect};
        draw_serving_areas(pen_, box, areas);
        y_ = box.bottom() + 5.0;
        const double row = pen_.line_height(value_style) + 1.5;
        for (std::size_t k = 0; k < areas.names.size(); ++k) {
            draw_station_number(pen_, {x_ + 5.0, y_ + row / 2.0 - 0.5}, k + 1);
            y_ +=
                pen_.paragraph(x_ + 14.0, y_, areas.names[k], value_style, width_ - 14.0, 2) + 1.5;
        }
    }

    void facts() {
        double label_width = 0.0;
        for (const auto& [label, value] : content_.facts) {
            label_width = std::max(label_width, pen_.text_width(label, label_style) + 7.0);
        }
        for (const auto& [label, value] : content_.facts) {
            pen_.text(x_, y_, label, label_style);
            y_ +=
                pen_.paragraph(x_ + label_width, y_, value, value_style, width_ - label_width, 8) +
                1.8;
        }
    }

    void numbered() {
        if (content_.numbered.empty()) {
            return;
        }
        std::string list;
        for (std::size_t k = 0; k < content_.numbered.size(); ++k) {
            list += fmt::format("{}{}\u00a0{}", k == 0 ? "" : "   ", k + 1, content_.numbered[k]);
        }
        if (content_.nameless > 0) {
            list += fmt::format("   ({} of them without a number on the map, for want of room)",
                                content_.nameless);
        }
        head("Numbers on the map");
        paragraph(list, small);
        y_ += 4.0;
    }

    /// What else to know, and the cautions in a box of their own.
    void notes_and_cautions() {
        for (const std::string& note : content_.notes) {
            y_ += pen_.paragraph(x_, y_, sentence(note), value_style, width_) + 2.0;
        }
        y_ += content_.notes.empty() ? 0.0 : 4.0;
        constexpr double inset = 6.0;
        const double inner = width_ - 2.0 * inset;
        const double height = pen_.paragraph_height(cautions(), value_style, inner);
        const Box box{x_, y_, width_, height + 2.0 * inset};
        pen_.fill(box, band);
        pen_.fill({box.x, box.y, 2.4, box.height}, ink);
        pen_.paragraph(x_ + inset + 1.0, y_ + inset, cautions(), value_style, inner);
        y_ = box.bottom();
    }

private:
    static constexpr double swatch_width = 21.0;
    static constexpr double swatch_height = 13.0;
    static constexpr double text_left = 29.0;

    static std::string signed_db(double value) {
        return value < 0.0 ? fmt::format("\u2212{:g}", -value) : fmt::format("{:g}", value);
    }

    [[nodiscard]] std::string share(std::size_t k) const {
        const double percent = content_.shares_percent[k];
        return percent > 0.0 ? chance_text(percent) : "0 %";
    }

    void head(std::string_view text) {
        y_ += pen_.paragraph(x_, y_, text, heading, width_, 2) + 5.0;
    }

    void paragraph(std::string_view text, const TextStyle& style) {
        y_ += pen_.paragraph(x_, y_, text, style, width_) + 2.0;
    }

    template <typename Paint>
    void swatch(const Paint& paint) {
        const Box box{x_, y_ + 1.0, swatch_width, swatch_height};
        paint(box);
        pen_.frame(box, {0.5, map_style::frame});
    }

    void unknown_swatch(const Box& box) const {
        constexpr double fineness = 4.0; // pixels for each point
        const Surface image =
            paint_unknown(static_cast<int>(box.width * fineness),
                          static_cast<int>(box.height * fineness), map_style::hatch_pt * fineness);
        const KeptState state(pen_.canvas(), box);
        cairo_translate(pen_.canvas(), box.x, box.y);
        cairo_scale(pen_.canvas(), 1.0 / fineness, 1.0 / fineness);
        cairo_set_source_surface(pen_.canvas(), image.get(), 0.0, 0.0);
        cairo_paint(pen_.canvas());
    }

    /// A class: its name and numbers on one line, what it means and its share below.
    void words(std::string_view name, std::string_view numbers, std::string_view meaning,
               std::string_view share_text) {
        const double left = x_ + text_left;
        const double right = x_ + width_;
        pen_.text(left, y_, name, name_style);
        pen_.text(right, y_ + 1.0, numbers, number_style, Anchor::right);
        y_ += pen_.line_height(name_style);
        const double share_width =
            share_text.empty() ? 0.0 : pen_.text_width(share_text, label_style) + 6.0;
        pen_.text(right, y_, share_text, label_style, Anchor::right);
        y_ += pen_.paragraph(left, y_, meaning, label_style, width_ - text_left - share_width, 3) +
              4.5;
    }

    void symbols() {
        if (!content_.any_station && !content_.any_place) {
            return;
        }
        const double middle = y_ + 5.0;
        double x = x_;
        for (const bool station : {true, false}) {
            if (station ? content_.any_station : content_.any_place) {
                draw_symbol(pen_.canvas(), station, {x + swatch_width / 2.0, middle});
                x += text_left;
                x += pen_.text(x, y_, station ? "station" : "place", name_style) + 14.0;
            }
        }
        y_ += pen_.line_height(name_style) + 4.0;
    }

    void scale_bar(std::string_view unit, double metres, double room) {
        const TextStyle style{7.2, false, ink};
        const double points = metres / content_.metres_per_point;
        const double length = round_length((room - 18.0) / points);
        const double width = length * points;
        const double left = x_ + 2.0;
        const double row = pen_.line_height(style);
        pen_.text(left, y_, "0", style, Anchor::middle);
        pen_.text(left + width / 2.0, y_, fmt::format("{:g}", length / 2.0), style, Anchor::middle);
        const double last = pen_.text_width(fmt::format("{:g}", length), style);
        pen_.text(left + width - last / 2.0, y_, fmt::format("{:g} {}", length, unit), style);
        y_ += row + 0.5;
        // Four pieces in the first half, one in the second.
        constexpr double thickness = 3.4;
        constexpr int parts = 4;
        const Box bar{left, y_, width, thickness};
        pen_.fill(bar, paper);
        for (int k = 0; k < parts; k += 2) {
            pen_.fill({left + k * width / (2.0 * parts), y_, width / (2.0 * parts), thickness},
                      ink);
        }
        pen_.fill({left + width / 2.0, y_, width / 2.0, thickness}, ink);
        pen_.frame(bar, {0.6, ink});
        y_ += thickness + 5.0;
    }

    /// The directions of north, from one foot: true north with a long arrow; grid and magnetic
    /// north beside it, drawn farther apart than they are. Returns the lower edge.
    double norths(double middle, double top) const {
        constexpr double length = 40.0;
        const double foot = top + 12.0 + length;
        const KeptState state(pen_.canvas());
        cairo_translate(pen_.canvas(), middle, foot);
        constexpr double to_radians = std::numbers::pi / 180.0;
        constexpr double least_apart_deg = 17.0;
        struct Other {
            std::optional<double> away_deg;
            const char* letters;
            double reach;
        };
        std::optional<double> grid_away;
        if (content_.grid_north_deg) {
            grid_away = *content_.grid_north_deg - content_.true_north_deg;
        }
        // Both on one side would lie on top of each other.
        const bool same_side = grid_away && content_.declination_deg &&
                               (*grid_away < 0.0) == (*content_.declination_deg < 0.0);
        for (const Other& other : {Other{grid_away, "grid", 0.82 * length},
                                   Other{content_.declination_deg, "mag.", 0.58 * length}}) {
            if (!other.away_deg || std::abs(*other.away_deg) < 0.05) {
                continue;
            }
            const bool farther = same_side && other.letters[0] == 'm';
            const double apart = farther ? 2.0 * least_apart_deg : least_apart_deg;
            const double shown =
                content_.true_north_deg +
                std::copysign(std::max(std::abs(*other.away_deg), apart), *other.away_deg);
            const double x = other.reach * std::sin(shown * to_radians);
            const double y = -other.reach * std::cos(shown * to_radians);
            pen_.line(0.0, 0.0, x, y, {0.7, ink});
            const TextStyle style{5.8, false, ink};
            pen_.text(x + (x < 0.0 ? -1.0 : 1.0), y - pen_.line_height(style) + 1.0, other.letters,
                      style, x < 0.0 ? Anchor::right : Anchor::left);
            pen_.fill_disc(x, y, 1.2, ink);
        }
        needle(content_.true_north_deg, length);
        return foot + 4.0;
    }

    void needle(double direction_deg, double length) const {
        const KeptState state(pen_.canvas());
        cairo_rotate(pen_.canvas(), direction_deg * std::numbers::pi / 180.0);
        cairo_set_line_join(pen_.canvas(), CAIRO_LINE_JOIN_ROUND);
        const double wing = 4.6;
        for (const double side : {-1.0, 1.0}) {
            pen_.figure({{0.0, -length}, {side * wing, 0.0}, {0.0, -wing * 0.9}},
                        side < 0.0 ? ink : paper, {0.6, ink});
        }
        const TextStyle style{9.5, true, ink};
        pen_.text(0.0, -length - pen_.line_height(style) + 1.0, "N", style, Anchor::middle);
    }

    const Pen& pen_;
    double x_, y_, width_;
    const PanelContent& content_;
};

void draw_block(Column& column, PanelBlock block) {
    switch (block) {
    case PanelBlock::legend:
        return column.legend();
    case PanelBlock::scale:
        return column.scale();
    case PanelBlock::serving:
        return column.serving();
    case PanelBlock::facts:
        column.numbered();
        return column.facts();
    case PanelBlock::notes:
        return column.notes_and_cautions();
    }
}

/// Columns of even width side by side. Returns the height.
double draw_blocks(const Pen& pen, const Box& box, const PanelContent& content,
                   const PanelLayout& layout) {
    const auto columns = static_cast<double>(layout.size());
    const double width = (box.width - (columns - 1.0) * column_gap) / columns;
    double bottom = box.y;
    double x = box.x;
    for (const std::vector<PanelBlock>& blocks : layout) {
        Column column(pen, {x, box.y, width, box.height}, content);
        for (const PanelBlock& block : blocks) {
            column.skip(&block == &blocks.front() ? 0.0 : block_gap);
            draw_block(column, block);
        }
        bottom = std::max(bottom, column.bottom());
        x += width + column_gap;
    }
    return bottom - box.y;
}

/// In the order in which they are to stand beside the map.
std::vector<PanelBlock> blocks_of(const PanelContent& content) {
    using enum PanelBlock;
    return content.serving ? std::vector{legend, scale, serving, facts, notes}
                           : std::vector{legend, scale, facts, notes};
}

/// The areas of several stations, and who they are: with their radios, if the facts list these.
void take_serving(const coverage::CoverageRaster& map, PanelContent& content) {
    std::vector<std::string> names = station_metadata(map, "STATION_NAME");
    if (names.size() < 2 || names.size() > most_areas) {
        return;
    }
    const auto listed =
        std::ranges::find(content.facts, "stations", &std::pair<std::string, std::string>::first);
    const bool with_radios =
        listed != content.facts.end() &&
        static_cast<std::size_t>(std::ranges::count(listed->second, '\n')) + 1 == names.size();
    if (with_radios) {
        std::istringstream lines(listed->second);
        for (std::string& name : names) {
            std::getline(lines, name);
        }
    }
    content.serving = serving_areas(map, std::move(names));
    if (content.serving && with_radios) {
        content.facts.erase(listed);
    }
}

} // namespace

std::size_t panel_blocks(const PanelContent& content) {
    return blocks_of(content).size();
}

PanelLayout panel_column(const PanelContent& content, std::size_t blocks) {
    std::vector<PanelBlock> column = blocks_of(content);
    column.resize(std::min(blocks, column.size()));
    return {column};
}

PanelLayout panel_row(const PanelContent& content, std::size_t from_block) {
    PanelLayout row;
    const std::vector<PanelBlock> blocks = blocks_of(content);
    for (std::size_t k = from_block; k < blocks.size(); ++k) {
        row.push_back({blocks[k]});
    }
    return row;
}

PanelLayout panel_columns(const PanelContent& content) {
    using enum PanelBlock;
    return content.serving ? PanelLayout{{legend, facts}, {scale, notes}, {serving}}
                           : PanelLayout{{legend}, {scale, notes}, {facts}};
}

PanelContent panel_content(const coverage::CoverageRaster& map, const MapSheet& sheet) {
    PanelContent content;
    const auto classes = margin_classes();
    std::vector<std::size_t> counts(classes.size() + 1, 0);
    std::size_t known = 0;
    for (const float value : map.bands.front().values) {
        if (std::isnan(value)) {
            content.any_unknown = true;
            continue;
        }
        ++known;
        const MarginClass* heard = margin_class_of(static_cast<double>(value));
        ++counts[heard == nullptr ? classes.size()
                                  : static_cast<std::size_t>(heard - classes.data())];
    }
    for (const std::size_t count : counts) {
        content.shares_percent.push_back(
            known == 0 ? 0.0 : 100.0 * static_cast<double>(count) / static_cast<double>(known));
    }
    for (const MapMark& mark : sheet.marks) {
        (mark.station ? content.any_station : content.any_place) = true;
    }
    content.declination_deg = sheet.declination_deg;
    content.facts = sheet.facts;
    take_serving(map, content);
    content.notes = sheet.notes;
    return content;
}

double panel_height(double width, const PanelContent& content, const PanelLayout& layout,
                    double size) {
    const Canvas nowhere = measuring_canvas();
    const Pen measuring(nowhere.get());
    return layout.empty()
               ? 0.0
               : size * draw_blocks(measuring, {0.0, 0.0, width / size, 0.0}, content, layout);
}

void draw_panel(const Pen& pen, const Box& box, const PanelContent& content,
                const PanelLayout& layout) {
    constexpr double least = 0.66;
    constexpr double step = 0.03;
    if (layout.empty()) {
        return;
    }
    double size = 1.0;
    while (size > least && panel_height(box.width, content, layout, size) > box.height) {
        size -= step;
    }
    const KeptState state(pen.canvas());
    cairo_translate(pen.canvas(), box.x, box.y);
    cairo_scale(pen.canvas(), size, size);
    draw_blocks(pen, {0.0, 0.0, box.width / size, box.height / size}, content, layout);
}

} // namespace earshot::report
