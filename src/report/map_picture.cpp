#include "earshot/report/map_picture.hpp"

#include "earshot/base/error.hpp"
#include "earshot/base/interrupt.hpp"
#include "earshot/base/output_file.hpp"
#include "earshot/geo/units.hpp"
#include "earshot/report/hillshade.hpp"
#include "earshot/report/margin_classes.hpp"
#include "map_layout.hpp"
#include "map_relief.hpp"
#include "map_style.hpp"
#include "text.hpp"

#include <cairo.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <memory>
#include <numbers>
#include <optional>

namespace earshot::report {

double relief_grey(float shade) {
    if (std::isnan(shade)) {
        return map_style::level_grey;
    }
    return std::clamp(map_style::level_grey +
                          map_style::relief_contrast * (static_cast<double>(shade) - level_shade),
                      0.0, 1.0);
}

Rgb covered_ground(const Rgb& colour, double grey) {
    const double relief = (1.0 - map_style::class_opacity) * (grey - map_style::level_grey);
    return {std::clamp(colour.red + relief, 0.0, 1.0), std::clamp(colour.green + relief, 0.0, 1.0),
            std::clamp(colour.blue + relief, 0.0, 1.0)};
}

namespace {

constexpr std::string_view caution =
    "A prediction, not a guarantee: do not rely on it for life safety. Check licences, power "
    "limits and local rules.";

struct Unref {
    void operator()(cairo_surface_t* surface) const { cairo_surface_destroy(surface); }
    void operator()(cairo_t* canvas) const { cairo_destroy(canvas); }
    void operator()(cairo_pattern_t* pattern) const { cairo_pattern_destroy(pattern); }
};
using Surface = std::unique_ptr<cairo_surface_t, Unref>;
using Canvas = std::unique_ptr<cairo_t, Unref>;
using Pattern = std::unique_ptr<cairo_pattern_t, Unref>;

void set_colour(cairo_t* canvas, const Rgb& colour) {
    cairo_set_source_rgb(canvas, colour.red, colour.green, colour.blue);
}

/// Size of the whole map on the ground, measured through its middle.
struct GroundSize {
    double across_m;
    double down_m;
};

GroundSize ground_size(const sweep::CoverageRaster& map) {
    const auto middle =
        map.georeference.position_of({(map.columns - 1) / 2.0, (map.rows - 1) / 2.0});
    const auto cell = map.georeference.cell_size_at(middle);
    return {cell.across_m * map.columns, cell.down_m * map.rows};
}

// ---- The map itself, pixel by pixel -------------------------------------------------------------

/// Sum of colours, for means.
class ColourMean {
public:
    void add(const Rgb& colour) {
        sum_.red += colour.red;
        sum_.green += colour.green;
        sum_.blue += colour.blue;
        ++count_;
    }
    [[nodiscard]] std::uint32_t packed() const {
        const auto part = [this](double sum) {
            return static_cast<std::uint32_t>(std::lround(255.0 * sum / count_));
        };
        return part(sum_.red) << 16U | part(sum_.green) << 8U | part(sum_.blue);
    }

private:
    Rgb sum_;
    int count_ = 0;
};

/// A map's colours and, apart, where it knows nothing (the hatch goes there).
struct MapImage {
    Surface colours;
    Surface unknown;
};

Surface image_surface(cairo_format_t format, int width, int height) {
    Surface surface(cairo_image_surface_create(format, width, height));
    if (cairo_surface_status(surface.get()) != CAIRO_STATUS_SUCCESS) {
        throw Error(ExitCode::memory,
                    fmt::format("a picture of {} x {} pixels does not fit in memory; ask for a "
                                "narrower one",
                                width, height));
    }
    return surface;
}

/// Cells sampled along one side of a pixel: one where cells are larger than pixels, several where
/// smaller, so that fine detail turns into a mean and not into noise.
int samples_per_pixel(int cells, int pixels) {
    constexpr int most = 5;
    return std::clamp(static_cast<int>(std::ceil(static_cast<double>(cells) / pixels)), 1, most);
}

Rgb veiled(double grey) {
    const double value = grey + (1.0 - grey) * map_style::unknown_veil;
    return {value, value, value};
}

MapImage paint_map(const sweep::CoverageRaster& map, const std::vector<float>& shade, int width,
                   int height) {
    MapImage image{image_surface(CAIRO_FORMAT_RGB24, width, height),
                   image_surface(CAIRO_FORMAT_A8, width, height)};
    const std::vector<float>& margin = map.bands.front().values;
    const int samples_across = samples_per_pixel(map.columns, width);
    const int samples_down = samples_per_pixel(map.rows, height);
    const int samples = samples_across * samples_down;
    unsigned char* colours = cairo_image_surface_get_data(image.colours.get());
    unsigned char* unknown = cairo_image_surface_get_data(image.unknown.get());
    const std::ptrdiff_t colour_stride = cairo_image_surface_get_stride(image.colours.get());
    const std::ptrdiff_t unknown_stride = cairo_image_surface_get_stride(image.unknown.get());
    for (int y = 0; y < height; ++y) {
        throw_if_interrupted();
        auto* colour_row = reinterpret_cast<std::uint32_t*>(colours + y * colour_stride);
        unsigned char* unknown_row = unknown + y * unknown_stride;
        for (int x = 0; x < width; ++x) {
            const double grey =
                relief_grey(shade[static_cast<std::size_t>(y) * static_cast<std::size_t>(width) +
                                  static_cast<std::size_t>(x)]);
            ColourMean mean;
            int unknown_samples = 0;
            for (int k = 0; k < samples; ++k) {
                const int step_down = k / samples_across;
                const double across = (k % samples_across + 0.5) / samples_across;
                const double down = (step_down + 0.5) / samples_down;
                const int column =
                    std::min(static_cast<int>((x + across) * map.columns / width), map.columns - 1);
                const int row =
                    std::min(static_cast<int>((y + down) * map.rows / height), map.rows - 1);
                const float value =
                    margin[static_cast<std::size_t>(row) * static_cast<std::size_t>(map.columns) +
                           static_cast<std::size_t>(column)];
                const MarginClass* heard = margin_class_of(static_cast<double>(value));
                if (std::isnan(value)) {
                    ++unknown_samples;
                    mean.add(veiled(grey));
                } else {
                    mean.add(heard == nullptr ? Rgb{grey, grey, grey}
                                              : covered_ground(heard->colour, grey));
                }
            }
            colour_row[x] = mean.packed();
            unknown_row[x] = static_cast<unsigned char>(255 * unknown_samples / samples);
        }
    }
    cairo_surface_mark_dirty(image.colours.get());
    cairo_surface_mark_dirty(image.unknown.get());
    return image;
}

/// Thin slanting lines, for ground without prediction.
Pattern hatch_pattern(double unit) {
    const int period = std::max(6, static_cast<int>(std::lround(14.0 * unit)));
    const Surface tile = image_surface(CAIRO_FORMAT_ARGB32, period, period);
    const Canvas canvas(cairo_create(tile.get()));
    set_colour(canvas.get(), map_style::hatch);
    cairo_set_line_width(canvas.get(), std::max(0.9, 1.1 * unit));
    // The same line three times, shifted by a period, so that the corners of tiles join.
    for (const int shift : {-period, 0, period}) {
        cairo_move_to(canvas.get(), shift - 1.0, period + 1.0);
        cairo_line_to(canvas.get(), shift + period + 1.0, -1.0);
    }
    cairo_stroke(canvas.get());
    Pattern pattern(cairo_pattern_create_for_surface(tile.get()));
    cairo_pattern_set_extend(pattern.get(), CAIRO_EXTEND_REPEAT);
    return pattern;
}

// ---- Marks --------------------------------------------------------------------------------------

constexpr double station_radius = 7.5; // in units, as all sizes below
constexpr double place_radius = 5.0;

/// Draws the current path light then dark, so that it shows on any ground.
void stroke_with_rim(cairo_t* canvas, double line_width, double rim) {
    cairo_set_line_width(canvas, line_width + 2.0 * rim);
    set_colour(canvas, map_style::paper);
    cairo_stroke_preserve(canvas);
    cairo_set_line_width(canvas, line_width);
    set_colour(canvas, map_style::ink);
    cairo_stroke(canvas);
}

/// A ring with its centre on the antenna and waves to both sides.
void draw_station_symbol(cairo_t* canvas, double x, double y, double unit) {
    constexpr double pi = std::numbers::pi;
    for (const double radius : {1.75 * station_radius, station_radius}) {
        const bool waves = radius > station_radius;
        cairo_new_path(canvas);
        if (waves) {
            cairo_new_sub_path(canvas);
            cairo_arc(canvas, x, y, radius * unit, -pi / 5.0, pi / 5.0);
            cairo_new_sub_path(canvas);
            cairo_arc(canvas, x, y, radius * unit, pi - pi / 5.0, pi + pi / 5.0);
        } else {
            cairo_arc(canvas, x, y, radius * unit, 0.0, 2.0 * pi);
        }
        stroke_with_rim(canvas, 2.4 * unit, 1.8 * unit);
    }
    cairo_arc(canvas, x, y, 0.75 * station_radius * unit, 0.0, 2.0 * pi);
    set_colour(canvas, map_style::paper);
    cairo_fill(canvas);
    cairo_arc(canvas, x, y, 0.42 * station_radius * unit, 0.0, 2.0 * pi);
    set_colour(canvas, map_style::ink);
    cairo_fill(canvas);
}

void draw_place_symbol(cairo_t* canvas, double x, double y, double unit) {
    const double half = place_radius * unit;
    cairo_new_path(canvas);
    cairo_move_to(canvas, x, y - half);
    cairo_line_to(canvas, x + half, y);
    cairo_line_to(canvas, x, y + half);
    cairo_line_to(canvas, x - half, y);
    cairo_close_path(canvas);
    cairo_set_line_join(canvas, CAIRO_LINE_JOIN_MITER);
    stroke_with_rim(canvas, 1.2 * unit, 1.8 * unit);
    cairo_move_to(canvas, x, y - half);
    cairo_line_to(canvas, x + half, y);
    cairo_line_to(canvas, x, y + half);
    cairo_line_to(canvas, x - half, y);
    cairo_close_path(canvas);
    cairo_fill(canvas);
}

void draw_symbol(cairo_t* canvas, bool station, double x, double y, double unit) {
    if (station) {
        draw_station_symbol(canvas, x, y, unit);
    } else {
        draw_place_symbol(canvas, x, y, unit);
    }
}

Box symbol_box(bool station, double x, double y, double unit) {
    const double half_width = (station ? 1.95 * station_radius : 1.2 * place_radius) * unit;
    const double half_height = (station ? 1.2 * station_radius : 1.2 * place_radius) * unit;
    return {x - half_width, y - half_height, 2.0 * half_width, 2.0 * half_height};
}

/// Where a mark stands on the picture; nothing if that is off the map.
std::optional<Box> mark_box(const sweep::CoverageRaster& map, const PictureMark& mark,
                            const Box& frame, double unit) {
    const terrain::CellPosition cell = map.georeference.cell_of(mark.position);
    const double x = frame.x + (cell.column + 0.5) * frame.width / map.columns;
    const double y = frame.y + (cell.row + 0.5) * frame.height / map.rows;
    // Written so that NaN is off the map.
    if (!(x >= frame.x && x <= frame.right() && y >= frame.y && y <= frame.bottom())) {
        return std::nullopt;
    }
    return symbol_box(mark.station, x, y, unit);
}

void draw_marks(cairo_t* canvas, const sweep::CoverageRaster& map,
                const std::vector<PictureMark>& marks, const Box& frame, double unit) {
    constexpr double widest_label = 0.45; // of the map
    const double halo = 2.6 * unit;
    const Box inside{frame.x + 2.0 * halo, frame.y + 2.0 * halo, frame.width - 4.0 * halo,
                     frame.height - 4.0 * halo};
    struct Placed {
        const PictureMark* mark;
        Box box;
    };
    std::vector<Placed> placed;
    std::vector<Box> taken;
    for (const PictureMark& mark : marks) {
        if (const auto box = mark_box(map, mark, frame, unit)) {
            placed.push_back({&mark, *box});
            taken.push_back(*box);
        }
    }
    // The last mark drawn lies on top, and the first is the one that matters most.
    for (auto at = placed.rbegin(); at != placed.rend(); ++at) {
        draw_symbol(canvas, at->mark->station, at->box.x + at->box.width / 2.0,
                    at->box.y + at->box.height / 2.0, unit);
    }
    for (const auto& [mark, box] : placed) {
        if (mark->label.empty()) {
            continue;
        }
        const Text label(canvas, mark->label, {17.0 * unit, mark->station, map_style::ink},
                         widest_label * frame.width);
        const Box at =
            place_label(inside, box, label.width_px(), label.height_px(), 4.0 * unit, taken);
        label.draw_with_halo(at.x, at.y, halo);
        taken.push_back(at);
    }
}

// ---- The panel beside the map -------------------------------------------------------------------

/// Draws the panel from its upper left corner at (0, 0) downward.
class Panel {
public:
    Panel(cairo_t* canvas, const PictureColumns& columns)
        : canvas_(canvas), unit_(columns.unit), width_(columns.panel_width) {}

