#include "earshot/geo/position.hpp"
#include "geo/units.hpp"
#include "report/draw/map_pieces.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <limits>
#include <map>
#include <numbers>
#include <optional>
#include <set>

namespace earshot::report {

Point MapPlacing::on_page(geo::LatLon position) const {
    const terrain::CellPosition cell = map_->georeference.cell_of(position);
    return {frame_.x + (cell.column + 0.5) * frame_.width / map_->columns,
            frame_.y + (cell.row + 0.5) * frame_.height / map_->rows};
}

geo::LatLon MapPlacing::on_ground(Point point) const {
    return map_->georeference.position_of(
        {(point.x - frame_.x) * map_->columns / frame_.width - 0.5,
         (point.y - frame_.y) * map_->rows / frame_.height - 0.5});
}

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr int net_steps = 40; ///< of the net of places by which a map is explored

using Line = std::vector<Point>;

/// EPSG code of the UTM zone that a place lies in; 0 where UTM is not defined.
int utm_code(geo::LatLon position) {
    return position.lat_deg >= -80.0 && position.lat_deg < 84.0 ? geo::utm_epsg(position) : 0;
}

int zone_of(int utm_epsg) {
    return utm_epsg % 100;
}

/// East and north coordinate: metres of a UTM zone, or degrees.
struct Coordinates {
    double east = 0.0;
    double north = 0.0;
};

/// One system of coordinates: a UTM zone, which holds only the places within the zone, or (code 0)
/// longitude and latitude.
class Axes {
public:
    explicit Axes(int utm_epsg) : code_(utm_epsg) {
        if (utm_epsg != 0) {
            crs_ = terrain::Georeference(fmt::format("EPSG:{}", utm_epsg), 0.0, 0.0, 1.0, -1.0);
        }
    }
    [[nodiscard]] int code() const { return code_; }
    [[nodiscard]] Coordinates of(geo::LatLon position) const {
        const terrain::CellPosition cell = crs_.cell_of(position);
        return {cell.column, -cell.row};
    }
    [[nodiscard]] geo::LatLon place(Coordinates at) const {
        return crs_.position_of({at.east, -at.north});
    }
    [[nodiscard]] bool holds(geo::LatLon position) const {
        return code_ == 0 || utm_code(position) == code_;
    }

private:
    int code_;
    terrain::Georeference crs_;
};

/// Least and greatest coordinates on the map.
struct Range {
    double west = infinity, east = -infinity, south = infinity, north = -infinity;

    void add(Coordinates at) {
        west = std::min(west, at.east);
        east = std::max(east, at.east);
        south = std::min(south, at.north);
        north = std::max(north, at.north);
    }
};

/// A net of places over the whole map, edges included.
std::vector<geo::LatLon> net_of(const MapPlacing& placing) {
    std::vector<geo::LatLon> net;
    const Box& frame = placing.frame();
    for (int v = 0; v <= net_steps; ++v) {
        for (int u = 0; u <= net_steps; ++u) {
            const geo::LatLon position = placing.on_ground(
                {frame.x + frame.width * u / net_steps, frame.y + frame.height * v / net_steps});
            if (std::isfinite(position.lat_deg) && std::isfinite(position.lon_deg)) {
                net.push_back(position);
            }
        }
    }
    return net;
}

/// The pieces of a curve that can be seen, exact at their ends.
std::vector<Line> visible_pieces(const std::function<std::optional<Point>(double)>& curve) {
    constexpr int steps = 48;
    constexpr int halvings = 24;
    // The last point that can be seen between one that can and one that cannot.
    const auto edge = [&](double seen, double unseen) {
        for (int k = 0; k < halvings; ++k) {
            const double middle = (seen + unseen) / 2.0;
            (curve(middle) ? seen : unseen) = middle;
        }
        return *curve(seen);
    };
    std::vector<Line> pieces;
    std::optional<Point> before;
    for (int k = 0; k <= steps; ++k) {
        const double t = static_cast<double>(k) / steps;
        const double t_before = static_cast<double>(k - 1) / steps;
        const std::optional<Point> now = curve(t);
        if (now && !before) {
            pieces.emplace_back();
            if (k > 0) {
                pieces.back().push_back(edge(t, t_before));
            }
        }
        if (now) {
            pieces.back().push_back(*now);
        } else if (before) {
            pieces.back().push_back(edge(t_before, t));
        }
        before = now;
    }
    return pieces;
}

/// The side of the frame that a point lies on, if any.
std::optional<Side> side_of(const Box& frame, Point point) {
    constexpr double near = 0.05;
    const std::array<std::pair<Side, double>, 4> ways{{{Side::left, point.x - frame.x},
                                                       {Side::right, frame.right() - point.x},
                                                       {Side::top, point.y - frame.y},
                                                       {Side::bottom, frame.bottom() - point.y}}};
    const auto least = std::ranges::min_element(ways, {}, &std::pair<Side, double>::second);
    return least->second < near ? std::optional(least->first) : std::nullopt;
}

enum class Axis { east, north };

/// "30′", "36°30′", "36°30′15″": as much as the step asks for.
std::string angle_text(double degrees, double step_deg, Axis axis) {
    const bool east = axis == Axis::east;
    if (east) {
        degrees = geo::normalize_longitude_deg(degrees);
    }
    const char letter = east ? (degrees < 0.0 ? 'W' : 'E') : (degrees < 0.0 ? 'S' : 'N');
    const long seconds = std::lround(std::abs(degrees) * 3600.0);
    std::string text = fmt::format("{}°", seconds / 3600);
    if (step_deg < 1.0) {
        text += fmt::format("{:02}′", seconds / 60 % 60);
    }
    if (step_deg * 60.0 < 1.0) {
        text += fmt::format("{:02}″", seconds % 60);
    }
    return seconds == 0 ? text : text + letter;
}

class GridDrawing {
public:
    GridDrawing(const MapPlacing& placing, double least_gap)
        : placing_(placing), net_(net_of(placing)), least_gap_(least_gap) {
        for (const geo::LatLon position : net_) {
            codes_.insert(utm_code(position));
        }
        if (codes_.contains(0)) {
            codes_ = {0};
        }
    }

