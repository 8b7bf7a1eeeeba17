#include "page_checks.hpp"

#include <cairo.h>

#include <cmath>

namespace earshot::test {
namespace {

using Image = std::unique_ptr<cairo_surface_t, void (*)(cairo_surface_t*)>;

Image read_image(const std::filesystem::path& path) {
    Image image(cairo_image_surface_create_from_png(path.c_str()), cairo_surface_destroy);
    REQUIRE(cairo_surface_status(image.get()) == CAIRO_STATUS_SUCCESS);
    return image;
}

/// Green of a pixel, which in a grey picture is its grey.
int grey_at(cairo_surface_t* image, int x, int y) {
    const unsigned char* row =
        cairo_image_surface_get_data(image) +
        static_cast<std::ptrdiff_t>(y) * cairo_image_surface_get_stride(image);
    return row[4 * x + 1];
}

} // namespace

int darkest_around(const OnePage& page, double x, double y, double from_pt, double to_pt) {
    constexpr int dots_per_inch = 144;
    constexpr double per_point = dots_per_inch / 72.0;
    const Image image = read_image(page.picture(dots_per_inch));
    int darkest = 255;
    const auto reach = static_cast<int>(to_pt * per_point);
    for (int down = -reach; down <= reach; ++down) {
        for (int across = -reach; across <= reach; ++across) {
            const double away = std::hypot(across, down);
            if (away >= from_pt * per_point && away <= to_pt * per_point) {
                darkest =
                    std::min(darkest, grey_at(image.get(), static_cast<int>(x * per_point) + across,
                                              static_cast<int>(y * per_point) + down));
            }
        }
    }
    return darkest;
}

void check_looks_like(const OnePage& page, const std::string& name) {
    constexpr int dots_per_inch = 36;
    const std::filesystem::path stored =
        std::filesystem::path(EARSHOT_SOURCE_DIR) / "tests/reference/pages" / (name + ".png");
    const std::filesystem::path drawn = page.picture(dots_per_inch);
    if (std::getenv("EARSHOT_STORE_PAGES") != nullptr) {
        std::filesystem::copy_file(drawn, stored,
                                   std::filesystem::copy_options::overwrite_existing);
    }
    const Image expected = read_image(stored);
    const Image found = read_image(drawn);
    const int width = cairo_image_surface_get_width(expected.get());
    const int height = cairo_image_surface_get_height(expected.get());
    REQUIRE(cairo_image_surface_get_width(found.get()) == width);
    REQUIRE(cairo_image_surface_get_height(found.get()) == height);
    double sum = 0.0;
    int far_off = 0;
    for (int y = 0; y < height; ++y) {
        for (int x = 0; x < width; ++x) {
            const int off = std::abs(grey_at(found.get(), x, y) - grey_at(expected.get(), x, y));
            sum += off;
            far_off += off > 30 ? 1 : 0;
        }
    }
    const double pixels = static_cast<double>(width) * height;
    CAPTURE(name);
    // Another version of a font moves letters by a fraction of a pixel; a line or a word that is
    // missing or moved does more.
    CHECK(sum / pixels < 0.5);
    CHECK(far_off / pixels < 0.002);
}

} // namespace earshot::test
