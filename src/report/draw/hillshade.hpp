#pragma once

#include <span>
#include <vector>

namespace earshot::report {

/// A row-major raster of heights with cells of one size, row 0 in the north.
struct ReliefGrid {
    int columns = 0;
    int rows = 0;
    double cell_across_m = 1.0;
    double cell_down_m = 1.0;
    std::vector<float> height_m; ///< NaN where not known
};

/// Brightness of level ground in `hillshade`.
inline constexpr double level_shade = 0.7071067811865476; // sine of the light's height, 45 degrees

/// Brightness of each cell in [0, 1], as of a matt surface lit from 45 degrees above: mostly from
/// the north-west, the custom of mapmakers, with some light from the west and the north so that
/// slopes along the main light keep their shape. NaN where the height is not known. Slopes by
/// central differences over 3 x 3 cells (B. K. P. Horn, "Hill shading and the reflectance map",
/// Proc. IEEE 69, 14-47, 1981); heights are multiplied by `exaggeration` first.
[[nodiscard]] std::vector<float> hillshade(const ReliefGrid& grid, double exaggeration);

/// The exaggeration that brings the steep slopes of this relief (the steepest tenth begins there)
/// to 35 degrees, within [0.5, 12]: mountains do not drown in black and plains still show.
[[nodiscard]] double fitted_exaggeration(const ReliefGrid& grid);

} // namespace earshot::report
