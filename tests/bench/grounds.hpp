#pragma once

#include "earshot/terrain/ground_cover.hpp"
#include "earshot/terrain/height_grid.hpp"
#include "launch.hpp"

#include <optional>
#include <string>

namespace earshot::bench {

/// Ground in memory, and the file it was read from.
struct Ground {
    std::string what;
    std::string file;
    terrain::HeightGrid heights;
};

/// The grounds that benchmarks share, each made when it is first asked for.
class Grounds {
public:
    explicit Grounds(const ScratchFolder& scratch) : scratch_(scratch) {}

    /// Real ground, cells of 3 seconds: dem-samples/cumberland_3arcsec.tif.
    [[nodiscard]] const Ground& real();
    /// The same, resampled by GDAL's cubic spline to 4,000 x 2,100 cells of 9 m in UTM. The sample
    /// is not wide enough: east of its edge it goes on as its mirror image.
    [[nodiscard]] const Ground& nine_metre();
    /// The same in 1,200 x 1,000 cells of 30 m.
    [[nodiscard]] const Ground& thirty_metre();
    /// Invented hills with detail down to two cells, 1,200 x 1,000 cells of 30 m.
    [[nodiscard]] const Ground& rough();
    /// Invented ground that undulates by a metre, 1,200 x 1,000 cells of 30 m.
    [[nodiscard]] const Ground& flat();
    /// Invented hills with detail down to two cells, 8,100 x 8,100 cells of 9 m; made anew.
    [[nodiscard]] Ground large_rough() const;

private:
    [[nodiscard]] Ground splined(int columns, int rows, int cell_m, int north_m) const;
    [[nodiscard]] Ground generated(const std::string& kind, int columns, int rows, int cell_m,
                                   const std::string& what) const;

    const ScratchFolder& scratch_;
    std::optional<Ground> real_, nine_metre_, thirty_metre_, rough_, flat_;
};

/// Invented cover for a ground: square patches of about 250 m, a quarter of them woods and a
/// quarter houses, by the codes of ESA WorldCover. It is written to `file` first.
[[nodiscard]] terrain::GroundCover patches(const terrain::HeightGrid& ground,
                                           const std::string& file = "/vsimem/patches.tif");

/// A part of a grid.
[[nodiscard]] terrain::HeightGrid crop(const terrain::HeightGrid& grid, int left, int top,
                                       int columns, int rows);

} // namespace earshot::bench