    Graticule draw() {
        for (const int code : codes_) {
            draw_axes(Axes(code));
        }
        if (!in_degrees()) {
            draw_zone_edges();
        }
        thin_labels();
        complete_labels();
        grid_.words = words();
        return std::move(grid_);
    }

private:
    [[nodiscard]] bool in_degrees() const { return codes_.contains(0); }

    [[nodiscard]] double metres_per_point() const {
        const Box& frame = placing_.frame();
        const Point middle = frame.middle();
        const double reach = frame.width / 4.0;
        return geo::geodesic_between(placing_.on_ground({middle.x - reach, middle.y}),
                                     placing_.on_ground({middle.x + reach, middle.y}))
                   .distance_m /
               (2.0 * reach);
    }

    void draw_axes(const Axes& axes) {
        Range range;
        for (const geo::LatLon position : net_) {
            if (axes.holds(position)) {
                range.add(axes.of(position));
            }
        }
        const double least_m = least_gap_ * metres_per_point();
        if (axes.code() == 0) {
            constexpr double metres_per_degree = 111320.0;
            const double lat = (range.south + range.north) / 2.0 * std::numbers::pi / 180.0;
            step_north_ = round_angle(least_m / metres_per_degree);
            step_east_ = round_angle(least_m / metres_per_degree / std::max(0.05, std::cos(lat)));
        } else {
            step_east_ = step_north_ = round_length_above(least_m);
        }
        draw_lines(axes, Axis::east, range);
        draw_lines(axes, Axis::north, range);
    }

    /// The lines of constant east (or north) coordinate.
    void draw_lines(const Axes& axes, Axis axis, const Range& range) {
        const bool east = axis == Axis::east;
        const double step = east ? step_east_ : step_north_;
        const double low = east ? range.west : range.south;
        const double high = east ? range.east : range.north;
        const double from = (east ? range.south : range.west) - step;
        const double to = (east ? range.north : range.east) + step;
        for (auto k = static_cast<long>(std::floor(low / step));
             static_cast<double>(k) * step <= high + step; ++k) {
            const double value = static_cast<double>(k) * step;
            const auto curve = [&](double t) -> std::optional<Point> {
                const double other = from + t * (to - from);
                const geo::LatLon position =
                    axes.place(east ? Coordinates{value, other} : Coordinates{other, value});
                const Point point = placing_.on_page(position);
                return placing_.frame().holds(point) && axes.holds(position) ? std::optional(point)
                                                                             : std::nullopt;
            };
            for (const Line& piece : visible_pieces(curve)) {
                grid_.lines.push_back(piece);
                for (const Point end : {piece.front(), piece.back()}) {
                    label(axes, axis, value, end);
                }
            }
        }
    }

    /// A label while it is not yet sure which ones stay.
    struct Candidate {
        GridLabel label;
        int code;
        [[nodiscard]] bool upright() const {
            return label.side == Side::top || label.side == Side::bottom;
        }
        [[nodiscard]] double along() const { return upright() ? label.at.x : label.at.y; }
    };

    /// Labels a line where it meets the frame, if it does there.
    void label(const Axes& axes, Axis axis, double value, Point at) {
        const std::optional<Side> side = side_of(placing_.frame(), at);
        if (!side) {
            return;
        }
        Candidate candidate{{*side, at, "", "", ""}, axes.code()};
        if (candidate.upright() != (axis == Axis::east)) {
            return;
        }
        if (axes.code() == 0) {
            candidate.label.principal =
                angle_text(value, axis == Axis::east ? step_east_ : step_north_, axis);
        } else {
            const long metres = std::lround(value);
            const long km = metres / 1000;
            candidate.label.principal = fmt::format("{:02}", km % 100);
            if (km >= 100) {
                candidate.label.before = std::to_string(km / 100);
            }
            if (step_east_ < 1000.0) {
                candidate.label.after = fmt::format("{:03}", metres % 1000);
            }
        }
        candidates_.push_back(candidate);
    }

