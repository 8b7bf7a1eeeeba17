#include "report/draw/path_section.hpp"

#include "geo/units.hpp"
#include "propagation/basic.hpp"
#include "propagation/multiple_edges.hpp"
#include "propagation/vegetation.hpp"
#include "report/draw/canvas.hpp"
#include "report/draw/page_style.hpp"
#include "report/say/numbers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>

namespace earshot::report {
namespace {

SectionPoint point_at(const link::TwoWayPath& path, std::size_t index, double radius_km) {
    const terrain::Profile& profile = path.profile;
    const double length_km = profile.length_km();
    const double d1 = profile.distance_km[index];
    const double d2 = length_km - d1;
    const double from_m = profile.ground_m.front() + path.a.antenna_height_m;
    const double to_m = profile.ground_m.back() + path.b.antenna_height_m;
    SectionPoint point;
    point.distance_km = d1;
    point.sea_m = propagation::earth_bulge_m(d1, d2, radius_km);
    point.ground_m = profile.ground_m[index] + point.sea_m;
    point.top_m = point.ground_m + (profile.surface ? 0.0 : profile.cover_m[index]);
    point.line_m = (from_m * d2 + to_m * d1) / length_km;
    if (d1 > 0.0 && d2 > 0.0) {
        point.fresnel_m = propagation::fresnel_radius_m(d1, d2, path.conditions.frequency_mhz);
    }
    point.woodland = !profile.woodland.empty() && profile.woodland[index] != 0;
    return point;
}

/// Ground and what counts as an obstacle on it.
std::vector<double> obstacle_heights(const link::TwoWayPath& path, double radius_km) {
    const terrain::Profile& profile = path.profile;
    std::vector<double> heights(profile.size());
    const bool woods = std::ranges::any_of(profile.woodland, [](auto w) { return w != 0; });
    std::vector<double> cover_m =
        woods ? propagation::split_woodland(profile, profile.woodland, path.a.antenna_height_m,
                                            path.b.antenna_height_m, radius_km,
                                            propagation::WoodlandLoss(path.conditions))
                    .cover_m
              : profile.cover_m;
    const bool houses = path.conditions.houses == propagation::Houses::obstacles;
    for (std::size_t k = 0; k < profile.woodland.size(); ++k) {
        if (profile.surface || (!houses && profile.woodland[k] == 0)) {
            cover_m[k] = 0.0;
        }
    }
    std::ranges::transform(profile.ground_m, cover_m, heights.begin(), std::plus<>());
    return heights;
}

/// Points of the profile, the one that matters most first.
std::vector<std::size_t> edge_indices(const link::TwoWayPath& path, double radius_km,
                                      std::size_t most) {
    const std::vector<double> heights = obstacle_heights(path, radius_km);
    propagation::ObstaclePath obstacles;
    obstacles.distance_km = path.profile.distance_km;
    obstacles.height_m = heights;
    obstacles.tx_height_m = path.profile.ground_m.front() + path.a.antenna_height_m;
    obstacles.rx_height_m = path.profile.ground_m.back() + path.b.antenna_height_m;
    obstacles.wavelength_m = propagation::wavelength_m(path.conditions.frequency_mhz);
    obstacles.effective_radius_km = radius_km;

    const propagation::Sight sight = propagation::line_of_sight(obstacles);
    if (!std::isfinite(sight.closest.nu)) {
        return {};
    }
    std::vector<std::size_t> indices{sight.closest.index};
    if (sight.clear) {
        return indices;
    }
    std::vector<propagation::Edge> edges =
        propagation::epstein_peterson(obstacles, propagation::KnifeEdgeForm::itu).edges;
    std::ranges::sort(edges, std::greater<>(), &propagation::Edge::nu);
    for (const propagation::Edge& edge : edges) {
        // Two marks on one summit would say the same twice.
        constexpr double near_share = 0.02;
        const double near_km = near_share * path.profile.length_km();
        const bool known = std::ranges::any_of(indices, [&](std::size_t index) {
            return std::abs(path.profile.distance_km[index] - edge.distance_km) < near_km;
        });
        if (!known && indices.size() < most) {
            indices.push_back(edge.index);
        }
    }
    return indices;
}

using namespace page_style;

/// What the section is painted with. Lightness alone keeps them apart in grey print.
struct SectionColours {
    Rgb zone = from_oklch(0.965, 0.018, 235.0);
    Rgb inner_zone = from_oklch(0.915, 0.04, 235.0);
    Rgb zone_rim = from_oklch(0.50, 0.09, 245.0);
    Rgb ground = from_oklch(0.80, 0.045, 80.0);
    Rgb ground_rim = from_oklch(0.36, 0.04, 70.0);
    Rgb woods = from_oklch(0.60, 0.075, 150.0);
    Rgb houses = from_oklch(0.64, 0.03, 40.0);
    Rgb height_line{0.80, 0.81, 0.83};
};

const SectionColours& colours() {
    static const SectionColours all;
    return all;
}

constexpr double flag_gap = 4.0; ///< between a pole and its text

std::string edge_text(const SectionEdge& edge) {
    const std::string where = geo::format_distance(1000.0 * edge.distance_km);
    if (edge.above_line_m >= 0.0) {
        return fmt::format("{}: {} above the line", where, height_text(edge.above_line_m));
    }
    return fmt::format("{}: {} below ({:.1f} F1)", where, height_text(-edge.above_line_m),
                       edge.clearance_f1);
}

class SectionDrawing {
public:
    SectionDrawing(const Pen& pen, const Box& area, const link::TwoWayPath& path)
        : pen_(pen), area_(area), path_(path), section_(path_section(path)),
          length_km_(path.profile.length_km()) {
        set_flags();
        plot_ = {area.x + axis_width, area.y + names_height + flags_height(),
                 area.width - 2.0 * axis_width, 0.0};
        plot_.height = area.bottom() - below_height - plot_.y;
        set_heights();
    }

