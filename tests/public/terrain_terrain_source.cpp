#include "earshot/report/files/coverage_geotiff.hpp"
#include "earshot/terrain/terrain_source.hpp"
#include "ground.hpp"

#include <catch2/catch.hpp>

using namespace earshot;

TEST_CASE("example of terrain/terrain_source.hpp") {
    const examples::Folder folder;
    std::filesystem::current_path(folder.path());
    const terrain::HeightGrid made = examples::hills();
    report::write_coverage_geotiff(
        "hills.tif",
        {made.columns, made.rows, made.georeference, {{"height", "m", made.height_m}}, {}});
    const geo::LatLon ridge = examples::ridge;
    const auto source = terrain::TerrainSource::open({"hills.tif"});
    const terrain::HeightGrid ground = source.load_around(ridge, 1000.0);
    CHECK(ground.sample(ridge) == Approx(made.sample(ridge)));
    std::filesystem::current_path("/");
}
