#pragma once

#include "earshot/base/task.hpp"
#include "report/draw/pdf_document.hpp"

#include <cstddef>
#include <filesystem>

namespace earshot::report {

struct Briefing;

/// Writes a briefing as pages to print: map, who hears whom, paths, ladder, a card for each
/// station, log sheets; of a finished map, the map alone. Gives the number of pages. Whole or not
/// at all. Throws Error(Fault::output) if it cannot be written or no font has the letters of
/// some text, Error(Fault::stopped).
std::size_t write_briefing_pdf(const std::filesystem::path& path, const Briefing& briefing,
                               Paper paper, Task& task = silent_task());

/// What stands at the edge of the pages of a briefing.
[[nodiscard]] PageWords page_words_of(const Briefing& briefing);

} // namespace earshot::report
