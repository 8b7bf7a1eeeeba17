#pragma once

#include "plan/ladder.hpp"
#include "report/draw/page_area.hpp"

#include <string>

namespace earshot::report {

/// Draws what each way of being heard farther buys, on a page of its own: which comes first in
/// words, each lever by itself (effort, decibels, what it reaches), and all of them one on top of
/// another as a stair. `of` says whose ladder it is; `wanted_margin_db` is what counts as heard.
void draw_ladder_page(cairo_t* canvas, const Box& area, const PageWords& words,
                      const plan::LadderAnswer& answer, const std::string& of,
                      double wanted_margin_db);

} // namespace earshot::report
