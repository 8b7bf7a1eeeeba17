#include "report/draw/canvas.hpp"

#include "base/output_file.hpp"
#include "earshot/base/error.hpp"
#include "report/draw/map_style.hpp"

#include <cairo-pdf.h>
#include <fmt/format.h>

namespace earshot::report {
namespace {

cairo_status_t append(void* to, const unsigned char* data, unsigned int length) {
    static_cast<std::string*>(to)->append(reinterpret_cast<const char*>(data), length);
    return CAIRO_STATUS_SUCCESS;
}

} // namespace

Surface image_surface(cairo_format_t format, int width_px, int height_px) {
    Surface surface(cairo_image_surface_create(format, width_px, height_px));
    if (cairo_surface_status(surface.get()) != CAIRO_STATUS_SUCCESS) {
        throw Error(Fault::memory,
                    fmt::format("a picture of {} x {} pixels does not fit in memory; ask for a "
                                "narrower one",
                                width_px, height_px));
    }
    return surface;
}

Canvas measuring_canvas() {
    // A PDF that goes nowhere: other surfaces would round the letters' sizes to whole pixels.
    constexpr double any_size = 1000.0;
    const Surface surface(
        cairo_pdf_surface_create_for_stream(nullptr, nullptr, any_size, any_size));
    return Canvas(cairo_create(surface.get())); // which keeps the surface
}

void write_png(const std::filesystem::path& path, int width_px, int height_px, double scale,
               const std::function<void(cairo_t*)>& draw) {
    const Surface image = image_surface(CAIRO_FORMAT_RGB24, width_px, height_px);
    const Canvas canvas(cairo_create(image.get()));
    set_colour(canvas.get(), map_style::paper);
    cairo_paint(canvas.get());
    cairo_scale(canvas.get(), scale, scale);
    draw(canvas.get());
    std::string png;
    const cairo_status_t status = cairo_surface_write_to_png_stream(image.get(), append, &png);
    if (status != CAIRO_STATUS_SUCCESS) {
        throw_output(fmt::format("cannot write {}: the picture cannot be encoded ({})",
                                 path.string(), cairo_status_to_string(status)));
    }
    write_text_file(path, png);
}

} // namespace earshot::report