    [[nodiscard]] double height() const { return y_; }

    void legend(const MapPicture& picture) {
        heading("How a voice call comes through");
        std::optional<double> above_db;
        for (const MarginClass& entry : margin_classes()) {
            swatch([&](const Box& box) { fill(box, entry.colour); });
            words(entry.name, range_text(entry.lower_bound_db, above_db), entry.meaning);
            above_db = entry.lower_bound_db;
        }
        swatch([&](const Box& box) {
            constexpr double grey = map_style::level_grey;
            fill(box, {grey, grey, grey});
        });
        words("not heard", fmt::format("below {:g} dB", *above_db),
              "bare ground: no words get through");
        swatch([&](const Box& box) {
            fill(box, veiled(map_style::level_grey));
            const Pattern hatch = hatch_pattern(unit_);
            cairo_set_source(canvas_, hatch.get());
            cairo_rectangle(canvas_, box.x, box.y, box.width, box.height);
            cairo_fill(canvas_);
        });
        words("no prediction", "", "out of range, or no elevation");
        const auto any = [&](bool station) {
            return std::ranges::any_of(
                picture.marks, [&](const PictureMark& mark) { return mark.station == station; });
        };
        for (const bool station : {true, false}) {
            if (any(station)) {
                draw_symbol(canvas_, station, swatch_width * unit_ / 2.0, y_ + 11.0 * unit_, unit_);
                words(station ? "station" : "place", "", "");
            }
        }
        y_ += 4.0 * unit_;
        paragraph("dB: margin, the strength of the signal over what the receiver needs. Relief lit "
                  "from the north-west.");
    }