    void draw() {
        {
            const KeptState kept(pen_.canvas(), plot_);
            draw_zones();
            draw_height_lines();
            draw_cover(true);
            draw_cover(false);
            draw_ground();
            draw_obstruction();
            draw_zone_rims();
        }
        pen_.line(x(0.0), y(line_at(0.0)), x(length_km_), y(line_at(length_km_)), {1.3, ink});
        draw_axes();
        draw_edges();
        draw_antenna(true);
        draw_antenna(false);
        draw_captions();
    }

private:
    static constexpr double axis_width = 36.0;
    static constexpr double names_height = 27.0;
    static constexpr double flag_height = 12.0;
    static constexpr double below_height = 72.0;

    const Pen& pen_;
    Box area_;
    const link::TwoWayPath& path_;
    PathSection section_;
    double length_km_;
    Box plot_;
    double low_m_ = 0.0;
    double level_m_ = 0.0; ///< of the line that shows the earth's curve
    double high_m_ = 1.0;
    std::vector<Flag> flags_;
    int flag_rows_ = 0;

    [[nodiscard]] double x(double km) const { return plot_.x + plot_.width * km / length_km_; }
    [[nodiscard]] double y(double m) const {
        return plot_.bottom() - plot_.height * (m - low_m_) / (high_m_ - low_m_);
    }
    [[nodiscard]] double line_at(double km) const {
        const double from_m = section_.points.front().line_m;
        return from_m + (section_.points.back().line_m - from_m) * km / length_km_;
    }
    [[nodiscard]] double flags_height() const { return flag_rows_ * flag_height + 4.0; }
    [[nodiscard]] double exaggeration() const {
        return (1000.0 * length_km_ / plot_.width) / ((high_m_ - low_m_) / plot_.height);
    }

    /// Where there is no room for all, the edges that matter least go without.
    void set_flags() {
        const double left = area_.x + axis_width;
        const double width = area_.width - 2.0 * axis_width;
        do {
            flags_.clear();
            for (const SectionEdge& edge : section_.edges) {
                flags_.push_back({left + width * edge.distance_km / length_km_,
                                  pen_.text_width(edge_text(edge), body) + 2.0 * flag_gap, 0,
                                  false});
            }
        } while (!place_flags(flags_, static_cast<int>(flags_.size()), left, left + width) &&
                 drop_least_edge());
        for (const Flag& flag : flags_) {
            flag_rows_ = std::max(flag_rows_, flag.row + 1);
        }
    }

    /// False if there is only one left.
    bool drop_least_edge() {
        if (section_.edges.size() < 2) {
            return false;
        }
        section_.edges.erase(
            std::ranges::max_element(section_.edges, {}, &SectionEdge::clearance_f1));
        return true;
    }

