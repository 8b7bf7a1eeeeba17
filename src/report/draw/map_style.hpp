#pragma once

#include "report/say/colour.hpp"

namespace earshot::report {

/// Colours and tones of the map picture; those of the classes are in margin_classes.hpp.
namespace map_style {

inline constexpr Rgb paper{1.0, 1.0, 1.0};
inline constexpr Rgb ink{0.11, 0.12, 0.15};
inline constexpr Rgb quiet_ink{0.32, 0.34, 0.38};
inline constexpr Rgb frame{0.30, 0.31, 0.34};
inline constexpr Rgb hatch{0.70, 0.71, 0.73};
inline constexpr Rgb contour{0.20, 0.15, 0.13};
inline constexpr double contour_opacity = 0.66;
inline constexpr Rgb grid{0.05, 0.13, 0.22};
inline constexpr double grid_opacity = 0.45;

inline constexpr double level_grey = 0.915;     ///< level ground that is not covered
inline constexpr double relief_contrast = 0.40; ///< grey per unit of brightness
inline constexpr double class_opacity = 0.35;
inline constexpr double unknown_veil = 0.6; ///< share of white over ground without prediction
inline constexpr double hatch_pt = 6.0;     ///< from one line of the hatch to the next

} // namespace map_style

/// Grey of ground of a given brightness (see `hillshade`); level ground if NaN.
[[nodiscard]] double relief_grey(float shade);

} // namespace earshot::report
