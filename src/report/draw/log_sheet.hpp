#pragma once

#include "field/walk_test.hpp"
#include "report/draw/page_area.hpp"

#include <vector>

namespace earshot::report {

/// The sheets to take along on a walk test and fill in with a pencil: who, when and with what, what
/// each score from 0 to 5 means, the set-ups, and for each stop the calls in the order they are to
/// be made, with boxes to mark the score and a line for notes. What is predicted is not on them:
/// who knows it hears it. As many sheets as the area needs; a stop is not broken unless it is
/// longer than a sheet.
[[nodiscard]] std::vector<PageDrawing> log_sheet_pages(const Box& area,
                                                       const field::WalkPlan& walk);

} // namespace earshot::report
