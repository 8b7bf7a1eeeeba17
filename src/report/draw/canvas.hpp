#pragma once

#include "report/draw/layout.hpp"
#include "report/say/colour.hpp"

#include <cairo.h>

#include <filesystem>
#include <functional>
#include <memory>

/// What cairo draws on, owned.

namespace earshot::report {

struct CairoUnref {
    void operator()(cairo_surface_t* surface) const { cairo_surface_destroy(surface); }
    void operator()(cairo_t* canvas) const { cairo_destroy(canvas); }
};
using Surface = std::unique_ptr<cairo_surface_t, CairoUnref>;
using Canvas = std::unique_ptr<cairo_t, CairoUnref>;

/// Keeps the state of a canvas (clip, colour, line) and gives it back at the end.
class KeptState {
public:
    explicit KeptState(cairo_t* canvas) : canvas_(canvas) { cairo_save(canvas); }
    /// Until then, nothing is drawn outside a box.
    KeptState(cairo_t* canvas, const Box& clip) : KeptState(canvas) {
        cairo_rectangle(canvas, clip.x, clip.y, clip.width, clip.height);
        cairo_clip(canvas);
    }
    ~KeptState() { cairo_restore(canvas_); }
    KeptState(const KeptState&) = delete;
    KeptState& operator=(const KeptState&) = delete;

private:
    cairo_t* canvas_;
};

inline void set_colour(cairo_t* canvas, const Rgb& colour, double opacity = 1.0) {
    cairo_set_source_rgba(canvas, colour.red, colour.green, colour.blue, opacity);
}

/// Throws Error(Fault::memory) if there is not enough for it.
[[nodiscard]] Surface image_surface(cairo_format_t format, int width_px, int height_px);

/// A canvas that takes text for measuring and keeps nothing. In points, as a page is.
[[nodiscard]] Canvas measuring_canvas();

/// Draws on paper of so many pixels, `scale` of them to a point, and writes it whole or not at all.
/// Throws Error(Fault::output).
void write_png(const std::filesystem::path& path, int width_px, int height_px, double scale,
               const std::function<void(cairo_t*)>& draw);

} // namespace earshot::report
