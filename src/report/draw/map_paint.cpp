#include "base/parallel.hpp"
#include "report/draw/map_pieces.hpp"
#include "report/draw/map_style.hpp"
#include "report/draw/relief.hpp"
#include "report/say/margin_classes.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <numbers>
#include <vector>

namespace earshot::report {

double relief_grey(float shade) {
    if (std::isnan(shade)) {
        return map_style::level_grey;
    }
    return std::clamp(map_style::level_grey +
                          map_style::relief_contrast * (static_cast<double>(shade) - level_shade),
                      0.0, 1.0);
}

namespace {

/// Ground under a class. The class's colour lies over the relief partly see-through, and is picked
/// so that level ground shows the very colour of the legend.
Rgb covered_ground(const Rgb& colour, double grey) {
    const double relief = (1.0 - map_style::class_opacity) * (grey - map_style::level_grey);
    return {std::clamp(colour.red + relief, 0.0, 1.0), std::clamp(colour.green + relief, 0.0, 1.0),
            std::clamp(colour.blue + relief, 0.0, 1.0)};
}

Rgb grey_of(double value) {
    return {value, value, value};
}

Rgb mixed(const Rgb& from, const Rgb& to, double share) {
    const auto part = [share](double a, double b) { return a + (b - a) * share; };
    return {part(from.red, to.red), part(from.green, to.green), part(from.blue, to.blue)};
}

/// Ground without prediction: veiled, with thin slanting lines.
Rgb unknown_ground(double grey, int x, int y, double hatch_px) {
    const Rgb veiled = grey_of(grey + (1.0 - grey) * map_style::unknown_veil);
    const double across = std::fmod(x + y + 1.0, hatch_px);
    const double away = std::min(across, hatch_px - across) / std::numbers::sqrt2;
    const double half_line = 0.05 * hatch_px;
    return mixed(veiled, map_style::hatch, std::clamp(half_line + 0.5 - away, 0.0, 1.0));
}

/// What a cell shows: the number of its class, or one of the two after the last.
class CellClasses {
public:
    explicit CellClasses(const coverage::CoverageRaster& map) : columns_(map.columns) {
        const auto classes = margin_classes();
        not_heard_ = static_cast<std::uint8_t>(classes.size());
        const std::vector<float>& margin = map.bands.front().values;
        shown_.resize(margin.size());
        std::ranges::transform(margin, shown_.begin(), [&](float value) -> std::uint8_t {
            if (std::isnan(value)) {
                return unknown();
            }
            const MarginClass* heard = margin_class_of(static_cast<double>(value));
            return heard == nullptr ? not_heard_
                                    : static_cast<std::uint8_t>(heard - classes.data());
        });
    }
    [[nodiscard]] std::uint8_t at(int column, int row) const {
        return shown_[static_cast<std::size_t>(row) * static_cast<std::size_t>(columns_) +
                      static_cast<std::size_t>(column)];
    }
    [[nodiscard]] std::uint8_t not_heard() const { return not_heard_; }
    [[nodiscard]] std::uint8_t unknown() const { return static_cast<std::uint8_t>(not_heard_ + 1); }

private:
    int columns_;
    std::uint8_t not_heard_ = 0;
    std::vector<std::uint8_t> shown_;
};

/// Which cells the pixels of a row or column fall on. One where cells are larger than pixels,
/// several where smaller, so that fine detail turns into a mean and not into noise.
class PixelCells {
public:
    PixelCells(int cells, int pixels)
        : samples_(std::clamp(static_cast<int>(std::ceil(static_cast<double>(cells) / pixels)), 1,
                              most)) {
        for (int k = 0; k < pixels * samples_; ++k) {
            cells_.push_back(std::min(
                static_cast<int>((k + 0.5) / samples_ * static_cast<double>(cells) / pixels),
                cells - 1));
        }
    }
    [[nodiscard]] int samples() const { return samples_; }
    [[nodiscard]] int cell(int pixel, int sample) const {
        return cells_[static_cast<std::size_t>(pixel) * static_cast<std::size_t>(samples_) +
                      static_cast<std::size_t>(sample)];
    }

private:
    static constexpr int most = 5;
    int samples_;
    std::vector<int> cells_;
};

std::uint32_t packed(const Rgb& colour) {
    const auto part = [](double value) {
        return static_cast<std::uint32_t>(std::lround(255.0 * value));
    };
    return part(colour.red) << 16U | part(colour.green) << 8U | part(colour.blue);
}

std::uint32_t* row_of(cairo_surface_t* image, int y) {
    return reinterpret_cast<std::uint32_t*>(cairo_image_surface_get_data(image) +
                                            static_cast<std::ptrdiff_t>(y) *
                                                cairo_image_surface_get_stride(image));
}

} // namespace

Surface paint_map(const coverage::CoverageRaster& map, const terrain::HeightGrid& ground,
                  int width_px, int height_px, double hatch_px) {
    Surface image = image_surface(CAIRO_FORMAT_RGB24, width_px, height_px);
    const std::vector<float> shade = relief_under(map, ground, width_px, height_px);
    const CellClasses cells(map);
    const auto classes = margin_classes();
    const PixelCells across(map.columns, width_px);
    const PixelCells down(map.rows, height_px);
    const auto colour_of = [&](std::uint8_t shown, double grey, int x, int y) {
        if (shown == cells.unknown()) {
            return unknown_ground(grey, x, y, hatch_px);
        }
        return shown == cells.not_heard() ? grey_of(grey)
                                          : covered_ground(classes[shown].colour, grey);
    };
    const auto paint_row = [&](std::size_t row, unsigned /*worker*/) {
        const int y = static_cast<int>(row);
        std::uint32_t* pixels = row_of(image.get(), y);
        const double share = 1.0 / (across.samples() * down.samples());
        for (int x = 0; x < width_px; ++x) {
            std::array<int, 16> count{};
            for (int j = 0; j < down.samples(); ++j) {
                for (int i = 0; i < across.samples(); ++i) {
                    ++count[cells.at(across.cell(x, i), down.cell(y, j))];
                }
            }
            const double grey = relief_grey(
                shade[row * static_cast<std::size_t>(width_px) + static_cast<std::size_t>(x)]);
            Rgb sum;
            for (std::uint8_t shown = 0; shown <= cells.unknown(); ++shown) {
                if (count[shown] > 0) {
                    const Rgb colour = colour_of(shown, grey, x, y);
                    sum.red += colour.red * share * count[shown];
                    sum.green += colour.green * share * count[shown];
                    sum.blue += colour.blue * share * count[shown];
                }
            }
            pixels[x] = packed(sum);
        }
    };
    cairo_surface_flush(image.get());
    parallel_for(static_cast<std::size_t>(height_px), default_thread_count(), paint_row);
    cairo_surface_mark_dirty(image.get());
    return image;
}

Surface paint_unknown(int width_px, int height_px, double hatch_px) {
    Surface image = image_surface(CAIRO_FORMAT_RGB24, width_px, height_px);
    cairo_surface_flush(image.get());
    for (int y = 0; y < height_px; ++y) {
        std::uint32_t* pixels = row_of(image.get(), y);
        for (int x = 0; x < width_px; ++x) {
            pixels[x] = packed(unknown_ground(map_style::level_grey, x, y, hatch_px));
        }
    }
    cairo_surface_mark_dirty(image.get());
    return image;
}

} // namespace earshot::report
