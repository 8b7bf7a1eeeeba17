#include "program.hpp"

#include <fmt/format.h>
#include <gdal_priv.h>
#include <nlohmann/json.hpp>

#include <array>
#include <cmath>

namespace earshot::app {

using namespace testing;

namespace {

/// What GDAL says of the sample, the reference here.
struct SampleFacts {
    int columns = 0;
    int rows = 0;
    std::array<double, 6> transform{};
    double lowest = 0.0;
    double highest = 0.0;
    double mean = 0.0;
    std::vector<double> heights;

    SampleFacts() {
        GDALAllRegister();
        const GDALDatasetUniquePtr dataset(GDALDataset::Open(sample.c_str(), GDAL_OF_RASTER));
        REQUIRE(dataset);
        columns = dataset->GetRasterXSize();
        rows = dataset->GetRasterYSize();
        REQUIRE(dataset->GetGeoTransform(transform.data()) == CE_None);
        heights.resize(static_cast<std::size_t>(columns) * static_cast<std::size_t>(rows));
        REQUIRE(dataset->GetRasterBand(1)->RasterIO(GF_Read, 0, 0, columns, rows, heights.data(),
                                                    columns, rows, GDT_Float64, 0, 0,
                                                    nullptr) == CE_None);
        const auto [low, high] = std::ranges::minmax_element(heights);
        lowest = *low;
        highest = *high;
        for (const double height : heights) {
            mean += height / static_cast<double>(heights.size());
        }
    }

    [[nodiscard]] double height_at(double latitude, double longitude) const {
        const auto column =
            static_cast<std::size_t>(std::floor((longitude - transform[0]) / transform[1]));
        const auto row =
            static_cast<std::size_t>(std::floor((latitude - transform[3]) / transform[5]));
        return heights.at(row * static_cast<std::size_t>(columns) + column);
    }
};

} // namespace

TEST_CASE("the terrain command tells what GDAL tells, as JSON") {
    const SampleFacts facts;
    const TemporaryFolder folder;
    const auto json =
        nlohmann::json::parse(output_of(folder, {"terrain", "--terrain", sample, "--json"}));
    CHECK(json.at("files") == nlohmann::json::array({sample}));
    CHECK(json.at("columns") == facts.columns);
    CHECK(json.at("rows") == facts.rows);
    CHECK(json.at("crs") == "EPSG:4326");
    CHECK(json.at("sample_type") == "Int16");
    CHECK(json.at("pixel_meaning") == "area");
    CHECK(json.at("north_west").at("longitude").get<double>() == Approx(facts.transform[0]));
    CHECK(json.at("north_west").at("latitude").get<double>() == Approx(facts.transform[3]));
    CHECK(json.at("south_east").at("longitude").get<double>() ==
          Approx(facts.transform[0] + facts.columns * facts.transform[1]));
    CHECK(json.at("south_east").at("latitude").get<double>() ==
          Approx(facts.transform[3] + facts.rows * facts.transform[5]));
    CHECK(json.at("lowest_m") == facts.lowest);
    CHECK(json.at("highest_m") == facts.highest);
    CHECK(json.at("mean_m").get<double>() == Approx(facts.mean).epsilon(1e-9));
    for (const auto& [place, height] :
         {std::pair{"lowest", facts.lowest}, std::pair{"highest", facts.highest}}) {
        CHECK(facts.height_at(json.at(place).at("latitude"), json.at(place).at("longitude")) ==
              height);
    }
    CHECK(json.at("void_cells") == 0);
    CHECK(folder.names().empty());
}

TEST_CASE("the terrain command tells it in words too") {
    const SampleFacts facts;
    const TemporaryFolder folder;
    const std::string text = output_of(folder, {"terrain", "--terrain", sample});
    for (const std::string& part :
         {sample, fmt::format("{} x {}", facts.columns, facts.rows), std::string("EPSG:4326"),
          fmt::format("{:.1f} m at", facts.lowest), fmt::format("{:.1f} m at", facts.highest),
          fmt::format("{:.1f} m", facts.mean), std::string("metre")}) {
        CHECK_THAT(text, Catch::Contains(part));
    }
}

TEST_CASE("heights told to be in feet are in feet") {
    const SampleFacts facts;
    const TemporaryFolder folder;
    const auto json = nlohmann::json::parse(
        output_of(folder, {"terrain", "--terrain", sample, "--height-unit", "ft", "--json"}));
    // The international foot is 0.3048 m (yard and pound agreement of 1959).
    CHECK(json.at("highest_m").get<double>() == Approx(0.3048 * facts.highest).margin(1e-3));
    CHECK(json.at("height_unit") == "foot");
}

} // namespace earshot::app