    void set_heights() {
        constexpr double least_span_m = 12.0;
        double low = section_.points.front().ground_m;
        double high = low;
        for (const SectionPoint& point : section_.points) {
            low = std::min(low, point.ground_m - point.sea_m);
            high = std::max({high, point.top_m, point.line_m + 0.6 * point.fresnel_m});
        }
        const double span = std::max(high - low, least_span_m);
        level_m_ = low - 0.04 * span;
        low_m_ = low - 0.10 * span;
        high_m_ = low + 1.03 * span;
    }

    template <typename Height>
    void trace(const Height& height) const {
        cairo_new_path(pen_.canvas());
        cairo_new_path(pen_.canvas());
        for (const SectionPoint& point : section_.points) {
            cairo_line_to(pen_.canvas(), x(point.distance_km), y(height(point)));
        }
    }

    /// The points of a profile may be few; the zone and the curve are drawn from the formula.
    /// What is traced back goes on from what was traced before.
    template <typename Height>
    void trace_smooth(const Height& height, bool back = false) const {
        constexpr int steps = 160;
        if (!back) {
            cairo_new_path(pen_.canvas());
        }
        for (int k = 0; k <= steps; ++k) {
            const double km = length_km_ * (back ? steps - k : k) / steps;
            cairo_line_to(pen_.canvas(), x(km), y(height(km)));
        }
    }

    [[nodiscard]] double sea_at(double km) const {
        return propagation::earth_bulge_m(km, length_km_ - km, section_.effective_radius_km);
    }
    [[nodiscard]] double fresnel_at(double km) const {
        const bool at_end = km <= 0.0 || km >= length_km_;
        return at_end ? 0.0
                      : propagation::fresnel_radius_m(km, length_km_ - km,
                                                      path_.conditions.frequency_mhz);
    }

    void draw_height_lines() const {
        const double step = tick_step(high_m_ - low_m_, 6);
        const double lowest = low_m_ - section_.greatest_bulge_m;
        for (double h = std::ceil(lowest / step) * step; h < high_m_; h += step) {
            trace_smooth([&](double km) { return h + sea_at(km); });
            pen_.stroke_path({0.4, colours().height_line});
        }
    }

    void zone(double share, const Rgb& colour) const {
        trace_smooth([&](double km) { return line_at(km) + share * fresnel_at(km); });
        trace_smooth([&](double km) { return line_at(km) - share * fresnel_at(km); }, true);
        pen_.fill_path(colour);
    }

    void draw_zones() const {
        zone(1.0, colours().zone);
        zone(0.6, colours().inner_zone);
    }

    void draw_zone_rims() const {
        for (const double side : {-1.0, 1.0}) {
            trace_smooth([&](double km) { return line_at(km) + side * fresnel_at(km); });
            pen_.stroke_path({0.4, colours().zone_rim});
            trace_smooth([&](double km) { return line_at(km) + side * 0.6 * fresnel_at(km); });
            pen_.stroke_path({0.9, colours().zone_rim, 3.0});
        }
    }

    /// Down to the lower edge; a line in it shows how level ground would lie on the curved earth.
    void draw_ground() const {
        trace([](const SectionPoint& point) { return point.ground_m; });
        cairo_line_to(pen_.canvas(), plot_.right(), plot_.bottom());
        cairo_line_to(pen_.canvas(), plot_.x, plot_.bottom());
        pen_.fill_path(colours().ground);
        trace([](const SectionPoint& point) { return point.ground_m; });
        pen_.stroke_path({0.9, colours().ground_rim});
        trace_smooth([&](double km) { return level_m_ + sea_at(km); });
        pen_.stroke_path({0.8, colours().ground_rim, 1.5});
    }

    /// Fills what covers the ground of one kind, run by run of points that have it.
    void draw_cover(bool woods) const {
        const auto& points = section_.points;
        const auto covered = [&](std::size_t k) {
            return points[k].woodland == woods && points[k].top_m > points[k].ground_m;
        };
        for (std::size_t k = 0; k < points.size(); ++k) {
            if (covered(k)) {
                std::size_t end = k;
                while (end + 1 < points.size() && covered(end + 1)) {
                    ++end;
                }
                cover_run(k, end, woods ? colours().woods : colours().houses);
                k = end;
            }
        }
    }

