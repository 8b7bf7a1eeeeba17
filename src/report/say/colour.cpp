#include "report/say/colour.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace earshot::report {
namespace {

double encode(double linear) {
    const double value =
        linear <= 0.0031308 ? 12.92 * linear : 1.055 * std::pow(linear, 1.0 / 2.4) - 0.055;
    return std::clamp(value, 0.0, 1.0);
}

double cube(double value) {
    return value * value * value;
}

} // namespace

Rgb from_oklch(double lightness, double chroma, double hue_deg) {
    const double hue = hue_deg * std::numbers::pi / 180.0;
    const double a = chroma * std::cos(hue);
    const double b = chroma * std::sin(hue);
    const double l = cube(lightness + 0.3963377774 * a + 0.2158037573 * b);
    const double m = cube(lightness - 0.1055613458 * a - 0.0638541728 * b);
    const double s = cube(lightness - 0.0894841775 * a - 1.2914855480 * b);
    return {encode(4.0767416621 * l - 3.3077115913 * m + 0.2309699292 * s),
            encode(-1.2684380046 * l + 2.6097574011 * m - 0.3413193965 * s),
            encode(-0.0041960863 * l - 0.7034186147 * m + 1.7076147010 * s)};
}

std::array<std::uint8_t, 3> colour_bytes(const Rgb& colour) {
    const auto byte = [](double part) {
        return static_cast<std::uint8_t>(std::lround(std::clamp(part, 0.0, 1.0) * 255.0));
    };
    return {byte(colour.red), byte(colour.green), byte(colour.blue)};
}

} // namespace earshot::report
