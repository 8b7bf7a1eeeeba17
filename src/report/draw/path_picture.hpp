#pragma once

#include "report/draw/page_area.hpp"

#include <string>
#include <vector>

namespace earshot::report {

struct BriefedPath;

/// Draws a path on a page of its own: the verdict in words on top, the path seen from the side
/// (ground, cover, antennas, line of sight, Fresnel zone, edges that matter), the budget of both
/// directions beside it, or below it on upright paper, and the facts of the prediction. `notes` are
/// further things to know, a sentence each.
void draw_path_page(cairo_t* canvas, const Box& area, const PageWords& words,
                    const BriefedPath& path, const std::vector<std::string>& notes = {});

} // namespace earshot::report