    /// From midway before the first to midway after the last point of a run. The ground is drawn
    /// over its lower part.
    void cover_run(std::size_t first, std::size_t last, const Rgb& colour) const {
        const auto& points = section_.points;
        const auto corner = [&](std::size_t k, std::size_t beside, double down) {
            const double km = (points[k].distance_km + points[beside].distance_km) / 2.0;
            const double m = (points[k].top_m + points[beside].top_m) / 2.0;
            cairo_line_to(pen_.canvas(), x(km), down > 0.0 ? plot_.bottom() : y(m));
        };
        const std::size_t before = first == 0 ? 0 : first - 1;
        const std::size_t after = std::min(last + 1, points.size() - 1);
        corner(first, before, 1.0);
        corner(first, before, 0.0);
        for (std::size_t k = first; k <= last; ++k) {
            cairo_line_to(pen_.canvas(), x(points[k].distance_km), y(points[k].top_m));
        }
        corner(last, after, 0.0);
        corner(last, after, 1.0);
        pen_.fill_path(colour);
    }

    /// Hatches ground and cover that stand above the line of sight.
    void draw_obstruction() const {
        cairo_t* canvas = pen_.canvas();
        const KeptState kept(canvas);
        trace([](const SectionPoint& point) { return point.top_m; });
        cairo_line_to(canvas, plot_.right(), plot_.bottom());
        cairo_line_to(canvas, plot_.x, plot_.bottom());
        cairo_clip(canvas);
        cairo_move_to(canvas, x(0.0), y(line_at(0.0)));
        cairo_line_to(canvas, x(length_km_), y(line_at(length_km_)));
        cairo_line_to(canvas, plot_.right(), plot_.y);
        cairo_line_to(canvas, plot_.x, plot_.y);
        cairo_close_path(canvas);
        pen_.hatch_path(3.2, {0.6, ink});
    }

    void draw_axes() const {
        const double base = plot_.bottom();
        pen_.line(plot_.x, plot_.y, plot_.x, base, {0.6, ink});
        pen_.line(plot_.right(), plot_.y, plot_.right(), base, {0.6, ink});
        // The units that people asked for come first.
        const bool imperial = geo::units() == geo::Units::imperial;
        height_axis(imperial ? plot_.right() : plot_.x, 1.0, imperial ? 1.0 : -1.0, "m");
        height_axis(imperial ? plot_.x : plot_.right(), geo::metres_per_foot, imperial ? -1.0 : 1.0,
                    "ft");
        const double row = pen_.line_height(body) + 3.0;
        distance_axis(base + 5.0 + (imperial ? row : 0.0), 1.0, "km");
        distance_axis(base + 5.0 + (imperial ? 0.0 : row), geo::metres_per_mile / 1000.0, "mi");
    }

    void height_axis(double at, double unit_m, double side, const std::string& unit) const {
        const double step = tick_step((high_m_ - low_m_) / unit_m, 6);
        const double text_height = pen_.line_height(body);
        const Anchor anchor = side < 0.0 ? Anchor::right : Anchor::left;
        double last_y = 0.0;
        for (double h = std::ceil(low_m_ / unit_m / step) * step; h * unit_m <= high_m_;
             h += step) {
            const double tick = y(h * unit_m);
            pen_.line(at, tick, at + side * 3.0, tick, {0.6, ink});
            pen_.text(at + side * 5.0, tick - text_height / 2.0, fmt::format("{:g}", h + 0.0), body,
                      anchor);
            last_y = tick;
        }
        // The unit stands over the highest number.
        pen_.text(at + side * 5.0, last_y - 1.55 * text_height, unit, body_bold, anchor);
    }

    void distance_axis(double top, double unit_km, const std::string& unit) const {
        const double step = tick_step(length_km_ / unit_km, 10);
        pen_.line(plot_.x, top, plot_.right(), top, {0.6, ink});
        for (int k = 0; k * step * unit_km <= length_km_ * (1.0 + 1e-9); ++k) {
            const double tick = x(k * step * unit_km);
            pen_.line(tick, top, tick, top + 3.0, {0.6, ink});
            pen_.text(tick, top + 3.0, fmt::format("{:g}", k * step), body, Anchor::middle);
        }
        pen_.text(plot_.x - 14.0, top + 3.0, unit, body_bold, Anchor::right);
    }

    void draw_edges() const {
        const double top = area_.y + names_height;
        for (std::size_t k = 0; k < flags_.size(); ++k) {
            const SectionEdge& edge = section_.edges[k];
            const Flag& flag = flags_[k];
            const double text_top = top + flag.row * flag_height;
            pen_.line(flag.x, text_top + 1.0, flag.x, y(edge.height_m), {0.6, ink});
            pen_.fill_disc(flag.x, y(edge.height_m), 2.2, ink);
            pen_.text(flag.x + (flag.left ? -flag_gap : flag_gap), text_top, edge_text(edge), body,
                      flag.left ? Anchor::right : Anchor::left);
        }
    }

