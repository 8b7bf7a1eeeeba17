#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <vector>

namespace earshot::report {

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
