#pragma once

#include "report/draw/page_area.hpp"
#include "report/say/comparison_report.hpp"

#include <filesystem>
#include <string>

/// What was heard over what was predicted.

namespace earshot::report {

/// Draws every call at its predicted margin (for half of the time and places) in the row of its
/// score; levels without a score stand in the row of their margin's class. Shaded boxes are where
/// calls would all be if every prediction were right. Marks tell line of sight and woods.
void draw_scatter_page(cairo_t* canvas, const Box& area, const PageWords& words,
                       const std::string& title, const FieldComparison& comparison);

/// The same on a page of its own, as PNG or PDF (A4, wide) by the ending of the name. Throws
/// Error(Fault::usage) for another ending, Error(Fault::output) if it cannot be written.
void write_scatter_picture(const std::filesystem::path& path, const PageWords& words,
                           const std::string& title, const FieldComparison& comparison);

} // namespace earshot::report
