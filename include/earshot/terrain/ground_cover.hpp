#pragma once

#include "earshot/base/task.hpp"
#include "earshot/terrain/georeference.hpp"

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <limits>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// What stands on the ground: woods and houses. docs/woods-and-noise.md explains the tables.
///
///     terrain::GroundCover cover(terrain::CoverTable::worldcover(), ground.columns, ground.rows);
///     for (int row = 0; row < ground.rows; ++row) {
///         cover.classify(row, codes); // or GroundCover::load() from a raster of classes
///     }
///     const bool in_woods = cover.woodland(ground.georeference.cell_of(camp));

namespace earshot::terrain {

/// Kinds of ground cover of ITU-R P.1812-8 table 2.
enum class Clutter : std::uint8_t {
    water,
    open, ///< open or rural
    suburban,
    urban_or_trees, ///< urban, trees or forest: one kind there
    dense_urban,
};

/// Height that P.1812-8 table 2 adds to the ground for a kind of cover, m: 0, 0, 10, 15, 20.
[[nodiscard]] double default_height_m(Clutter clutter);
/// water, open, suburban, urban-or-trees, dense-urban.
[[nodiscard]] std::string_view name_of(Clutter clutter);

/// One class of a cover scheme.
struct CoverClass {
    int code = 0; ///< value in the raster
    std::string name;
    Clutter clutter = Clutter::open;
    double height_m = 0.0; ///< above the ground, 0 to 150; of a wood above 0 and up to 100
    bool woodland = false; ///< a terminal below its top is among trees

    /// 0 in woods and in the open.
    [[nodiscard]] double roofs_m() const { return woodland ? 0.0 : height_m; }

    bool operator==(const CoverClass&) const = default;
};

/// What ground can be covered with when it is covered alike everywhere: water, open, suburban,
/// urban, dense-urban, woodland.
[[nodiscard]] std::span<const std::string_view> cover_kinds();
/// One of cover_kinds() by its name, with the height of P.1812-8 table 2 unless another is given.
/// Throws Error(Fault::usage) that lists the names if there is none of that name.
[[nodiscard]] CoverClass cover_kind(std::string_view name,
                                    std::optional<double> height_m = std::nullopt);

/// Classes by the code that a raster holds.
class CoverTable {
public:
    /// ESA WorldCover (v100 for 2020, v200 for 2021): codes 10, 20, ... 100.
    static const CoverTable& worldcover();
    /// National Land Cover Database of the United States (MRLC/USGS, 2001 and later): 11 to 95.
    static const CoverTable& nlcd();
    /// "worldcover", "nlcd" or the name of a table file.
    static CoverTable named(const std::string& name);
    /// Reads comma separated values. The first line names the columns: code, name, clutter (as
    /// name_of() writes it), height_m, woodland (yes or no), in any order; height_m may be left
    /// empty for that of P.1812. Values with commas stand in double quotes; empty lines and lines
    /// that start with # do not count. Throws Error(Fault::input) naming file, line and column.
    static CoverTable read(const std::filesystem::path& file);

    /// At most 254 classes. Throws Error(Fault::input) naming `name` if there are none, too
    /// many, two with one code, or a height out of range.
    CoverTable(std::string name, std::vector<CoverClass> classes);

    [[nodiscard]] const std::string& name() const { return name_; }
    [[nodiscard]] std::span<const CoverClass> classes() const { return classes_; }

private:
    std::string name_;
    std::vector<CoverClass> classes_; ///< by rising code
};

/// The cover of the cells of a height grid, one byte each, or of all ground alike.
class GroundCover {
public:
    /// One class everywhere.
    static GroundCover uniform(CoverClass everywhere);

    /// Reads the classes at the centres of the cells of a grid (its georeference and size) from
    /// rasters in any format and CRS that GDAL reads; where they overlap, the one named first
    /// counts. Cells that no raster has a class for (outside it, marked as without data, or 0 where
    /// the table has no class 0) are open ground; see unclassified_cells(). Throws
    /// Error(Fault::input) if a file cannot be read, holds no whole numbers, holds a code that
    /// the table lacks or if no file has a class for any cell; Error(Fault::memory) if the cells
    /// do not fit in memory.
    static GroundCover load(std::span<const std::filesystem::path> files, const CoverTable& table,
                            const Georeference& georeference, int columns, int rows,
                            Task& task = silent_task());

    /// Cells that have no class yet, with the classes of a table: open ground until they have.
    GroundCover(const CoverTable& table, int columns, int rows);
    /// Gives the cells of a row that have no class yet that of their code. `no_class`, and 0 where
    /// the table has no class 0, leave a cell as it is. Stops at a code that the table lacks and
    /// says which of `codes` that is.
    std::optional<std::size_t> classify(int row, std::span<const std::int32_t> codes);
    /// No scheme uses it as a code.
    static constexpr std::int32_t no_class = std::numeric_limits<std::int32_t>::min();

    /// The class of the cell nearest to a position; open ground outside the grid.
    [[nodiscard]] const CoverClass& at(CellPosition cell) const {
        if (columns_ == 0) {
            return classes_.front();
        }
        // From the outer corner. NaN and what lies outside fail the comparison.
        const double right = cell.column + 0.5;
        const double down = cell.row + 0.5;
        if (right >= 0.0 && down >= 0.0 && right < columns_ && down < rows_) {
            const auto column = static_cast<std::size_t>(right);
            const auto row = static_cast<std::size_t>(down);
            return classes_[cells_[row * static_cast<std::size_t>(columns_) + column]];
        }
        return classes_.back();
    }
    [[nodiscard]] double height_m(CellPosition cell) const { return at(cell).height_m; }
    [[nodiscard]] bool woodland(CellPosition cell) const { return at(cell).woodland; }

    /// All that a cell may have.
    [[nodiscard]] std::span<const CoverClass> classes() const { return classes_; }

    /// 0 by 0 for uniform cover.
    [[nodiscard]] int columns() const { return columns_; }
    [[nodiscard]] int rows() const { return rows_; }
    [[nodiscard]] std::uint64_t unclassified_cells() const { return unclassified_cells_; }

private:
    GroundCover() = default;

    int columns_ = 0;
    int rows_ = 0;
    std::vector<CoverClass> classes_; ///< those of the table, then open ground
    std::vector<std::uint8_t> cells_; ///< index into classes_, row by row
    std::uint64_t unclassified_cells_ = 0;
};

} // namespace earshot::terrain