    /// Scale bars and north arrow. `north_deg` is true north, clockwise from straight up.
    void scale(double metres_per_pixel, double north_deg) {
        y_ += 12.0 * unit_;
        const double top = y_;
        const double room = width_ - 90.0 * unit_;
        scale_bar("km", 1000.0, metres_per_pixel, room);
        scale_bar("mi", geo::metres_per_mile, metres_per_pixel, room);
        north_arrow(width_ - 26.0 * unit_, (top + y_) / 2.0, north_deg);
    }

private:
    static constexpr double swatch_width = 40.0;
    static constexpr double swatch_height = 26.0;
    static constexpr double text_left = 54.0;

    static std::string range_text(double lower_db, std::optional<double> above_db) {
        return above_db ? fmt::format("{:g} to {:g} dB", lower_db, *above_db)
                        : fmt::format("{:g} dB and more", lower_db);
    }

    void heading(std::string_view text) {
        const Text set(canvas_, text, {20.0 * unit_, true, map_style::ink}, width_, 2);
        set.draw(0.0, y_);
        y_ += set.height_px() + 14.0 * unit_;
    }

    void paragraph(std::string_view text) {
        const Text set(canvas_, text, {14.0 * unit_, false, map_style::quiet_ink}, width_, 6);
        set.draw(0.0, y_);
        y_ += set.height_px() + 10.0 * unit_;
    }

