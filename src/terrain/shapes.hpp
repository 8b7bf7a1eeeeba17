#pragma once

#include "earshot/geo/geodesic.hpp"
#include "earshot/terrain/georeference.hpp"
#include "earshot/terrain/height_grid.hpp"

#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

/// Points, lines and areas, and which cells of a raster lie in them or near.

namespace earshot::terrain {

/// On WGS 84.
struct Shapes {
    using Line = std::vector<geo::LatLon>;

    std::string label; ///< for messages: the name of the file
    std::vector<geo::LatLon> points;
    std::vector<Line> lines;
    /// Each polygon is its rings; a position in an odd number of rings is inside.
    std::vector<std::vector<Line>> polygons;
};

/// Reads all layers of a vector file in any format and reference system GDAL knows (GeoJSON, GPX,
/// KML, Shapefile, GeoPackage; CSV with columns of longitude and latitude). A file without a
/// reference system is taken for WGS 84. Throws Error(Fault::input): file missing or unreadable,
/// nothing in it, positions that are not on the earth.
[[nodiscard]] Shapes read_shapes(const std::filesystem::path& path);

/// Throws Error(Fault::input) if there is no polygon that has an area.
void require_polygons(const Shapes& shapes);

/// Metres per cell, row by row.
class GroundScale {
public:
    explicit GroundScale(const HeightGrid& ground);
    [[nodiscard]] Georeference::CellSize at(double row) const;
    /// The smallest side of any cell.
    [[nodiscard]] double least_m() const;

private:
    std::vector<Georeference::CellSize> sizes_;
};

/// A straight line in cells.
struct Segment {
    CellPosition a, b;
};

/// Whether positions of a raster lie in polygons: the crossings of a line toward the left are
/// counted, and only the edges that cross the row of a position are looked at.
class InsideTest {
public:
    InsideTest(const std::vector<std::vector<Shapes::Line>>& polygons,
               const Georeference& georeference, int rows);
    [[nodiscard]] bool operator()(CellPosition cell) const;

private:
    [[nodiscard]] std::size_t band(double row) const;

    int rows_;
    std::vector<std::vector<std::vector<Segment>>> polygons_; ///< edges of each, by row
};

/// Whether positions lie within a distance of shapes, to within half a percent over 10 km: it is
/// measured on the local scale of the raster. Segments are kept by squares as wide as the distance,
/// in every square that they may come near.
class NearTest {
public:
    NearTest(const Shapes& shapes, double distance_m, const HeightGrid& ground,
             const GroundScale& scale);
    [[nodiscard]] bool operator()(CellPosition cell) const;

private:
    [[nodiscard]] int index(double position, int count) const;
    void place(std::uint32_t segment);

    const GroundScale* scale_;
    double distance_m_;
    InsideTest inside_;
    double reach_, side_; ///< cells
    int across_, down_;
    std::vector<Segment> segments_;
    std::vector<std::vector<std::uint32_t>> squares_;
};

} // namespace earshot::terrain
