#include "earshot/base/error.hpp"
#include "report/draw/canvas.hpp"
#include "report/draw/map_style.hpp"
#include "report/draw/pen.hpp"
#include "report/draw/relief.hpp"
#include "terrain/native/gdal_errors.hpp"

#include <cpl_string.h>
#include <fmt/format.h>
#include <gdal_alg.h>
#include <gdal_priv.h>
#include <ogrsf_frmts.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <numbers>
#include <optional>
#include <utility>

namespace earshot::report {
namespace {

constexpr float void_height = -99999.0F;
constexpr double least_extent = 4.0; ///< of a contour on the page: less would be a speck

/// Rise from each cell to the next, metres per cell.
std::vector<double> rises(const ReliefGrid& grid) {
    std::vector<double> list;
    list.reserve(grid.height_m.size());
    for (int row = 0; row + 1 < grid.rows; ++row) {
        for (int column = 0; column + 1 < grid.columns; ++column) {
            const auto here = static_cast<double>(grid.height_m[grid.index(column, row)]);
            const auto east = static_cast<double>(grid.height_m[grid.index(column + 1, row)]);
            const auto south = static_cast<double>(grid.height_m[grid.index(column, row + 1)]);
            const double rise = std::hypot(east - here, south - here);
            if (std::isfinite(rise)) {
                list.push_back(rise);
            }
        }
    }
    return list;
}

GDALDatasetUniquePtr in_memory(const ReliefGrid& grid) {
    GDALDriver* driver = GetGDALDriverManager()->GetDriverByName("MEM");
    GDALDatasetUniquePtr dataset(
        driver == nullptr ? nullptr
                          : driver->Create("", grid.columns, grid.rows, 1, GDT_Float32, nullptr));
    if (dataset == nullptr) {
        return dataset;
    }
    std::vector<float> heights = grid.height_m;
    std::ranges::replace_if(
        heights, [](float height) { return std::isnan(height); }, void_height);
    // Contours come in cells from the upper left corner.
    std::array<double, 6> transform{0.0, 1.0, 0.0, 0.0, 0.0, 1.0};
    dataset->SetGeoTransform(transform.data());
    GDALRasterBand& band = *dataset->GetRasterBand(1);
    band.SetNoDataValue(static_cast<double>(void_height));
    if (band.RasterIO(GF_Write, 0, 0, grid.columns, grid.rows, heights.data(), grid.columns,
                      grid.rows, GDT_Float32, 0, 0, nullptr) != CE_None) {
        dataset.reset();
    }
    return dataset;
}

/// Cuts the corners of a line, which rounds it (G. M. Chaikin, "An algorithm for high-speed curve
/// generation", Computer Graphics and Image Processing 3, 1974).
std::vector<Point> rounded(const std::vector<Point>& line) {
    if (line.size() < 3) {
        return line;
    }
    std::vector<Point> result{line.front()};
    for (std::size_t k = 0; k + 1 < line.size(); ++k) {
        const Point a = line[k];
        const Point b = line[k + 1];
        result.push_back({0.75 * a.x + 0.25 * b.x, 0.75 * a.y + 0.25 * b.y});
        result.push_back({0.25 * a.x + 0.75 * b.x, 0.25 * a.y + 0.75 * b.y});
    }
    result.push_back(line.back());
    return result;
}

/// The longer side of the box around a line.
double extent(const std::vector<Point>& line) {
    const auto [left, right] = std::ranges::minmax(line, {}, &Point::x);
    const auto [top, bottom] = std::ranges::minmax(line, {}, &Point::y);
    return std::max(right.x - left.x, bottom.y - top.y);
}

Contour contour_of(const OGRLineString& line, double height_m, double interval_m,
                   const ReliefGrid& grid, const Box& box) {
    Contour contour;
    contour.height_m = height_m;
    contour.index = std::abs(std::remainder(height_m, index_interval(interval_m))) < 0.01;
    const double cell_pt = box.width / grid.columns;
    for (int k = 0; k < line.getNumPoints(); ++k) {
        contour.points.push_back(
            {box.x + line.getX(k) * cell_pt, box.y + line.getY(k) * box.height / grid.rows});
    }
    // Where cells are coarse on paper, their corners would show.
    constexpr double coarse_pt = 1.5;
    if (cell_pt > coarse_pt) {
        contour.points = rounded(contour.points);
    }
    return contour;
}

const TextStyle height_style{5.6, false, map_style::ink};
constexpr double room_around = 1.6; // between the line's ends and the number

double length_between(Point a, Point b) {
    return std::hypot(b.x - a.x, b.y - a.y);
}

/// Length from the first point of a line to each of its points.
std::vector<double> lengths_along(const std::vector<Point>& line) {
    std::vector<double> along{0.0};
    for (std::size_t k = 1; k < line.size(); ++k) {
        along.push_back(along.back() + length_between(line[k - 1], line[k]));
    }
    return along;
}

Box turned_box(Point middle, double width, double height, double angle) {
    const double across = std::abs(std::cos(angle));
    const double down = std::abs(std::sin(angle));
    const double w = width * across + height * down;
    const double h = width * down + height * across;
    return {middle.x - w / 2.0, middle.y - h / 2.0, w, h};
}

/// The straightest stretch of a contour that a label can take, near the middle of a piece of it.
std::optional<ContourLabel> best_label(const Contour& contour, const std::vector<double>& along,
                                       double from, double to, double width, double height,
                                       const Box& frame, const std::vector<Box>& taken) {
    constexpr double least_straightness = 0.93; // of the chord, in lengths along the line
    constexpr double least_clear = 5.0;         // around the label
    std::optional<ContourLabel> best;
    double straightest = least_straightness;
    const double reach = width + 2.0 * room_around;
    const std::vector<Point>& line = contour.points;
    for (std::size_t first = 0; first + 1 < line.size(); ++first) {
        if (along[first] < from) {
            continue;
        }
        const auto end = std::ranges::lower_bound(along, along[first] + reach);
        if (end == along.end() || *end > to) {
            break;
        }
        const auto last = static_cast<std::size_t>(end - along.begin());
        const Point a = line[first];
        const Point b = line[last];
        const double straightness = length_between(a, b) / (along[last] - along[first]);
        if (straightness <= straightest) {
            continue;
        }
        ContourLabel label;
        label.first = first;
        label.last = last;
        label.middle = {(a.x + b.x) / 2.0, (a.y + b.y) / 2.0};
        label.angle = std::atan2(b.y - a.y, b.x - a.x);
        if (std::abs(label.angle) > std::numbers::pi / 2.0) {
            label.angle -= std::copysign(std::numbers::pi, label.angle);
        }
        label.box = turned_box(label.middle, width, height, label.angle);
        const Box clear = label.box.grown(least_clear);
        if (frame.holds({clear.x, clear.y}) && frame.holds({clear.right(), clear.bottom()}) &&
            std::ranges::none_of(
                taken, [&](const Box& other) { return overlap_area(other, clear) > 0.0; })) {
            straightest = straightness;
            best = label;
        }
    }
    return best;
}

std::string height_text(double height_m) {
    return fmt::format("{:g}", height_m);
}

} // namespace

double contour_interval_m(const ReliefGrid& grid, double cell_pt) {
    constexpr double least_gap_pt = 1.0; // some 0.35 mm, on steep ground
    constexpr double mean_gap_pt = 5.0;
    constexpr double steep_share = 0.95;
    std::vector<double> list = rises(grid);
    if (list.empty()) {
        return 0.0;
    }
    double sum = 0.0;
    for (const double rise : list) {
        sum += rise;
    }
    const auto steep = list.begin() + static_cast<std::ptrdiff_t>(
                                          steep_share * static_cast<double>(list.size() - 1));
    std::ranges::nth_element(list, steep);
    const double wanted = std::max(*steep / cell_pt * least_gap_pt,
                                   sum / static_cast<double>(list.size()) / cell_pt * mean_gap_pt);
    float low = std::numeric_limits<float>::infinity();
    float high = -low;
    for (const float height : grid.height_m) {
        low = height < low ? height : low; // NaN is neither below nor above
        high = height > high ? height : high;
    }
    const double interval = round_length_above(std::max(wanted, 1.0));
    return static_cast<double>(high - low) > interval ? interval : 0.0;
}

double index_interval(double interval_m) {
    const double power = std::pow(10.0, std::floor(std::log10(interval_m) + 1e-9));
    return interval_m > 4.0 * power ? 20.0 * power : 5.0 * interval_m;
}

std::vector<Contour> contours(const ReliefGrid& grid, double interval_m, const Box& box) {
    const terrain::GdalErrors errors;
    const GDALDatasetUniquePtr heights = in_memory(grid);
    GDALDriver* driver = GetGDALDriverManager()->GetDriverByName("Memory");
    const GDALDatasetUniquePtr lines(
        driver == nullptr ? nullptr : driver->Create("", 0, 0, 0, GDT_Unknown, nullptr));
    OGRLayer* layer = lines == nullptr ? nullptr : lines->CreateLayer("contours");
    OGRFieldDefn height_field("height", OFTReal);
    CPLStringList options;
    options.SetNameValue("LEVEL_INTERVAL", fmt::format("{}", interval_m).c_str());
    options.SetNameValue("NODATA", fmt::format("{}", void_height).c_str());
    options.SetNameValue("ELEV_FIELD", "0");
    if (heights == nullptr || layer == nullptr ||
        layer->CreateField(&height_field) != OGRERR_NONE ||
        GDALContourGenerateEx(heights->GetRasterBand(1), layer, options.List(), nullptr, nullptr) !=
            CE_None) {
        throw Error(Fault::internal, fmt::format("contours cannot be drawn: {}", errors.reason()));
    }
    std::vector<Contour> found;
    for (const auto& feature : layer) {
        const OGRGeometry* shape = feature->GetGeometryRef();
        if (shape != nullptr && wkbFlatten(shape->getGeometryType()) == wkbLineString) {
            Contour contour = contour_of(*shape->toLineString(), feature->GetFieldAsDouble(0),
                                         interval_m, grid, box);
            if (extent(contour.points) >= least_extent) {
                found.push_back(std::move(contour));
            }
        }
    }
    return found;
}

ReliefGrid smoothed(const ReliefGrid& grid) {
    ReliefGrid result = grid;
    for (int row = 0; row < grid.rows; ++row) {
        for (int column = 0; column < grid.columns; ++column) {
            if (std::isnan(grid.height_m[grid.index(column, row)])) {
                continue;
            }
            double sum = 0.0;
            double weight = 0.0;
            for (int j = std::max(row - 1, 0); j <= std::min(row + 1, grid.rows - 1); ++j) {
                for (int i = std::max(column - 1, 0); i <= std::min(column + 1, grid.columns - 1);
                     ++i) {
                    const float height = grid.height_m[grid.index(i, j)];
                    if (!std::isnan(height)) {
                        const double share = (i == column ? 2.0 : 1.0) * (j == row ? 2.0 : 1.0);
                        sum += share * static_cast<double>(height);
                        weight += share;
                    }
                }
            }
            result.height_m[grid.index(column, row)] = static_cast<float>(sum / weight);
        }
    }
    return result;
}

std::vector<ContourLabel> label_contours(cairo_t* canvas, const std::vector<Contour>& contours,
                                         const Box& frame, std::vector<Box> taken) {
    constexpr double one_label_for = 260.0; // of the line's length
    constexpr double shortest = 60.0;
    std::vector<ContourLabel> labels;
    for (std::size_t k = 0; k < contours.size(); ++k) {
        const Contour& contour = contours[k];
        if (!contour.index || contour.points.size() < 3) {
            continue;
        }
        const std::vector<double> along = lengths_along(contour.points);
        if (along.back() < shortest) {
            continue;
        }
        const Text text(canvas, height_text(contour.height_m), height_style);
        const int pieces = std::max(1, static_cast<int>(along.back() / one_label_for));
        for (int piece = 0; piece < pieces; ++piece) {
            auto label = best_label(contour, along, along.back() * piece / pieces,
                                    along.back() * (piece + 1) / pieces, text.width_px(),
                                    text.height_px(), frame, taken);
            if (label) {
                label->contour = k;
                // Heights stand apart, so that they do not crowd on steep ground.
                taken.push_back(label->box.grown(14.0));
                labels.push_back(*label);
            }
        }
    }
    return labels;
}

void draw_contours(cairo_t* canvas, const std::vector<Contour>& contours,
                   const std::vector<ContourLabel>& labels) {
    constexpr double width = 0.28;
    constexpr double index_width = 0.6;
    const KeptState state(canvas);
    cairo_set_line_join(canvas, CAIRO_LINE_JOIN_ROUND);
    for (const bool index : {false, true}) {
        cairo_new_path(canvas);
        auto label = labels.begin(); // they come in the order of contours, then along them
        for (std::size_t k = 0; k < contours.size(); ++k) {
            if (contours[k].index != index) {
                continue;
            }
            bool drawing = false;
            for (std::size_t point = 0; point < contours[k].points.size(); ++point) {
                while (label != labels.end() &&
                       (label->contour < k || (label->contour == k && label->last <= point))) {
                    ++label;
                    drawing = false;
                }
                const bool hidden =
                    label != labels.end() && label->contour == k && label->first < point;
                if (!hidden) {
                    const auto [x, y] = contours[k].points[point];
                    drawing ? cairo_line_to(canvas, x, y) : cairo_move_to(canvas, x, y);
                    drawing = true;
                }
            }
        }
        cairo_set_line_width(canvas, index ? index_width : width);
        set_colour(canvas, map_style::contour, map_style::contour_opacity);
        cairo_stroke(canvas);
    }
    for (const ContourLabel& label : labels) {
        const Text text(canvas, height_text(contours[label.contour].height_m), height_style);
        const KeptState turned(canvas);
        cairo_translate(canvas, label.middle.x, label.middle.y);
        cairo_rotate(canvas, label.angle);
        text.draw_with_halo(-text.width_px() / 2.0, -text.height_px() / 2.0, 0.8);
    }
}

} // namespace earshot::report
