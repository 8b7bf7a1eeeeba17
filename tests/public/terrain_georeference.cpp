#include "earshot/terrain/georeference.hpp"

#include <catch2/catch.hpp>

using namespace earshot;

TEST_CASE("example of terrain/georeference.hpp") {
    // Cells of a thousandth of a degree, the first one at 15 E 47 N.
    const terrain::Georeference cells("EPSG:4326", 15.0, 47.0, 0.001, -0.001);
    const terrain::CellPosition cell = cells.cell_of(geo::LatLon{46.95, 15.02});
    CHECK(cell.column == Approx(20.0));
    CHECK(cell.row == Approx(50.0));
}