    void draw_antenna(bool first) const {
        const link::Station& station = first ? path_.a : path_.b;
        const SectionPoint& point = first ? section_.points.front() : section_.points.back();
        const double at = first ? plot_.x : plot_.right();
        const double top = y(point.ground_m + station.antenna_height_m);
        pen_.line(at, y(point.ground_m), at, top, {2.6, ink});
        pen_.fill_disc(at, top, 4.6, paper);
        pen_.ring(at, top, 4.0, {1.4, ink});
        pen_.fill_disc(at, top, 1.7, ink);

        const double half = area_.width / 2.0 - 8.0;
        const double side = first ? area_.x : area_.right();
        const Anchor anchor = first ? Anchor::left : Anchor::right;
        pen_.text(side, area_.y, station.name, heading, anchor, half);
        pen_.text(side, area_.y + pen_.line_height(heading),
                  fmt::format("ground {}, antenna {} above it", height_text(point.ground_m),
                              height_text(station.antenna_height_m)),
                  body, anchor, half);
    }

    void draw_captions() const {
        const double row = pen_.line_height(body) + 3.0;
        const double top = draw_key(plot_.bottom() + 5.0 + 2.0 * row + 4.0);
        const double k = section_.effective_radius_km / propagation::earth_radius_km;
        const std::string bulge = section_.greatest_bulge_m < 0.05
                                      ? height_text(section_.greatest_bulge_m, 3)
                                      : height_text(section_.greatest_bulge_m);
        const std::string words = fmt::format(
            "Heights are drawn {:.{}f} times as tall as distances. So that rays run straight, the "
            "ground is bent with the effective earth (k\u00a0=\u00a0{:.2f}, dotted line), by {} in "
            "the middle.",
            exaggeration(), exaggeration() < 10.0 ? 1 : 0, k, bulge);
        pen_.paragraph(area_.x, top, words, small, area_.width, 2);
    }

    struct KeyEntry {
        std::string words;
        std::function<void(const Box&)> sample;
    };

    /// What is drawn how, in as many rows as it takes. Returns the y under it.
    double draw_key(double top) const {
        const double height = pen_.line_height(body);
        double left = area_.x;
        for (const KeyEntry& entry : key()) {
            const double width = 22.0 + pen_.text_width(entry.words, body);
            if (left > area_.x && left + width > area_.right()) {
                left = area_.x;
                top += height + 2.0;
            }
            entry.sample({left, top + 2.0, 18.0, height - 4.0});
            pen_.text(left + 22.0, top, entry.words, body);
            left += width + 11.0;
        }
        return top + height + 3.0;
    }

    [[nodiscard]] std::vector<KeyEntry> key() const {
        const auto plain = [this](const Rgb& colour) {
            return [this, colour](const Box& box) { pen_.fill(box, colour); };
        };
        const auto rimmed = [this](const Rgb& colour, const Stroke& rim) {
            return [this, colour, rim](const Box& box) {
                pen_.fill(box, colour);
                pen_.line(box.x, box.y, box.right(), box.y, rim);
                pen_.line(box.x, box.bottom(), box.right(), box.bottom(), rim);
            };
        };
        std::vector<KeyEntry> entries;
        entries.push_back({"line of sight", [this](const Box& box) {
                               const double middle = box.y + box.height / 2.0;
                               pen_.line(box.x, middle, box.right(), middle, {1.3, ink});
                           }});
        entries.push_back({"0.6 of the first Fresnel zone",
                           rimmed(colours().inner_zone, {0.9, colours().zone_rim, 3.0})});
        entries.push_back({"all of it", rimmed(colours().zone, {0.4, colours().zone_rim})});
        entries.push_back({"ground", plain(colours().ground)});
        const auto has_cover = [&](bool woods) {
            return std::ranges::any_of(section_.points, [woods](const SectionPoint& point) {
                return point.woodland == woods && point.top_m > point.ground_m;
            });
        };
        if (has_cover(true)) {
            entries.push_back({"woods", plain(colours().woods)});
        }
        if (has_cover(false)) {
            entries.push_back({"other cover", plain(colours().houses)});
        }
        if (std::ranges::any_of(section_.points, [](const SectionPoint& point) {
                return point.top_m > point.line_m && point.fresnel_m > 0.0;
            })) {
            entries.push_back({"in the way", [this](const Box& box) {
                                   pen_.fill(box, colours().ground);
                                   cairo_rectangle(pen_.canvas(), box.x, box.y, box.width,
                                                   box.height);
                                   pen_.hatch_path(3.2, {0.6, ink});
                               }});
        }
        return entries;
    }
};

struct Span {
    double from;
    double to;
};

Span text_of(const Flag& flag) {
    return flag.left ? Span{flag.x - flag.width, flag.x - flag_gap}
                     : Span{flag.x + flag_gap, flag.x + flag.width};
}

bool clash(const Flag& a, const Flag& b) {
    const Span one = text_of(a);
    const Span other = text_of(b);
    if (a.row == b.row) {
        return one.from < other.to && other.from < one.to;
    }
    // The pole of the higher flag runs down past the text of the lower one.
    const Flag& higher = a.row < b.row ? a : b;
    const Span& lower = a.row < b.row ? other : one;
    return higher.x > lower.from - 1.5 && higher.x < lower.to + 1.5;
}

/// Tries every row and side for one flag after another, and keeps the best of all.
class FlagSearch {
public:
    FlagSearch(std::vector<Flag>& flags, int rows, double left, double right)
        : flags_(flags), rows_(rows), left_(left), right_(right), best_(flags) {}

