#include "earshot/base/error.hpp"
#include "earshot/terrain/georeference.hpp"
#include "rasters.hpp"

#include <GeographicLib/Geodesic.hpp>
#include <GeographicLib/TransverseMercator.hpp>
#include <GeographicLib/UTMUPS.hpp>
#include <catch2/catch.hpp>

#include <cmath>
#include <memory>

namespace earshot::terrain {

using testing::message_of;

TEST_CASE("a geographic grid divides longitude and latitude") {
    const Georeference grid("EPSG:4326", 10.005, 46.995, 0.01, -0.01);
    const CellPosition cell = grid.cell_of({46.9, 10.105});
    CHECK(cell.column == Approx(10.0).margin(1e-9));
    CHECK(cell.row == Approx(9.5).margin(1e-9));
    CHECK(grid.geographic());
    CHECK(grid.crs_label() == "EPSG:4326");
    CHECK(grid.columns_per_turn() == Approx(36000.0));
}

// GeographicLib's UTM is independent of PROJ (Karney, "Transverse Mercator with an accuracy of a
// few nanometers", J. Geodesy 85, 475-485, 2011).
TEST_CASE("a UTM grid agrees with GeographicLib") {
    const Georeference grid("EPSG:32616", 700015.0, 4099985.0, 30.0, -30.0);
    for (double lat = 36.2; lat < 37.0; lat += 0.17) {
        for (double lon = -85.5; lon < -84.0; lon += 0.23) {
            int zone = 0;
            bool northern = false;
            double x = 0.0;
            double y = 0.0;
            GeographicLib::UTMUPS::Forward(lat, lon, zone, northern, x, y, 16);
            const CellPosition cell = grid.cell_of({lat, lon});
            CHECK(cell.column * 30.0 == Approx(x - 700015.0).margin(1e-4));
            CHECK(cell.row * -30.0 == Approx(y - 4099985.0).margin(1e-4));
            const geo::LatLon back = grid.position_of(cell);
            CHECK(back.lat_deg == Approx(lat).margin(1e-9));
            CHECK(back.lon_deg == Approx(lon).margin(1e-9));
        }
    }
    CHECK(grid.crs_label() == "EPSG:32616");
    CHECK_FALSE(grid.geographic());
    CHECK(grid.columns_per_turn() == 0.0);
}

// Independent of our own handling of axes and units: GDAL's transformation object, as gdaltransform
// uses it. The second system has feet (EPSG:2274, Tennessee, US survey feet), the third is
// geographic on another ellipsoid, the fourth has grads (EPSG:4807, NTF Paris).
TEST_CASE("other systems agree with GDAL's transformation") {
    struct Sample {
        const char* crs;
        double lat, lon, tolerance;
    };
    for (const Sample& sample :
         {Sample{"EPSG:3035", 52.3, 9.1, 1e-3}, Sample{"EPSG:2274", 36.4, -84.6, 1e-3},
          Sample{"EPSG:4230", 41.2, 2.3, 1e-8}, Sample{"EPSG:4807", 47.1, 3.2, 1e-8}}) {
        INFO(sample.crs);
        OGRSpatialReference wgs84;
        OGRSpatialReference crs;
        wgs84.importFromEPSG(4326);
        crs.SetFromUserInput(sample.crs);
        wgs84.SetAxisMappingStrategy(OAMS_TRADITIONAL_GIS_ORDER);
        crs.SetAxisMappingStrategy(OAMS_TRADITIONAL_GIS_ORDER);
        const std::unique_ptr<OGRCoordinateTransformation> transformation(
            OGRCreateCoordinateTransformation(&wgs84, &crs));
        REQUIRE(transformation);
        double x = sample.lon;
        double y = sample.lat;
        REQUIRE(transformation->Transform(1, &x, &y));
        const Georeference grid(sample.crs, 0.0, 0.0, 1.0, -1.0);
        const CellPosition cell = grid.cell_of({sample.lat, sample.lon});
        CHECK(cell.column == Approx(x).margin(sample.tolerance));
        CHECK(-cell.row == Approx(y).margin(sample.tolerance));
    }
}

TEST_CASE("copies and shifted copies keep working after the original is gone") {
    auto original = std::make_unique<Georeference>("EPSG:32616", 700015.0, 4099985.0, 30.0, -30.0);
    const CellPosition before = original->cell_of({36.6, -84.5});
    const Georeference copy(*original);
    const Georeference moved = original->shifted(100.0, 40.0);
    original.reset();
    CHECK(copy.cell_of({36.6, -84.5}).column == before.column);
    CHECK(moved.cell_of({36.6, -84.5}).column == Approx(before.column - 100.0));
    CHECK(moved.cell_of({36.6, -84.5}).row == Approx(before.row - 40.0));
    CHECK(moved.crs_label() == "EPSG:32616");
}

TEST_CASE("columns run on across the 180 degree meridian") {
    Georeference grid("EPSG:4326", 179.005, 10.0, 0.01, -0.01);
    grid.set_columns(200);
    CHECK(grid.cell_of({10.0, 179.505}).column == Approx(50.0));
    CHECK(grid.cell_of({10.0, -179.495}).column == Approx(150.0));
    CHECK(grid.cell_of({10.0, 178.505}).column == Approx(-50.0));
    CHECK(grid.position_of({150.0, 0.0}).lon_deg == Approx(-179.495));
}

TEST_CASE("a vertical part of the CRS is dropped") {
    const Georeference grid("EPSG:4326+5773", 10.0, 50.0, 0.1, -0.1);
    CHECK(grid.crs_label() == "EPSG:4326");
    CHECK(grid.cell_of({49.9, 10.1}).row == Approx(1.0));
}

TEST_CASE("cell sizes are lengths of geodesics") {
    const auto& earth = GeographicLib::Geodesic::WGS84();
    const Georeference grid("EPSG:4326", -84.4, 36.7, 1.0 / 1200, -1.0 / 1200);
    double across = 0.0;
    double down = 0.0;
    earth.Inverse(36.6, -84.0 - 0.5 / 1200, 36.6, -84.0 + 0.5 / 1200, across);
    earth.Inverse(36.6 - 0.5 / 1200, -84.0, 36.6 + 0.5 / 1200, -84.0, down);
    const auto size = grid.cell_size_at({36.6, -84.0});
    CHECK(size.across_m == Approx(across).epsilon(1e-9));
    CHECK(size.down_m == Approx(down).epsilon(1e-9));
    // 30 m of UTM easting near the central meridian are 30 m / 0.9996 on the ground.
    const Georeference utm("EPSG:32616", 500000.0, 4100000.0, 30.0, -30.0);
    CHECK(utm.cell_size_at({37.0, -87.0}).across_m == Approx(30.0 / 0.9996).epsilon(1e-6));
}

TEST_CASE("positions without coordinates give NaN") {
    // The orthographic projection shows one half of the globe only.
    const Georeference grid("+proj=ortho +lat_0=0 +lon_0=0 +datum=WGS84", 0.0, 0.0, 100.0, -100.0);
    CHECK(std::isnan(grid.cell_of({0.0, 170.0}).column));
    CHECK(std::isnan(grid.cell_of({0.0, 170.0}).row));
    CHECK(std::isnan(grid.position_of({1e6, 0.0}).lat_deg));
    CHECK(grid.cell_of({0.0, 0.0}).column == Approx(0.0).margin(1e-9));
}

TEST_CASE("a CRS that cannot be used is refused by name") {
    CHECK_THAT(message_of(Fault::input, [] { Georeference("nonsense", 0, 0, 1, -1); }),
               Catch::Contains("nonsense"));
    CHECK_THAT(
        message_of(Fault::input,
                   [] { Georeference("LOCAL_CS[\"shed\",UNIT[\"metre\",1]]", 0, 0, 1, -1); }),
        Catch::Contains("shed"));
}

} // namespace earshot::terrain
