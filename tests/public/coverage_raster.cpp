#include "earshot/coverage/raster.hpp"
#include "earshot/coverage/sweep.hpp"
#include "ground.hpp"

#include <catch2/catch.hpp>

using namespace earshot;

TEST_CASE("example of coverage/raster.hpp") {
    const coverage::MapGrid map = coverage::utm_map_grid(examples::ridge, 1000.0, 100.0);
    coverage::SweepResult result;
    result.loss_db.assign(static_cast<std::size_t>(map.columns * map.rows), 120.0F);
    const coverage::CoverageRaster raster{map.columns,
                                          map.rows,
                                          map.georeference,
                                          {{"loss", "dB", result.loss_db}},
                                          {{"SITE", "ridge"}}};
    CHECK(raster.bands.front().values.size() == result.loss_db.size());
}