    /// False if even the best way has a clash.
    bool run() {
        place(0, 0.0);
        flags_ = best_;
        return least_ < clash_cost;
    }

private:
    /// Far more than all poles of a picture together.
    static constexpr double clash_cost = 1000.0;

    std::vector<Flag>& flags_;
    int rows_;
    double left_, right_;
    std::vector<Flag> best_;
    double least_ = 1e12;

    void place(std::size_t k, double cost) {
        if (cost >= least_) {
            return;
        }
        if (k == flags_.size()) {
            least_ = cost;
            best_ = flags_;
            return;
        }
        for (int row = rows_ - 1; row >= 0; --row) {
            for (const bool to_left : {false, true}) {
                flags_[k].row = row;
                flags_[k].left = to_left;
                place(k + 1, cost + cost_of(k));
            }
        }
    }

    [[nodiscard]] double cost_of(std::size_t k) const {
        const Span text = text_of(flags_[k]);
        const auto before = flags_.begin() + static_cast<std::ptrdiff_t>(k);
        const auto clashes = std::count_if(
            flags_.begin(), before, [&](const Flag& other) { return clash(flags_[k], other); });
        const double outside = std::max(0.0, left_ - text.from) + std::max(0.0, text.to - right_);
        // Short poles, and the text to the right, where eyes look for it.
        return clash_cost * static_cast<double>(clashes) +
               (outside > 0.0 ? clash_cost + outside : 0.0) +
               static_cast<double>(rows_ - flags_[k].row) + (flags_[k].left ? 0.1 : 0.0);
    }
};

} // namespace

PathSection path_section(const link::TwoWayPath& path, std::size_t most_edges) {
    PathSection section;
    section.effective_radius_km = propagation::radius_km(path.conditions);
    const double half_km = path.profile.length_km() / 2.0;
    section.greatest_bulge_m =
        propagation::earth_bulge_m(half_km, half_km, section.effective_radius_km);
    section.points.reserve(path.profile.size());
    for (std::size_t i = 0; i < path.profile.size(); ++i) {
        section.points.push_back(point_at(path, i, section.effective_radius_km));
    }
    const std::vector<double> heights = obstacle_heights(path, section.effective_radius_km);
    for (const std::size_t index : edge_indices(path, section.effective_radius_km, most_edges)) {
        const SectionPoint& point = section.points[index];
        const double height_m = heights[index] + point.sea_m;
        section.edges.push_back({point.distance_km, height_m, height_m - point.line_m,
                                 (point.line_m - height_m) / point.fresnel_m});
    }
    std::ranges::sort(section.edges, {}, &SectionEdge::distance_km);
    return section;
}

bool place_flags(std::vector<Flag>& flags, int rows, double left, double right) {
    if (flags.empty()) {
        return true;
    }
    const bool clear = FlagSearch(flags, rows, left, right).run();
    // No empty rows on top.
    const int unused = std::ranges::min_element(flags, {}, &Flag::row)->row;
    for (Flag& flag : flags) {
        flag.row -= unused;
    }
    return clear;
}

void draw_path_section(const Pen& pen, const Box& area, const link::TwoWayPath& path) {
    SectionDrawing(pen, area, path).draw();
}

} // namespace earshot::report
