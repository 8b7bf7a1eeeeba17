#include "earshot/base/error.hpp"
#include "earshot/terrain/refractivity.hpp"

#include <catch2/catch.hpp>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <string>

using namespace earshot;
using namespace earshot::terrain;

namespace {

// A folder of its own that goes when the test does.
class Folder {
public:
    Folder()
        : path_(std::filesystem::temp_directory_path() /
                ("earshot_refractivity_" + std::to_string(::getpid()))) {
        std::filesystem::create_directories(path_);
    }
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;
    ~Folder() { std::filesystem::remove_all(path_); }
    [[nodiscard]] const std::filesystem::path& path() const { return path_; }

private:
    std::filesystem::path path_;
};

// A map whose value is 1000 times the row plus the column, so that each node is known by its value.
void write_map(const std::filesystem::path& file, double scale, int rows = GlobalMap::rows,
               const std::string& last_line = "") {
    std::ofstream out(file);
    for (int row = 0; row < rows; ++row) {
        for (int column = 0; column < GlobalMap::columns; ++column) {
            out << "  " << scale * (1000.0 * row + column);
        }
        out << "\r\n";
    }
    out << last_line;
}

std::string message_of(const std::filesystem::path& folder) {
    try {
        static_cast<void>(RefractivityMaps::open(folder));
    } catch (const Error& error) {
        CHECK(error.fault() == Fault::input);
        return error.what();
    }
    return "no error";
}

} // namespace

TEST_CASE("refractivity maps: nodes and what lies between them") {
    // Layout of the maps of ITU-R P.1812: 121 rows from 90 N down, 241 columns from 0 E, 1.5 deg.
    const Folder folder;
    write_map(folder.path() / "DN50.TXT", 1.0);
    write_map(folder.path() / "n050.txt", 0.5);
    const RefractivityMaps maps = RefractivityMaps::open(folder.path());
    CHECK(maps.at({90.0, 0.0}).delta_n == 0.0);
    CHECK(maps.at({88.5, 3.0}).delta_n == Approx(1002.0));
    CHECK(maps.at({88.5, 3.0}).n0 == Approx(501.0));
    CHECK(maps.at({-90.0, 0.0}).delta_n == Approx(120000.0));
    // West longitudes count on from 180 E; 84 W is 276 E, column 184; 36 N is row 36.
    CHECK(maps.at({36.0, -84.0}).delta_n == Approx(36184.0));
    CHECK(maps.at({36.0, 276.0}).delta_n == Approx(36184.0));
    CHECK(maps.at({35.25, -83.25}).delta_n == Approx(36684.5));
    CHECK(maps.at({0.0, -0.75}).delta_n == Approx(60239.5));
    CHECK(maps.at({0.0, 359.9999}).delta_n == Approx(60240.0).margin(1e-3));
}

TEST_CASE("refractivity maps: damaged or missing files give one line that says what to do") {
    const Folder folder;
    CHECK(message_of(folder.path() / "nowhere").find("cannot read this folder") !=
          std::string::npos);
    CHECK(message_of(folder.path()).find("no DN50.TXT") != std::string::npos);
    write_map(folder.path() / "DN50.TXT", 1.0);
    CHECK(message_of(folder.path()).find("no N050.TXT") != std::string::npos);

    write_map(folder.path() / "N050.TXT", 1.0, 120);
    CHECK(message_of(folder.path()).find("120 rows where a map has 121") != std::string::npos);
    write_map(folder.path() / "N050.TXT", 1.0, 122);
    CHECK(message_of(folder.path()).find("N050.TXT, line 122: more than the 121 rows") !=
          std::string::npos);
    write_map(folder.path() / "N050.TXT", 1.0, 120, "1 2 3\n");
    CHECK(message_of(folder.path()).find("line 121: 3 values where a row of the map has 241") !=
          std::string::npos);
    write_map(folder.path() / "N050.TXT", 1.0, 120, "1 2 3,5\n");
    CHECK(message_of(folder.path()).find("line 121: '3,5' is not a number") != std::string::npos);
    CHECK(message_of(folder.path()).find('\n') == std::string::npos);
}

TEST_CASE("refractivity: defaults are those of middle latitudes") {
    // The ITU-R validation set of P.1812 uses 45 N-units/km, and 323.9 and 326.1 N-units, for its
    // paths at 48 and 53 degrees north (tests/reference/p1812).
    const Refractivity usual;
    CHECK(usual.delta_n == 45.0);
    CHECK(usual.n0 == Approx(325.0).margin(2.0));
}
