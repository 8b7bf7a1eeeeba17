#pragma once

#include <cstdint>
#include <filesystem>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace earshot::report {

struct Briefing;

/// The page with all its scripts and styles, made when the program is built from src/browser.
/// `{{title}}` and `{{data}}` in it are to be replaced. Empty in builds without it.
[[nodiscard]] std::string_view browser_template();

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

/// Everything the page for a browser shows, as JSON in which no `<` stands. Throws as
/// write_browser_page() does.
[[nodiscard]] std::string browser_data(const Briefing& briefing);

// ---- Rasters in the page
// -------------------------------------------------------------------------

/// The whole number that stands for "not known" in the rasters of the page.
inline constexpr std::int16_t packed_unknown = -32768;

/// Values as whole numbers: value = offset + step * number.
struct Steps {
    double offset = 0.0;
    double step = 1.0;
};

/// Margins in steps of 0.1 dB, as shown_margin_db() rounds them.
/// NaN becomes `packed_unknown`; margins beyond what fits (3276 dB) are cut off.
inline constexpr Steps margin_steps{0.0, 0.1};
[[nodiscard]] std::vector<std::int16_t> margin_numbers(std::span<const float> margin_db);

/// Steps of 0.1, or the next coarser of 0.2, 0.5, 1, ... in which all values fit into 16 bits.
[[nodiscard]] Steps fitting_steps(std::span<const float> values);
[[nodiscard]] std::vector<std::int16_t> whole_numbers(std::span<const float> values,
                                                      const Steps& steps);

/// Numbers as text for the page, row by row: each less the one to its left (the first of a row
/// less the one above), all low bytes, then all high bytes, in the zlib format (RFC 1950), in
/// base64 (RFC 4648).
[[nodiscard]] std::string packed(std::span<const std::int16_t> numbers, int columns);

} // namespace earshot::report
