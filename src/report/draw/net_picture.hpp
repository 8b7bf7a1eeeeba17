#pragma once

#include "earshot/link/budget.hpp"
#include "plan/hearing.hpp"
#include "report/draw/page_area.hpp"

#include <string>
#include <vector>

namespace earshot::report {

/// Who hears whom, as pages show it.
struct NetView {
    std::string title; ///< of the net
    std::vector<link::Station> stations;
    std::vector<plan::Pair> pairs;
    plan::NetStructure net;
    double wanted_margin_db = 0.0; ///< least margin that counts as heard
};

/// Up to so many stations every link is drawn; of more, only the strongest of each station.
inline constexpr std::size_t most_stations_with_all_links = 14;

/// Draws the stations where they stand on the ground, north up, with the links between them: each
/// half of a link as the station at its end hears the other, wide and dark for a large margin; a
/// link that works one way as an arrow to the listener; who is cut off and without whom the net
/// splits. Beside it or, on upright paper, below: who must pass messages on.
void draw_net_page(cairo_t* canvas, const Box& area, const PageWords& words, const NetView& view);

/// The margins of all pairs both ways as a table: who listens from top to bottom, who talks from
/// left to right. On as many pages as the area needs; one holds about 40 stations on wide A4 paper.
[[nodiscard]] std::vector<PageDrawing> net_table_pages(const Box& area, const NetView& view);

} // namespace earshot::report
