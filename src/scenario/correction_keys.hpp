#pragma once

#include "scenario/scenario_keys.hpp"

#include <span>

namespace earshot::scenario {

/// The one list of what a correction file may hold, the top of the file first. The reader refuses
/// everything else, and a test holds docs/correction.schema.json to it.
[[nodiscard]] std::span<const Section> correction_sections();

} // namespace earshot::scenario
