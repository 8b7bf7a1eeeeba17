#pragma once

#include "earshot/base/progress.hpp"
#include "earshot/report/briefing.hpp"
#include "earshot/report/pdf_document.hpp"

#include <cstddef>
#include <filesystem>

namespace earshot::report {

/// Writes a briefing as pages to print: map, who hears whom, paths, ladder, a card for each
/// station, log sheets; of a finished map, the map alone. Gives the number of pages. Whole or not
/// at all. Throws Error(ExitCode::output) if it cannot be written or no font has the letters of
/// some text, Error(ExitCode::interrupted).
std::size_t write_briefing_pdf(const std::filesystem::path& path, const Briefing& briefing,
                               Paper paper, Progress* progress = nullptr);

/// What stands at the edge of the pages of a briefing.
[[nodiscard]] PageWords page_words_of(const Briefing& briefing);

} // namespace earshot::report
