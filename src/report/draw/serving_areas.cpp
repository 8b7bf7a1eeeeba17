#include "report/draw/canvas.hpp"
#include "report/draw/map_pieces.hpp"
#include "report/draw/map_style.hpp"
#include "report/draw/relief.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace earshot::report {
namespace {

constexpr int widest_cells = 150; ///< of the small map
constexpr std::size_t most_kinds = 16;

/// The most frequent station among cells; the first of equals.
class Votes {
public:
    void add(std::uint8_t station) { ++counts_[std::min<std::size_t>(station, most_kinds - 1)]; }
    [[nodiscard]] std::uint8_t winner() const {
        return static_cast<std::uint8_t>(std::ranges::max_element(counts_) - counts_.begin());
    }

private:
    std::array<int, most_kinds> counts_{};
};

std::size_t at(const ServingAreas& areas, int column, int row) {
    return static_cast<std::size_t>(row) * static_cast<std::size_t>(areas.columns) +
           static_cast<std::size_t>(column);
}

/// The cells of the map that fall into each cell of the small one, by their majority.
void gather(const coverage::CoverageRaster& map, const coverage::Band& band, ServingAreas& areas) {
    std::vector<Votes> votes(areas.station.size());
    for (int row = 0; row < map.rows; ++row) {
        for (int column = 0; column < map.columns; ++column) {
            const float value =
                band.values[static_cast<std::size_t>(row) * static_cast<std::size_t>(map.columns) +
                            static_cast<std::size_t>(column)];
            votes[at(areas, column * areas.columns / map.columns, row * areas.rows / map.rows)].add(
                value >= 1.0F ? static_cast<std::uint8_t>(value) : std::uint8_t{0});
        }
    }
    std::ranges::transform(votes, areas.station.begin(), &Votes::winner);
}

/// Each cell becomes what most of its neighbourhood is: specks go, borders run calmly.
void even_out(ServingAreas& areas) {
    const std::vector<std::uint8_t> before = areas.station;
    for (int row = 0; row < areas.rows; ++row) {
        for (int column = 0; column < areas.columns; ++column) {
            Votes votes;
            for (int r = std::max(0, row - 1); r <= std::min(areas.rows - 1, row + 1); ++r) {
                for (int c = std::max(0, column - 1); c <= std::min(areas.columns - 1, column + 1);
                     ++c) {
                    votes.add(before[at(areas, c, r)]);
                }
            }
            areas.station[at(areas, column, row)] = votes.winner();
        }
    }
}

/// How many steps, straight or aslant, each cell is from one of another station.
std::vector<int> depths(const ServingAreas& areas) {
    std::vector<int> depth(areas.station.size(), 0);
    const auto pass = [&](int column, int row, int step) {
        const std::size_t here = at(areas, column, row);
        int least = areas.columns + areas.rows;
        for (const auto& [c, r] : {std::pair{column - step, row - step},
                                   {column, row - step},
                                   {column + step, row - step},
                                   {column - step, row}}) {
            const bool same = c >= 0 && c < areas.columns && r >= 0 && r < areas.rows &&
                              areas.station[at(areas, c, r)] == areas.station[here];
            least = std::min(least, same ? depth[at(areas, c, r)] + 1 : 1);
        }
        depth[here] = step > 0 ? least : std::min(depth[here], least);
    };
    for (int row = 0; row < areas.rows; ++row) {
        for (int column = 0; column < areas.columns; ++column) {
            pass(column, row, 1);
        }
    }
    for (int row = areas.rows - 1; row >= 0; --row) {
        for (int column = areas.columns - 1; column >= 0; --column) {
            pass(column, row, -1);
        }
    }
    return depth;
}

void place_numbers(ServingAreas& areas) {
    const std::vector<int> depth = depths(areas);
    std::vector<int> deepest(areas.numbers.size(), 0);
    for (int row = 0; row < areas.rows; ++row) {
        for (int column = 0; column < areas.columns; ++column) {
            const std::size_t cell = at(areas, column, row);
            const std::size_t station = areas.station[cell];
            if (station > 0 && station <= deepest.size() && depth[cell] > deepest[station - 1]) {
                deepest[station - 1] = depth[cell];
                areas.numbers[station - 1] = Point{column + 0.5, row + 0.5};
            }
        }
    }
}

/// Light, so that numbers and lines stand out; neighbours in the list differ in lightness too.
Rgb area_colour(std::size_t station) {
    constexpr double golden_turn_deg = 137.5;
    return from_oklch(station % 2 == 0 ? 0.92 : 0.80, 0.06,
                      golden_turn_deg * static_cast<double>(station));
}

} // namespace

