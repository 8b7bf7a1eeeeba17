#include "earshot/terrain/refractivity.hpp"
#include "ground.hpp"

#include <catch2/catch.hpp>

#include <fstream>

using namespace earshot;

namespace {

void write_map(const std::filesystem::path& file, double value) {
    std::ofstream out(file);
    for (int row = 0; row < earshot::terrain::GlobalMap::rows; ++row) {
        for (int column = 0; column < earshot::terrain::GlobalMap::columns; ++column) {
            out << value << ' ';
        }
        out << '\n';
    }
}

} // namespace

TEST_CASE("example of terrain/refractivity.hpp") {
    const examples::Folder folder;
    std::filesystem::current_path(folder.path());
    std::filesystem::create_directory("maps");
    write_map("maps/DN50.TXT", 42.0);
    write_map("maps/N050.TXT", 330.0);
    const geo::LatLon ridge = examples::ridge;
    // Else the middle-latitude values.
    const terrain::Refractivity air = terrain::RefractivityMaps::open("maps").at(ridge);
    CHECK(air.delta_n == 42.0);
    CHECK(air.n0 == 330.0);
    std::filesystem::current_path("/");
}
