#pragma once

#include "report/draw/layout.hpp"

#include <optional>
#include <vector>

namespace earshot::report {

/// A mark on a map that wants a label beside it.
struct LabelWish {
    Box mark;
    double width = 0.0; ///< of the label; 0 if it has none
    double height = 0.0;
    bool important = false; ///< finds its place before others
};

/// Where a label goes, and how a thin line leads from the mark to it if it had to go far.
struct LabelPlace {
    struct Line {
        Point from, to;
    };
    Box box;
    std::optional<Line> leader;
};

/// A place for each label: inside `frame`, clear of all marks, of what is `standing` there already,
/// of all other labels and their leaders; beside its mark if that is possible, else farther off
/// with a leader. Nothing for a label that has no such place, or that belongs to a mark outside the
/// frame. `gap` is the least way between mark and label. The same wishes give the same places.
///
/// Labels with the fewest free places choose first; then each label that found none tries to move
/// others out of its way, and each placed one moves to a better place that has become free.
[[nodiscard]] std::vector<std::optional<LabelPlace>>
place_labels(const Box& frame, const std::vector<LabelWish>& wishes,
             const std::vector<LabelPlace>& standing, double gap);

} // namespace earshot::report