    void fill(const Box& box, const Rgb& colour) {
        cairo_rectangle(canvas_, box.x, box.y, box.width, box.height);
        set_colour(canvas_, colour);
        cairo_fill(canvas_);
    }

    template <typename Paint>
    void swatch(const Paint& paint) {
        // Whole pixels, or the rim of the colour would bleed into the paper.
        const Box box{0.0, std::round(y_), std::round(swatch_width * unit_),
                      std::round(swatch_height * unit_)};
        paint(box);
        cairo_rectangle(canvas_, box.x + 0.5, box.y + 0.5, box.width - 1.0, box.height - 1.0);
        cairo_set_line_width(canvas_, 1.0);
        set_colour(canvas_, map_style::frame);
        cairo_stroke(canvas_);
    }

    void words(std::string_view name, std::string_view numbers, std::string_view meaning) {
        const double left = text_left * unit_;
        const Text first(canvas_, name, {17.0 * unit_, true, map_style::ink});
        first.draw(left, y_);
        const Text second(canvas_, numbers, {16.0 * unit_, false, map_style::quiet_ink});
        second.draw(width_ - second.width_px(), y_);
        y_ += first.height_px();
        if (!meaning.empty()) {
            const Text third(canvas_, meaning, {14.0 * unit_, false, map_style::quiet_ink},
                             width_ - left, 3);
            third.draw(left, y_ + 1.0 * unit_);
            y_ += third.height_px();
        }
        y_ += 13.0 * unit_;
    }

