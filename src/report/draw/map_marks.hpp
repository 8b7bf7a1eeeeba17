#pragma once

#include "report/draw/graticule.hpp"
#include "report/draw/label_placement.hpp"
#include "report/draw/map_sheet.hpp"
#include "report/draw/text.hpp"

#include <cairo.h>

#include <optional>
#include <string>
#include <vector>

namespace earshot::report {

/// A mark on the map, and its label where that found room.
struct PlacedMark {
    bool station = false;
    Box symbol;
    std::string words; ///< the label, or a number that stands for it
    TextStyle style;
    std::optional<LabelPlace> label;
};

/// All marks that lie on the map.
struct MarkPlan {
    std::vector<PlacedMark> marks;
    double widest = 0.0;               ///< of a label, before it is broken into lines
    double symbol_size = 1.0;          ///< 1 on a map with few marks
    std::vector<std::string> numbered; ///< what the numbers stand for, from 1 on
    int nameless = 0;                  ///< marks for which not even a number found room
};

/// The most lines that a label is broken into.
inline constexpr int most_label_lines = 3;

/// Finds places for marks and labels. With many marks, labels and symbols become smaller before any
/// is replaced by a number. `canvas` measures the text.
[[nodiscard]] MarkPlan plan_marks(cairo_t* canvas, const MapPlacing& placing,
                                  const std::vector<MapMark>& marks);

void draw_marks(cairo_t* canvas, const MarkPlan& plan);

/// A station's symbol is a ring with waves to both sides, a place's a diamond.
void draw_symbol(cairo_t* canvas, bool station, Point at, double size = 1.0);

} // namespace earshot::report
