#include "earshot/report/files/coverage_geotiff.hpp"
#include "ground.hpp"

#include <catch2/catch.hpp>

using namespace earshot;

TEST_CASE("example of report/files/coverage_geotiff.hpp") {
    const examples::Folder folder;
    std::filesystem::current_path(folder.path());
    const terrain::HeightGrid ground = examples::hills();
    const coverage::CoverageRaster raster{ground.columns,
                                          ground.rows,
                                          ground.georeference,
                                          {{"loss", "dB", ground.height_m}},
                                          {{"SITE", "ridge"}}};
    report::write_coverage_geotiff("map.tif", raster);
    const coverage::CoverageRaster again = report::read_coverage_geotiff("map.tif");
    CHECK(again.bands.front().values == raster.bands.front().values);
    CHECK(again.metadata == raster.metadata);
    std::filesystem::current_path("/");
}