    void scale_bar(std::string_view name, double metres, double metres_per_pixel, double room) {
        const double length = round_length(room * metres_per_pixel / metres);
        const double pixels = length * metres / metres_per_pixel;
        const double left = 6.0 * unit_;
        const TextStyle style{14.0 * unit_, false, map_style::ink};
        const auto label = [&](const std::string& text, double x) {
            const Text set(canvas_, text, style);
            set.draw(std::max(0.0, x - set.width_px() / 2.0), y_);
            return set.height_px();
        };
        label("0", left);
        label(fmt::format("{:g}", length / 2.0), left + pixels / 2.0);
        y_ += label(fmt::format("{:g} {}", length, name), left + pixels) + 2.0 * unit_;
        const double thickness = 7.0 * unit_;
        fill({left, y_, pixels / 2.0, thickness}, map_style::ink);
        fill({left + pixels / 2.0, y_, pixels / 2.0, thickness}, map_style::paper);
        cairo_rectangle(canvas_, left, y_, pixels, thickness);
        cairo_set_line_width(canvas_, 1.2 * unit_);
        set_colour(canvas_, map_style::ink);
        cairo_stroke(canvas_);
        y_ += thickness + 8.0 * unit_;
    }

    void north_arrow(double x, double y, double north_deg) {
        const double half = 30.0 * unit_;
        cairo_save(canvas_);
        cairo_translate(canvas_, x, y);
        cairo_rotate(canvas_, north_deg * std::numbers::pi / 180.0);
        const Text letter(canvas_, "N", {18.0 * unit_, true, map_style::ink});
        letter.draw(-letter.width_px() / 2.0, -half - 6.0 * unit_);
        const double tip = -half + letter.height_px() - 4.0 * unit_;
        const double wing = 9.0 * unit_;
        for (const double side : {-1.0, 1.0}) {
            cairo_move_to(canvas_, 0.0, tip);
            cairo_line_to(canvas_, side * wing, half);
            cairo_line_to(canvas_, 0.0, half - wing * 0.8);
            cairo_close_path(canvas_);
            set_colour(canvas_, side < 0.0 ? map_style::ink : map_style::paper);
            cairo_fill_preserve(canvas_);
            set_colour(canvas_, map_style::ink);
            cairo_set_line_width(canvas_, 1.2 * unit_);
            cairo_set_line_join(canvas_, CAIRO_LINE_JOIN_ROUND);
            cairo_stroke(canvas_);
        }
        cairo_restore(canvas_);
    }

    cairo_t* canvas_;
    double unit_;
    double width_;
    double y_ = 0.0;
};

/// True north at the middle of the map, clockwise from straight up on the picture.
double north_on_picture_deg(const sweep::CoverageRaster& map, int width, int height) {
    const terrain::CellPosition middle{(map.columns - 1) / 2.0, (map.rows - 1) / 2.0};
    geo::LatLon north = map.georeference.position_of(middle);
    constexpr double small_step_deg = 0.001;
    const double step = north.lat_deg > 89.0 ? -small_step_deg : small_step_deg;
    north.lat_deg += step;
    const terrain::CellPosition there = map.georeference.cell_of(north);
    const double right = (there.column - middle.column) * width / map.columns;
    const double up = (middle.row - there.row) * height / map.rows;
    return std::atan2(right * step, up * step) * 180.0 / std::numbers::pi;
}

// ---- The whole page -----------------------------------------------------------------------------

/// A drawing kept as strokes, to be measured before it is placed.
struct Recording {
    Surface surface{cairo_recording_surface_create(CAIRO_CONTENT_COLOR_ALPHA, nullptr)};
    Canvas canvas{cairo_create(surface.get())};

