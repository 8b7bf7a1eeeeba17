#include "earshot/terrain/terrain_source.hpp"
#include "rasters.hpp"

#include <catch2/catch.hpp>
#include <fmt/format.h>

#include <cmath>
#include <cstdlib>
#include <fstream>
#include <sstream>
#include <string>

namespace earshot::terrain {

using testing::TemporaryFolder;

TEST_CASE("the invented valley has its places, and the summit is the summit") {
    const TemporaryFolder folder;
    const std::string file = (folder / "valley.tif").string();
    REQUIRE(std::system(fmt::format("'{}' valley '{}'", EARSHOT_GENERATE_TERRAIN, file).c_str()) ==
            0);
    const TerrainSource source = TerrainSource::open({file});
    CHECK(source.info().columns == 1200);
    CHECK(source.info().rows == 1000);
    CHECK(source.info().height_unit == "metre");
    HeightSummary summary;
    const HeightGrid grid = source.load_all(&summary);

    std::ifstream places(std::string(EARSHOT_SOURCE_DIR) + "/dem-samples/valley-places.csv");
    std::string line;
    REQUIRE(std::getline(places, line));
    CHECK(line == "name,latitude,longitude,remark");
    int count = 0;
    while (std::getline(places, line)) {
        std::istringstream fields(line);
        std::string name;
        std::string latitude;
        std::string longitude;
        std::string remark;
        std::getline(fields, name, ',');
        std::getline(fields, latitude, ',');
        std::getline(fields, longitude, ',');
        std::getline(fields, remark);
        INFO(name);
        ++count;
        CHECK_THAT(remark, Catch::StartsWith("INVENTED"));
        const CellPosition cell =
            grid.georeference.cell_of({std::stod(latitude), std::stod(longitude)});
        CHECK(grid.covers(cell));
        if (name == "Veldrath Top") {
            const CellPosition highest = grid.georeference.cell_of(summary.highest);
            CHECK(std::abs(cell.column - highest.column) < 0.01);
            CHECK(std::abs(cell.row - highest.row) < 0.01);
            CHECK(summary.highest_m == Approx(1272.9).margin(0.01));
        } else if (name == "Quorrel") {
            CHECK(grid.sample(cell) == Approx(170.0).margin(12.0));
        } else {
            CHECK(grid.sample(cell) < 600.0);
        }
    }
    CHECK(count == 9);
}

TEST_CASE("invented ground can be made of other sizes, kinds and seeds") {
    const TemporaryFolder folder;
    const auto make = [&](const std::string& arguments, const std::string& name) {
        const std::string file = (folder / name).string();
        REQUIRE(std::system(fmt::format("'{}' {} --columns 80 --rows 60", EARSHOT_GENERATE_TERRAIN,
                                        fmt::format(fmt::runtime(arguments), file))
                                .c_str()) == 0);
        return TerrainSource::open({file}).load_all();
    };
    const HeightGrid flat = make("flat '{}' --cell-m 90", "flat.tif");
    CHECK(flat.columns == 80);
    CHECK(flat.rows == 60);
    for (const float height : flat.height_m) {
        CHECK(std::abs(height - 50.0F) <= 1.0F);
    }
    const HeightGrid rough = make("rough '{}'", "rough.tif");
    const HeightGrid again = make("rough '{}'", "again.tif");
    const HeightGrid other = make("rough '{}' --seed 2", "other.tif");
    CHECK(rough.height_m == again.height_m);
    CHECK(rough.height_m != other.height_m);
}

} // namespace earshot::terrain
