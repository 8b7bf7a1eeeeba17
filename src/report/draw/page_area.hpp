#pragma once

#include "report/draw/map_layout.hpp"

#include <functional>
#include <string>

/// As cairo itself declares it: who only passes a canvas on needs no more.
using cairo_t = struct _cairo; // NOLINT(bugprone-reserved-identifier): the name cairo gave it

namespace earshot::report {

/// What stands at the edge of every page.
struct PageWords {
    std::string right; ///< at the right of the title: net and date, one or two short lines
    std::string foot;  ///< model, correction and cautions
    std::string page;  ///< "page 3 of 7"; may be empty
};

/// One of several pages that belong together, ready to be drawn: it fills the area that it was laid
/// out for.
using PageDrawing = std::function<void(cairo_t*, const PageWords&)>;

} // namespace earshot::report
