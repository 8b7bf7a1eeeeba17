#pragma once

#include <filesystem>

namespace earshot::report {

struct Briefing;

/// Whether this build holds the page for a browser; builds without Node.js and npm do not.
[[nodiscard]] bool browser_page_available();

/// Writes a briefing as one HTML file that works from disk and asks nothing of any network: the map
/// with its layers, what the map holds where one points, the ground toward each station, who hears
/// whom, paths, inputs and cautions. docs/browser-page.md describes it.
///
/// The map's margins are in it to 0.1 dB, cell by cell, and never in another readability class than
/// the map's own; heights to 0.1 m where the ground spans less than 6.5 km. Bands "chance of
/// contact" and "station heard best" are used if the map has them.
///
/// Throws Error(Fault::usage) if this build is without the page or the map is larger than a
/// browser can hold, Error(Fault::input) if no cell of the map is known or its metadata do not
/// say which station it is of and on which frequency, and Error(Fault::output) if the file
/// cannot be written.
void write_browser_page(const std::filesystem::path& path, const Briefing& briefing);

} // namespace earshot::report
