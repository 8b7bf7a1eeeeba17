#pragma once

#include <string>

namespace earshot::report {

struct Briefing;

/// Everything the page for a browser shows, as JSON in which no `<` stands. Throws as
/// write_browser_page() does.
[[nodiscard]] std::string browser_data(const Briefing& briefing);

} // namespace earshot::report
