#pragma once

#include <string_view>

namespace earshot::report {

/// The page for a browser with all its scripts and styles, made when the program is built from
/// src/browser. `{{title}}` and `{{data}}` in it are to be replaced. Empty in builds without it.
[[nodiscard]] std::string_view browser_template();

} // namespace earshot::report
