#include "output_checks.hpp"
#include "report/draw/layout.hpp"
#include "report/draw/map_sheet.hpp"
#include "report/draw/map_style.hpp"
#include "report/draw/page_style.hpp"
#include "report/say/margin_classes.hpp"

#include <cairo.h>
#include <catch2/catch.hpp>

#include <array>
#include <cmath>
#include <limits>
#include <memory>

namespace earshot::report {
namespace {

using test::error_of;
using test::TemporaryFolder;

using test::nan;

// ---- Colours, judged by measures from elsewhere -------------------------------------------------

using Triple = std::array<double, 3>;

/// IEC 61966-2-1: sRGB to linear light.
Triple linear(const Rgb& colour) {
    const auto part = [](double value) {
        return value <= 0.04045 ? value / 12.92 : std::pow((value + 0.055) / 1.055, 2.4);
    };
    return {part(colour.red), part(colour.green), part(colour.blue)};
}

Triple times(const std::array<Triple, 3>& matrix, const Triple& vector) {
    Triple result{};
    for (std::size_t row = 0; row < 3; ++row) {
        for (std::size_t k = 0; k < 3; ++k) {
            result[row] += matrix[row][k] * vector[k];
        }
    }
    return result;
}

/// CIE 1976 L*a*b* of linear sRGB under D65 (CIE 15:2004).
Triple lab(const Triple& light) {
    constexpr std::array<Triple, 3> to_xyz{{{0.4124564, 0.3575761, 0.1804375},
                                            {0.2126729, 0.7151522, 0.0721750},
                                            {0.0193339, 0.1191920, 0.9503041}}};
    constexpr Triple white{0.95047, 1.0, 1.08883};
    Triple f = times(to_xyz, light);
    for (std::size_t k = 0; k < 3; ++k) {
        const double t = f[k] / white[k];
        f[k] = t > 216.0 / 24389.0 ? std::cbrt(t) : (24389.0 / 27.0 * t + 16.0) / 116.0;
    }
    return {116.0 * f[1] - 16.0, 500.0 * (f[0] - f[1]), 200.0 * (f[1] - f[2])};
}

double distance(const Triple& a, const Triple& b) {
    return std::sqrt(std::pow(a[0] - b[0], 2) + std::pow(a[1] - b[1], 2) +
                     std::pow(a[2] - b[2], 2));
}

/// WCAG 2.1: relative luminance and contrast ratio.
double contrast(const Rgb& a, const Rgb& b) {
    const auto luminance = [](const Rgb& colour) {
        const Triple light = linear(colour);
        return 0.2126 * light[0] + 0.7152 * light[1] + 0.0722 * light[2];
    };
    const double high = std::max(luminance(a), luminance(b));
    const double low = std::min(luminance(a), luminance(b));
    return (high + 0.05) / (low + 0.05);
}

/// The colours of classes, and of bare ground after them.
std::vector<Rgb> shown_colours() {
    std::vector<Rgb> colours;
    for (const MarginClass& entry : margin_classes()) {
        colours.push_back(entry.colour);
    }
    constexpr double grey = map_style::level_grey;
    colours.push_back({grey, grey, grey});
    return colours;
}

TEST_CASE("OKLCH gives known colours") {
    // sRGB primaries in OKLCH: CSS Color Module Level 4, sample values, as remembered.
    const Rgb red = from_oklch(0.62796, 0.25768, 29.234);
    CHECK(red.red == Approx(1.0).margin(2e-3));
    CHECK(red.green == Approx(0.0).margin(2e-2));
    CHECK(red.blue == Approx(0.0).margin(2e-2));
    const Rgb blue = from_oklch(0.45201, 0.31321, 264.052);
    CHECK(blue.red == Approx(0.0).margin(2e-2));
    CHECK(blue.green == Approx(0.0).margin(2e-2));
    CHECK(blue.blue == Approx(1.0).margin(2e-3));
    const Rgb white = from_oklch(1.0, 0.0, 0.0);
    CHECK(white.green == Approx(1.0).margin(1e-4));
}

TEST_CASE("stronger classes are darker, in even steps that grey print keeps") {
    const std::vector<Rgb> colours = shown_colours();
    for (std::size_t k = 1; k < colours.size(); ++k) {
        CAPTURE(k);
        CHECK(lab(linear(colours[k]))[0] - lab(linear(colours[k - 1]))[0] > 8.0);
    }
}

TEST_CASE("classes stay apart for colour-blind eyes") {
    // G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A physiologically-based model for
    // simulation of color vision deficiency", IEEE TVCG 15 (6), 2009: matrices for severity 1.0 on
    // linear RGB (protanopia, deuteranopia, tritanopia). Distance: CIE 1976; some 2.3 is just
    // noticeable side by side, 15 is chosen here as plain at a glance.
    constexpr double least = 15.0;
    constexpr std::array<std::array<Triple, 3>, 4> eyes{
        {{{{1.0, 0.0, 0.0}, {0.0, 1.0, 0.0}, {0.0, 0.0, 1.0}}},
         {{{0.152286, 1.052583, -0.204868},
           {0.114503, 0.786281, 0.099216},
           {-0.003882, -0.048116, 1.051998}}},
         {{{0.367322, 0.860646, -0.227968},
           {0.280085, 0.672501, 0.047413},
           {-0.011820, 0.042940, 0.968881}}},
         {{{1.255528, -0.076749, -0.178779},
           {-0.078411, 0.930809, 0.147602},
           {0.004733, 0.691367, 0.303900}}}}};
    const std::vector<Rgb> colours = shown_colours();
    for (std::size_t eye = 0; eye < eyes.size(); ++eye) {
        for (std::size_t a = 0; a < colours.size(); ++a) {
            for (std::size_t b = 0; b < a; ++b) {
                CAPTURE(eye, a, b);
                CHECK(distance(lab(times(eyes[eye], linear(colours[a]))),
                               lab(times(eyes[eye], linear(colours[b])))) > least);
            }
        }
    }
}

TEST_CASE("words can be read on paper and on their halo") {
    CHECK(contrast({1.0, 1.0, 1.0}, {0.0, 0.0, 0.0}) == Approx(21.0)); // WCAG's own example
    CHECK(contrast(map_style::ink, map_style::paper) >= 4.5);          // WCAG 2.1, 1.4.3, level AA
    CHECK(contrast(map_style::quiet_ink, map_style::paper) >= 4.5);
    CHECK(contrast(page_style::ink, page_style::band) >= 4.5);
}

TEST_CASE("lines that carry meaning can be seen on the map") {
    // WCAG 2.1, 1.4.11, level AA: 3 to 1 for parts of a graphic that are needed to understand it.
    // Symbols have a rim of paper, so it is the rim that they must stand out from.
    CHECK(contrast(map_style::ink, map_style::paper) >= 3.0);
    CHECK(contrast(map_style::frame, map_style::paper) >= 3.0);
    // Contours and grid are a help and no more; on all but the darkest class they reach it too.
    const std::vector<Rgb> colours = shown_colours();
    const auto over = [](const Rgb& line, double opacity, const Rgb& ground) {
        return Rgb{line.red * opacity + ground.red * (1.0 - opacity),
                   line.green * opacity + ground.green * (1.0 - opacity),
                   line.blue * opacity + ground.blue * (1.0 - opacity)};
    };
    for (std::size_t k = 2; k < colours.size(); ++k) {
        CAPTURE(k);
        CHECK(contrast(over(map_style::contour, map_style::contour_opacity, colours[k]),
                       colours[k]) >= 3.0);
    }
}

TEST_CASE("each margin has its class") {
    const auto classes = margin_classes();
    for (std::size_t k = 0; k < classes.size(); ++k) {
        const double bound_db = classes[k].lower_bound_db;
        CHECK(margin_class_of(bound_db) == &classes[k]);
        CHECK(margin_class_of(bound_db - 1e-6) ==
              (k + 1 < classes.size() ? &classes[k + 1] : nullptr));
    }
    CHECK(margin_class_of(90.0) == &classes.front());
    CHECK(margin_class_of(static_cast<double>(nan)) == nullptr);
}

// ---- Pieces of the layout -----------------------------------------------------------------------

TEST_CASE("scale bars have round lengths") {
    CHECK(round_length(0.99) == Approx(0.5));
    CHECK(round_length(1.0) == Approx(1.0));
    CHECK(round_length(4.9) == Approx(2.0));
    CHECK(round_length(70.0) == Approx(50.0));
}

// ---- Whole pictures -----------------------------------------------------------------------------

/// A picture as a file holds it.
class Picture {
public:
    explicit Picture(const std::filesystem::path& path)
        : surface_(cairo_image_surface_create_from_png(path.c_str()), cairo_surface_destroy) {
        REQUIRE(cairo_surface_status(surface_.get()) == CAIRO_STATUS_SUCCESS);
    }
    [[nodiscard]] int width() const { return cairo_image_surface_get_width(surface_.get()); }
    [[nodiscard]] int height() const { return cairo_image_surface_get_height(surface_.get()); }
    /// Whether a pixel has a colour, to within rounding.
    [[nodiscard]] bool is(int x, int y, const Rgb& colour) const {
        const unsigned char* data = cairo_image_surface_get_data(surface_.get());
        const auto* row = reinterpret_cast<const std::uint32_t*>(
            data + static_cast<std::ptrdiff_t>(y) * cairo_image_surface_get_stride(surface_.get()));
        const auto near = [&](unsigned shift, double part) {
            return std::abs(static_cast<double>(row[x] >> shift & 255U) - 255.0 * part) <= 1.0;
        };
        return near(16, colour.red) && near(8, colour.green) && near(0, colour.blue);
    }
    /// The smallest box around all pixels of a colour in some columns and rows, and their count.
    struct Found {
        int count = 0;
        int left = 1 << 20, top = 1 << 20, right = -1, bottom = -1;
    };
    [[nodiscard]] Found find(const Rgb& colour, int from_x, int to_x) const {
        return find(colour, from_x, to_x, 0, height());
    }
    [[nodiscard]] Found find(const Rgb& colour, int from_x, int to_x, int from_y, int to_y) const {
        Found found;
        for (int y = from_y; y < to_y; ++y) {
            for (int x = from_x; x < to_x; ++x) {
                if (is(x, y, colour)) {
                    ++found.count;
                    found.left = std::min(found.left, x);
                    found.right = std::max(found.right, x);
                    found.top = std::min(found.top, y);
                    found.bottom = std::max(found.bottom, y);
                }
            }
        }
        return found;
    }

private:
    std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)> surface_;
};

struct Scene {
    coverage::CoverageRaster map;
    terrain::HeightGrid ground;
};

/// Level ground and one margin everywhere.
Scene level_scene(const terrain::Georeference& georeference, int columns, int rows,
                  float margin_db) {
    Scene scene;
    const auto cells = static_cast<std::size_t>(columns) * static_cast<std::size_t>(rows);
    scene.map.columns = columns;
    scene.map.rows = rows;
    scene.map.georeference = georeference;
    scene.map.bands = {{"margin", "dB", std::vector<float>(cells, margin_db)}};
    scene.ground.columns = columns;
    scene.ground.rows = rows;
    scene.ground.georeference = georeference;
    scene.ground.height_m.assign(cells, 120.0F);
    return scene;
}

terrain::Georeference utm() {
    return {"EPSG:32616", 740015.0, 4060985.0, 30.0, -30.0};
}

TEST_CASE("map and legend show a class in the same colour") {
    const TemporaryFolder folder;
    Scene scene = level_scene(utm(), 120, 120, 0.0F);
    // Six strips: the classes, no contact, not known.
    const auto classes = margin_classes();
    for (std::size_t k = 0; k < scene.map.bands[0].values.size(); ++k) {
        const std::size_t strip = k % 120 / 20;
        scene.map.bands[0].values[k] = strip < classes.size()
                                           ? static_cast<float>(classes[strip].lower_bound_db + 0.5)
                                           : (strip == classes.size() ? -30.0F : nan);
    }
    MapSheet sheet;
    sheet.title = "Strips";
    write_map_picture(folder / "map.png", scene.map, scene.ground, sheet, {}, 1000);
    CHECK(folder.file_count() == 1);
    const Picture picture(folder / "map.png");
    CHECK(picture.width() == 1000);
    CHECK(picture.height() > 600);
    CHECK(picture.height() < 1000);
    int last_right = 0;
    for (const Rgb& colour : shown_colours()) {
        const Picture::Found on_map = picture.find(colour, 0, 650);
        CHECK(on_map.count > 50000);
        const Picture::Found in_middle =
            picture.find(colour, 0, 650, picture.height() / 2, picture.height() / 2 + 1);
        CHECK(in_middle.left > last_right);
        last_right = in_middle.right;
        CHECK(picture.find(colour, 680, 1000).count > 300);
    }
}

TEST_CASE("a map in degrees is not squashed") {
    // At 60 degrees north a degree of longitude is 55800 m and one of latitude 111412 m (WGS 84,
    // from the radii of curvature a / sqrt(1 - e^2 sin^2) and a (1 - e^2) / (1 - e^2 sin^2)^1.5).
    const TemporaryFolder folder;
    const Scene scene = level_scene({"EPSG:4326", 10.005, 60.495, 0.01, -0.01}, 100, 100, 30.0F);
    write_map_picture(folder / "map.png", scene.map, scene.ground, {}, {}, 1600);
    const Picture picture(folder / "map.png");
    const Picture::Found found = picture.find(margin_classes().front().colour, 0, 1150);
    const double width = found.right - found.left + 1;
    const double height = found.bottom - found.top + 1;
    CHECK(found.count > 0.95 * width * height); // the rest is under grid lines
    CHECK(height / width == Approx(111412.0 / 55800.0).epsilon(0.004));
}

TEST_CASE("relief shows through the classes") {
    const TemporaryFolder folder;
    Scene scene = level_scene(utm(), 100, 100, 30.0F);
    for (std::size_t k = 0; k < scene.ground.height_m.size(); ++k) {
        scene.ground.height_m[k] = 40.0F * std::sin(static_cast<float>(k % 100) * 0.3F);
    }
    write_map_picture(folder / "map.png", scene.map, scene.ground, {});
    const Picture picture(folder / "map.png");
    const Rgb level = margin_classes().front().colour;
    int darker = 0;
    int lighter = 0;
    for (const double step : {0.02, 0.03, 0.04, 0.05}) {
        const auto moved = [&](double by) {
            return Rgb{level.red + by, level.green + by, level.blue + by};
        };
        lighter += picture.find(moved(step), 0, 1100).count;
        darker += picture.find(moved(-step), 0, 1100).count;
    }
    CHECK(lighter > 1000);
    CHECK(darker > 1000);
}

TEST_CASE("large and small maps, long and foreign words, and marks off the map are drawn") {
    const TemporaryFolder folder;
    const bool large = GENERATE(false, true);
    const int side = large ? 2500 : 1;
    const Scene scene = level_scene(utm(), side, side, 12.0F);
    MapSheet sheet;
    for (int k = 0; k < 80; ++k) {
        sheet.title += "A very long title ";
        sheet.subtitle += "Élan, Ñandú, Żółw; ";
    }
    const geo::LatLon middle = scene.map.georeference.position_of({side / 2.0, side / 2.0});
    sheet.marks = {{middle, "Middle", true},
                   {middle, "תחנה", false},
                   {middle, "مرصد الجبل", false},
                   {middle, std::string("no UTF-8: \xff\xfe"), false},
                   {{-40.0, 100.0}, "Elsewhere", false},
                   {{static_cast<double>(nan), 0.0}, "Nowhere", false}};
    write_map_picture(folder / "map.png", scene.map, scene.ground, sheet, {}, 800);
    const Picture picture(folder / "map.png");
    CHECK(picture.width() == 800);
    CHECK(picture.height() < 1100);
}

TEST_CASE("however much there is to say, no ninth of the picture is left blank") {
    const TemporaryFolder folder;
    const Scene scene = level_scene(utm(), 200, 190, 12.0F);
    MapSheet sheet;
    sheet.title = "Valley fair";
    for (int k = 0; k < 14; ++k) {
        sheet.facts.emplace_back("station", "Ombrel Mill: 25 W, 5.2 dBi, 9.0 m up");
        sheet.notes.emplace_back("who is not heard twice on the hour goes to the fallback place");
    }
    write_map_picture(folder / "map.png", scene.map, scene.ground, sheet, {}, 900);
    const Picture picture(folder / "map.png");
    for (int tile = 0; tile < 9; ++tile) {
        CAPTURE(tile);
        const int left = tile % 3 * picture.width() / 3;
        const int top = tile / 3 * picture.height() / 3;
        int inked = 0;
        for (int y = top; y < top + picture.height() / 3; ++y) {
            for (int x = left; x < left + picture.width() / 3; ++x) {
                inked += picture.is(x, y, map_style::paper) ? 0 : 1;
            }
        }
        CHECK(inked > picture.width() * picture.height() / 9 / 40); // all text, no map
    }
}

TEST_CASE("ground that does not reach under the map leaves it level") {
    const TemporaryFolder folder;
    Scene scene = level_scene(utm(), 60, 60, 30.0F);
    scene.ground.georeference = scene.ground.georeference.shifted(1000.0, 1000.0);
    write_map_picture(folder / "map.png", scene.map, scene.ground, {});
    CHECK(Picture(folder / "map.png").find(margin_classes().front().colour, 0, 1100).count >
          500000);
}

TEST_CASE("a picture that cannot be written leaves nothing") {
    const TemporaryFolder folder;
    const Scene scene = level_scene(utm(), 20, 20, 5.0F);
    SECTION("missing folder") {
        const auto error = error_of(
            [&] { write_map_picture(folder / "absent/map.png", scene.map, scene.ground, {}); });
        REQUIRE(error);
        CHECK(error->fault() == Fault::output);
    }
    SECTION("disk full") {
        const auto error = error_of([&] {
            const test::FileSizeLimit full(5000);
            write_map_picture(folder / "map.png", scene.map, scene.ground, {});
        });
        REQUIRE(error);
        CHECK(error->fault() == Fault::output);
        CHECK_THAT(error->what(), Catch::Contains("map.png"));
    }
    SECTION("a width beyond reason") {
        const auto error = error_of(
            [&] { write_map_picture(folder / "map.png", scene.map, scene.ground, {}, {}, 90); });
        REQUIRE(error);
        CHECK(error->fault() == Fault::usage);
    }
    CHECK(folder.file_count() == 0);
}

} // namespace
} // namespace earshot::report
