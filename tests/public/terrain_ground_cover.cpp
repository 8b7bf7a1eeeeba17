#include "earshot/terrain/ground_cover.hpp"
#include "ground.hpp"

#include <catch2/catch.hpp>

#include <vector>

using namespace earshot;

TEST_CASE("example of terrain/ground_cover.hpp") {
    const terrain::HeightGrid ground = examples::hills();
    const geo::LatLon camp = examples::camp;
    const std::vector<std::int32_t> codes(static_cast<std::size_t>(ground.columns), 10);
    terrain::GroundCover cover(terrain::CoverTable::worldcover(), ground.columns, ground.rows);
    for (int row = 0; row < ground.rows; ++row) {
        cover.classify(row, codes); // or GroundCover::load() from a raster of classes
    }
    const bool in_woods = cover.woodland(ground.georeference.cell_of(camp));
    CHECK(in_woods);
    CHECK(cover.unclassified_cells() == 0);
}