std::optional<ServingAreas> serving_areas(const coverage::CoverageRaster& map,
                                          std::vector<std::string> names) {
    const coverage::Band* band = coverage::find_band(map, coverage::BandKind::serving);
    if (band == nullptr) {
        return std::nullopt;
    }
    const auto cell = middle_cell_size(map);
    ServingAreas areas;
    areas.columns = std::min(widest_cells, map.columns);
    areas.rows = std::clamp(static_cast<int>(std::lround(cell.down_m * map.rows * areas.columns /
                                                         (cell.across_m * map.columns))),
                            1, map.rows);
    areas.station.resize(static_cast<std::size_t>(areas.columns) *
                         static_cast<std::size_t>(areas.rows));
    areas.numbers.resize(names.size());
    areas.names = std::move(names);
    gather(map, *band, areas);
    even_out(areas);
    even_out(areas);
    place_numbers(areas);
    return areas;
}

void draw_station_number(const Pen& pen, Point middle, std::size_t number) {
    const TextStyle style{6.6, true, map_style::ink};
    pen.fill_disc(middle.x, middle.y, 4.9, map_style::paper);
    pen.ring(middle.x, middle.y, 4.9, {0.6, map_style::ink});
    pen.text(middle.x, middle.y - pen.line_height(style) / 2.0, fmt::format("{}", number), style,
             Anchor::middle);
}

void draw_serving_areas(const Pen& pen, const Box& box, const ServingAreas& areas) {
    cairo_t* canvas = pen.canvas();
    const double across = box.width / areas.columns;
    const double down = box.height / areas.rows;
    {
        const KeptState state(canvas, box);
        pen.fill(box, map_style::paper);
        cairo_set_antialias(canvas, CAIRO_ANTIALIAS_NONE); // no seams between rectangles
        for (std::size_t station = 1; station <= areas.numbers.size(); ++station) {
            for (int row = 0; row < areas.rows; ++row) {
                for (int from = 0, to = 0; from < areas.columns; from = to) {
                    const std::uint8_t shown = areas.station[at(areas, from, row)];
                    for (to = from + 1;
                         to < areas.columns && areas.station[at(areas, to, row)] == shown; ++to) {
                    }
                    if (shown == station) {
                        cairo_rectangle(canvas, box.x + from * across, box.y + row * down,
                                        (to - from) * across, down);
                    }
                }
            }
            pen.fill_path(area_colour(station));
        }
    }
    for (int row = 0; row < areas.rows; ++row) {
        for (int column = 0; column < areas.columns; ++column) {
            const std::uint8_t here = areas.station[at(areas, column, row)];
            const double x = box.x + (column + 1) * across;
            const double y = box.y + (row + 1) * down;
            if (column + 1 < areas.columns && areas.station[at(areas, column + 1, row)] != here) {
                cairo_move_to(canvas, x, y - down);
                cairo_line_to(canvas, x, y);
            }
            if (row + 1 < areas.rows && areas.station[at(areas, column, row + 1)] != here) {
                cairo_move_to(canvas, x - across, y);
                cairo_line_to(canvas, x, y);
            }
        }
    }
    pen.stroke_path({0.5, map_style::ink});
    pen.frame(box, {0.6, map_style::ink});
    for (std::size_t k = 0; k < areas.numbers.size(); ++k) {
        if (areas.numbers[k]) {
            constexpr double rim = 5.5;
            const Box inside = box.grown(-rim);
            draw_station_number(
                pen,
                {std::clamp(box.x + areas.numbers[k]->x * across, inside.x, inside.right()),
                 std::clamp(box.y + areas.numbers[k]->y * down, inside.y, inside.bottom())},
                k + 1);
        }
    }
}

} // namespace earshot::report