    /// Traced row by row: zones lie side by side.
    void draw_zone_edges() {
        const Box& frame = placing_.frame();
        std::map<std::pair<int, int>, Line> edges;
        for (int v = 0; v <= net_steps; ++v) {
            const double y = frame.y + frame.height * v / net_steps;
            const auto code_at = [&](double x) { return utm_code(placing_.on_ground({x, y})); };
            for (int u = 0; u < net_steps; ++u) {
                double left = frame.x + frame.width * u / net_steps;
                double right = frame.x + frame.width * (u + 1) / net_steps;
                const int before = code_at(left);
                const int after = code_at(right);
                if (before == after) {
                    continue;
                }
                for (int k = 0; k < net_steps / 2; ++k) {
                    const double middle = (left + right) / 2.0;
                    (code_at(middle) == before ? left : right) = middle;
                }
                edges[{zone_of(before), zone_of(after)}].push_back({left, y});
            }
        }
        for (const auto& [zones, edge] : edges) {
            grid_.strong_lines.push_back(edge);
            constexpr double away = 26.0;
            const Point at = edge[edge.size() / 12];
            grid_.zones.push_back({{at.x - away, at.y}, fmt::format("zone {}", zones.first)});
            grid_.zones.push_back({{at.x + away, at.y}, fmt::format("zone {}", zones.second)});
        }
    }

    /// Leaves out labels that would stand on others or over a corner of the frame.
    void thin_labels() {
        const double gap = 0.6 * least_gap_;
        const double corner = 0.25 * least_gap_;
        const Box& frame = placing_.frame();
        std::vector<Candidate> kept;
        for (const Candidate& candidate : candidates_) {
            const double at = candidate.along();
            const double start = candidate.upright() ? frame.x : frame.y;
            const double end = candidate.upright() ? frame.right() : frame.bottom();
            if (at - start > corner && end - at > corner &&
                std::ranges::none_of(kept, [&](const Candidate& other) {
                    return other.label.side == candidate.label.side &&
                           std::abs(other.along() - at) < gap;
                })) {
                kept.push_back(candidate);
            }
        }
        candidates_ = std::move(kept);
    }

    /// One label of each zone on the lower and the left side is written in full.
    void complete_labels() {
        std::set<std::pair<int, Side>> done;
        for (Candidate& candidate : candidates_) {
            GridLabel& label = candidate.label;
            if (!in_degrees() && label.after.empty() &&
                (label.side == Side::bottom || label.side == Side::left) &&
                done.insert({candidate.code, label.side}).second) {
                label.after = candidate.upright() ? "000 mE" : "000 mN";
            }
            grid_.labels.push_back(label);
        }
    }

    [[nodiscard]] std::string words() const {
        if (in_degrees()) {
            const auto angle = [](double step_deg) {
                return step_deg >= 1.0          ? fmt::format("{:g}°", step_deg)
                       : step_deg * 60.0 >= 1.0 ? fmt::format("{:g}′", step_deg * 60.0)
                                                : fmt::format("{:g}″", step_deg * 3600.0);
            };
            return step_east_ == step_north_
                       ? fmt::format("Longitude and latitude every {}, WGS 84", angle(step_east_))
                       : fmt::format("Longitude every {}, latitude every {}, WGS 84",
                                     angle(step_east_), angle(step_north_));
        }
        constexpr int first_southern = 32700;
        std::vector<std::string> zones;
        for (const int code : codes_) {
            zones.push_back(
                fmt::format("{} {}", zone_of(code), code < first_southern ? "north" : "south"));
        }
        // The grid is one of kilometres in whatever units people read lengths.
        const bool km = step_east_ >= 1000.0;
        return fmt::format("UTM grid every {:g} {}, zone{} {}, WGS 84",
                           km ? step_east_ / 1000.0 : step_east_, km ? "km" : "m",
                           zones.size() > 1 ? "s" : "", fmt::join(zones, " and "));
    }

    static double round_angle(double least_deg) {
        constexpr std::array steps_in_seconds{1.0,    2.0,    5.0,     10.0,    15.0,   30.0,
                                              60.0,   120.0,  300.0,   600.0,   900.0,  1800.0,
                                              3600.0, 7200.0, 18000.0, 36000.0, 54000.0};
        const auto found = std::ranges::find_if(
            steps_in_seconds, [&](double step) { return step / 3600.0 >= least_deg; });
        return (found == steps_in_seconds.end() ? 108000.0 : *found) / 3600.0;
    }

    const MapPlacing& placing_;
    std::vector<geo::LatLon> net_;
    double least_gap_;
    std::set<int> codes_; ///< of the zones on the map; 0 for longitude and latitude
    double step_east_ = 0.0;
    double step_north_ = 0.0;
    std::vector<Candidate> candidates_;
    Graticule grid_;
};

} // namespace

Graticule graticule(const MapPlacing& placing, double least_gap) {
    return GridDrawing(placing, least_gap).draw();
}

std::optional<geo::LatLon> grid_north_of(geo::LatLon from, double step_m) {
    const int code = utm_code(from);
    if (code == 0) {
        return std::nullopt;
    }
    const Axes axes(code);
    const Coordinates at = axes.of(from);
    return axes.place({at.east, at.north + step_m});
}

} // namespace earshot::report
