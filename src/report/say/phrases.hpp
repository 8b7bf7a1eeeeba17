#pragma once

#include "link/handheld.hpp"
#include "scenario/scenario.hpp"

#include <string>
#include <string_view>
#include <vector>

/// Words that all answers share.

namespace earshot::report {

/// The cautions that go with every prediction, as one short paragraph.
[[nodiscard]] std::string cautions();

/// "Note: the elevation ends at 12 km." and so on, a line each.
[[nodiscard]] std::string notes_text(const std::vector<std::string>& notes);

/// What was taken for granted of radios of which nothing was said, as a note; empty if nothing was.
[[nodiscard]] std::string assumed_words(const link::Assumed& assumed);

/// How elevation of this kind goes with ground cover; empty where it does not matter.
[[nodiscard]] std::string ground_words(terrain::GroundKind kind, bool with_cover);

/// What a scenario takes for granted, and its own notes.
[[nodiscard]] std::vector<std::string> notes_of(const scenario::Scenario& scenario);

/// "5 W, antenna stock (-4.5 dBi), 1.5 m above the ground"; no-break spaces before units.
[[nodiscard]] std::string equipment_words(const link::Station& station);

/// "1 Talk: 146.520 MHz, tone 100.0 Hz, all calls", and who is on it if not everybody is.
[[nodiscard]] std::string channel_words(const scenario::Scenario& scenario, std::size_t number);

/// With a capital at the start and a full stop at the end.
[[nodiscard]] std::string sentence(std::string words);

[[nodiscard]] std::string_view yes_or_no(bool value);

} // namespace earshot::report
