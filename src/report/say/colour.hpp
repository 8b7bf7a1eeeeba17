#pragma once

#include <array>
#include <cstdint>

namespace earshot::report {

/// An sRGB colour (IEC 61966-2-1), gamma-encoded, each part in [0, 1].
struct Rgb {
    double red = 0.0;
    double green = 0.0;
    double blue = 0.0;
};

/// The sRGB colour of perceived lightness `lightness` in [0, 1], chroma (0 is grey, about 0.3 the
/// strongest a screen can show) and hue in degrees, by OKLCH: B. Ottosson, "A perceptual color
/// space for image processing", 2020. A colour that a screen cannot show is clipped part by part.
[[nodiscard]] Rgb from_oklch(double lightness, double chroma, double hue_deg);

/// Red, green and blue as files hold them, 0 to 255.
[[nodiscard]] std::array<std::uint8_t, 3> colour_bytes(const Rgb& colour);

} // namespace earshot::report
