#include "report/draw/canvas.hpp"

#include "base/memory.hpp"
#include "base/output_file.hpp"
#include "earshot/base/error.hpp"
#include "report/draw/map_style.hpp"
#include "report/draw/pdf_document.hpp"

#include <cairo-pdf.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <utility>

namespace earshot::report {
namespace {

cairo_status_t append(void* to, const unsigned char* data, unsigned int length) {
    static_cast<std::string*>(to)->append(reinterpret_cast<const char*>(data), length);
    return CAIRO_STATUS_SUCCESS;
}

constexpr double points_per_mm = 72.0 / 25.4;
constexpr double margin_mm = 10.0;

/// Whether a text begins as an ISO 8601 date: cairo would make nonsense of another.
bool is_date(std::string_view text) {
    constexpr std::string_view form = "0000-00-00";
    return text.size() >= form.size() &&
           std::ranges::equal(text.substr(0, form.size()), form, [](char c, char wanted) {
               return wanted == '0' ? std::isdigit(static_cast<unsigned char>(c)) != 0
                                    : c == wanted;
           });
}

/// Fonts are looked up on threads of the library's own, which end the process if they find no room.
void require_room_to_draw() {
    require_addresses(std::uint64_t{320} << 20U, "drawing");
}

} // namespace

Surface image_surface(cairo_format_t format, int width_px, int height_px) {
    require_room_to_draw();
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
    require_room_to_draw();
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

Paper parse_paper(std::string_view name) {
    std::string lower(name);
    std::ranges::transform(lower, lower.begin(),
                           [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    if (lower == "a4") {
        return Paper::a4;
    }
    if (lower == "letter") {
        return Paper::letter;
    }
    throw_usage(fmt::format("paper '{}' is not known; choose a4 or letter", name));
}

PageSize page_size(Paper paper, Orientation orientation) {
    PageSize size = paper == Paper::a4 ? PageSize{210.0 * points_per_mm, 297.0 * points_per_mm}
                                       : PageSize{8.5 * 72.0, 11.0 * 72.0};
    if (orientation == Orientation::wide) {
        std::swap(size.width_pt, size.height_pt);
    }
    return size;
}

Box printed_area(Paper paper, Orientation orientation) {
    constexpr double margin = margin_mm * points_per_mm;
    const PageSize size = page_size(paper, orientation);
    return {margin, margin, size.width_pt - 2.0 * margin, size.height_pt - 2.0 * margin};
}

struct PdfDocument::State {
    std::string content;
    Surface surface{cairo_pdf_surface_create_for_stream(append, &content, 1.0, 1.0)};
    Canvas canvas;
    int pages = 0;
};

PdfDocument::PdfDocument(const About& about) : state_(std::make_unique<State>()) {
    require_room_to_draw();
    cairo_surface_t* pdf = state_->surface.get();
    cairo_pdf_surface_restrict_to_version(pdf, CAIRO_PDF_VERSION_1_5);
    const std::string created = is_date(about.created) ? about.created : std::string();
    const std::array<std::pair<cairo_pdf_metadata_t, const std::string*>, 3> entries{
        {{CAIRO_PDF_METADATA_TITLE, &about.title},
         {CAIRO_PDF_METADATA_AUTHOR, &about.author},
         // Always said, even if empty: cairo would ask the clock.
         {CAIRO_PDF_METADATA_CREATE_DATE, &created}}};
    for (const auto& [key, value] : entries) {
        if (key == CAIRO_PDF_METADATA_CREATE_DATE || !value->empty()) {
            cairo_pdf_surface_set_metadata(pdf, key, value->c_str());
        }
    }
}

PdfDocument::~PdfDocument() = default;

cairo_t* PdfDocument::add_page(Paper paper, Orientation orientation, const std::string& title) {
    cairo_surface_t* pdf = state_->surface.get();
    if (state_->pages > 0) {
        cairo_show_page(state_->canvas.get());
    }
    state_->canvas.reset();
    const PageSize size = page_size(paper, orientation);
    cairo_pdf_surface_set_size(pdf, size.width_pt, size.height_pt);
    state_->canvas.reset(cairo_create(pdf));
    ++state_->pages;
    const std::string link = fmt::format("page={} pos=[0 0]", state_->pages);
    cairo_pdf_surface_add_outline(pdf, CAIRO_PDF_OUTLINE_ROOT, title.c_str(), link.c_str(),
                                  CAIRO_PDF_OUTLINE_FLAG_OPEN);
    return state_->canvas.get();
}

void PdfDocument::write(const std::filesystem::path& path) {
    if (state_->pages == 0) {
        throw Error(Fault::internal, "a document without pages cannot be written; please report "
                                     "this fault");
    }
    cairo_show_page(state_->canvas.get());
    const cairo_status_t drawn = cairo_status(state_->canvas.get());
    state_->canvas.reset();
    cairo_surface_finish(state_->surface.get());
    const cairo_status_t ended = cairo_surface_status(state_->surface.get());
    for (const cairo_status_t status : {drawn, ended}) {
        if (status != CAIRO_STATUS_SUCCESS) {
            throw_output(fmt::format("cannot write {}: the pages cannot be encoded ({})",
                                     path.string(), cairo_status_to_string(status)));
        }
    }
    write_text_file(path, state_->content);
}

} // namespace earshot::report