    void play(cairo_t* onto, const Box& at) const {
        cairo_set_source_surface(onto, surface.get(), at.x, at.y);
        cairo_paint(onto);
    }
};

double draw_header(cairo_t* canvas, const MapPicture& picture, double width, double unit) {
    const Text title(canvas, picture.title, {32.0 * unit, true, map_style::ink}, width, 2);
    title.draw(0.0, 0.0);
    double y = title.height_px();
    if (!picture.subtitle.empty()) {
        const Text subtitle(canvas, picture.subtitle, {16.0 * unit, false, map_style::quiet_ink},
                            width, 3);
        y += 6.0 * unit;
        subtitle.draw(0.0, y);
        y += subtitle.height_px();
    }
    return y;
}

void draw_map(cairo_t* canvas, const sweep::CoverageRaster& map, const std::vector<float>& shade,
              const MapPicture& picture, const Box& box, double unit) {
    const MapImage image =
        paint_map(map, shade, static_cast<int>(box.width), static_cast<int>(box.height));
    cairo_set_source_surface(canvas, image.colours.get(), box.x, box.y);
    cairo_paint(canvas);
    const Pattern hatch = hatch_pattern(unit);
    cairo_set_source(canvas, hatch.get());
    cairo_mask_surface(canvas, image.unknown.get(), box.x, box.y);
    cairo_save(canvas);
    cairo_rectangle(canvas, box.x, box.y, box.width, box.height);
    cairo_clip(canvas);
    draw_marks(canvas, map, picture.marks, box, unit);
    cairo_restore(canvas);
    cairo_rectangle(canvas, box.x - 0.5, box.y - 0.5, box.width + 1.0, box.height + 1.0);
    cairo_set_line_width(canvas, 1.0);
    set_colour(canvas, map_style::frame);
    cairo_stroke(canvas);
}

cairo_status_t append(void* to, const unsigned char* data, unsigned int length) {
    static_cast<std::string*>(to)->append(reinterpret_cast<const char*>(data), length);
    return CAIRO_STATUS_SUCCESS;
}

void check_request(const sweep::CoverageRaster& map, const MapPicture& picture) {
    constexpr int narrowest_px = 800;
    constexpr int widest_px = 8000;
    if (picture.width_px < narrowest_px || picture.width_px > widest_px) {
        throw_usage(fmt::format("a map picture cannot be {} pixels wide; choose {} to {}",
                                picture.width_px, narrowest_px, widest_px));
    }
    if (map.columns < 1 || map.rows < 1 || map.bands.empty() ||
        map.bands.front().values.size() !=
            static_cast<std::size_t>(map.columns) * static_cast<std::size_t>(map.rows)) {
        throw Error(ExitCode::internal,
                    "a map without cells or without a margin for each of them cannot be drawn; "
                    "please report this fault");
    }
}

} // namespace

void write_map_picture(const std::filesystem::path& path, const sweep::CoverageRaster& map,
                       const terrain::HeightGrid& ground, const MapPicture& picture) {
    check_request(map, picture);
    const GroundSize size = ground_size(map);
    const PictureColumns columns = picture_columns(picture.width_px, size.down_m / size.across_m);
    const double inner_width = picture.width_px - 2.0 * columns.margin;

    const Recording header;
    const Recording panel;
    const Recording footer;
    SetHeights heights;
    heights.header = draw_header(header.canvas.get(), picture, inner_width, columns.unit);
    Panel panel_drawing(panel.canvas.get(), columns);
    panel_drawing.legend(picture);
    panel_drawing.scale(size.across_m / columns.map_width,
                        north_on_picture_deg(map, columns.map_width, columns.map_height));
    heights.panel = panel_drawing.height();
    const Text caution_text(footer.canvas.get(), caution,
                            {15.0 * columns.unit, true, map_style::ink}, inner_width, 3);
    caution_text.draw(0.0, 0.0);
    heights.footer = caution_text.height_px();

    const PictureLayout layout = lay_out_picture(picture.width_px, columns, heights);
    const std::vector<float> shade =
        relief_under(map, ground, columns.map_width, columns.map_height);
    const Surface page = image_surface(CAIRO_FORMAT_RGB24, layout.width, layout.height);
    const Canvas canvas(cairo_create(page.get()));
    set_colour(canvas.get(), map_style::paper);
    cairo_paint(canvas.get());
    header.play(canvas.get(), layout.header);
    draw_map(canvas.get(), map, shade, picture, layout.map, columns.unit);
    panel.play(canvas.get(), layout.panel);
    footer.play(canvas.get(), layout.footer);

    std::string png;
    const cairo_status_t status = cairo_surface_write_to_png_stream(page.get(), append, &png);
    if (status != CAIRO_STATUS_SUCCESS) {
        throw_output(fmt::format("cannot write {}: the picture cannot be encoded ({})",
                                 path.string(), cairo_status_to_string(status)));
    }
    write_text_file(path, png);
}

} // namespace earshot::report
