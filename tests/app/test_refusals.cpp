#include "earshot/base/error.hpp"
#include "program.hpp"

#include <gdal_priv.h>

#include <array>
#include <cmath>

namespace earshot::app {

using namespace testing;

namespace {

/// Takes the place of the value of an option, or adds the option.
Arguments with(Arguments arguments, const std::string& option, const std::string& value) {
    const auto found = std::ranges::find(arguments, option);
    if (found == arguments.end()) {
        return arguments + Arguments{option, value};
    }
    *(found + 1) = value;
    return arguments;
}

const Arguments good_map{"map", "--terrain",   sample,   "--at",  "36.6,-84.2", "--range",
                         "3km", "--frequency", "146MHz", "--out", "map.tif"};
const Arguments good_path{"path", "--terrain",    sample,        "--from", "36.6,-84.2",
                          "--to", "36.62,-84.19", "--frequency", "146MHz"};

/// As docs/file-formats.md lists them.
int exit_code_of(Fault fault) {
    switch (fault) {
    case Fault::internal:
        return 1;
    case Fault::usage:
        return 2;
    case Fault::input:
        return 3;
    case Fault::output:
        return 4;
    case Fault::memory:
        return 5;
    case Fault::stopped:
        return 130;
    }
    return -1;
}

/// Expects a refusal in one line that holds all the words, and no trace on the disk.
void check_refused(const TemporaryFolder& folder, const Arguments& arguments, Fault code,
                   const std::vector<std::string>& words, const Surroundings& surroundings = {}) {
    const auto before = folder.names();
    const Outcome outcome = run(folder, arguments, surroundings);
    std::string asked;
    for (const std::string& argument : arguments) {
        asked += argument + " ";
    }
    INFO(asked);
    INFO(outcome.err);
    CHECK(outcome.exit_code == exit_code_of(code));
    CHECK(outcome.out.empty());
    CHECK_THAT(outcome.err, Catch::StartsWith("earshot: "));
    CHECK(std::ranges::count(outcome.err, '\n') == 1);
    CHECK_THAT(outcome.err, Catch::EndsWith("\n"));
    for (const std::string& word : words) {
        CHECK_THAT(outcome.err, Catch::Contains(word));
    }
    CHECK(folder.names() == before);
}

/// Ground of 0.2 by 0.2 degrees around 10 degrees east, 47 degrees north, with a wide void in the
/// middle.
void write_ground(const std::string& path, bool with_crs) {
    GDALAllRegister();
    constexpr int side = 200;
    GDALDriver* driver = GetGDALDriverManager()->GetDriverByName("GTiff");
    const GDALDatasetUniquePtr dataset(
        driver->Create(path.c_str(), side, side, 1, GDT_Int16, nullptr));
    REQUIRE(dataset);
    std::array<double, 6> transform{9.9, 0.001, 0.0, 47.1, 0.0, -0.001};
    dataset->SetGeoTransform(transform.data());
    if (with_crs) {
        OGRSpatialReference crs;
        crs.SetFromUserInput("EPSG:4326");
        dataset->SetSpatialRef(&crs);
    }
    GDALRasterBand& band = *dataset->GetRasterBand(1);
    band.SetNoDataValue(-32768);
    std::vector<std::int16_t> heights;
    for (int cell = 0; cell < side * side; ++cell) {
        const bool in_void = std::abs(cell % side - 100) < 20 && std::abs(cell / side - 100) < 20;
        heights.push_back(in_void ? -32768 : 500);
    }
    REQUIRE(band.RasterIO(GF_Write, 0, 0, side, side, heights.data(), side, side, GDT_Int16, 0, 0,
                          nullptr) == CE_None);
}

} // namespace

TEST_CASE("values that cannot be used are refused") {
    const TemporaryFolder folder;
    struct Case {
        const char* option;
        const char* value;
        std::vector<std::string> words;
    };
    const std::vector<Case> cases{
        {"--range", "6", {"--range", "\"6\"", "no unit", "write"}},
        {"--range", "6parsec", {"--range", "parsec", "km", "mi", "write"}},
        {"--range", "0m", {"--range", "0m"}},
        {"--at", "96.6,-84.2", {"96.6,-84.2", "latitude", "90", "write"}},
        {"--power", "0W", {"--power", "0W", "write"}},
        {"--power", "-5W", {"--power", "-5W", "write"}},
        {"--frequency", "20MHz", {"--frequency", "20MHz", "30MHz", "6GHz"}},
        {"--frequency", "7GHz", {"--frequency", "7GHz", "30MHz", "6GHz"}},
        {"--frequency", "146", {"--frequency", "146", "no unit", "MHz"}},
        {"--antenna-height", "-2m", {"--antenna-height", "-2m", "below the ground"}},
        {"--feeder-loss", "-3dB", {"--feeder-loss", "-3dB", "negative"}},
        {"--receiver-threshold", "0.25V", {"--receiver-threshold", "dBm", "uV"}},
        {"--method", "guess", {"guess", "choose", "p1812", "free-space"}},
        {"--knife-edge", "blunt", {"--knife-edge", "blunt", "itu", "exact"}},
        {"--bands", "noise", {"--bands", "noise", "margin", "received"}},
        {"--bands", "margin,margin", {"--bands", "margin", "twice"}},
        {"--k-factor", "0", {"--k-factor", "\"0\"", "give a number"}},
        {"--k-factor", "4/0", {"--k-factor", "0", "give a number"}},
        {"--threads", "0", {"--threads", "0", "1024"}},
        {"--threads", "many", {"--threads", "many"}},
        {"--grid", "hexagons", {"--grid", "hexagons", "terrain", "utm"}},
        {"--cell", "-30m", {"--cell", "-30m"}},
        {"--cell", "0.01m", {"too large", "larger cells", "shorter range"}},
        {"--step", "0m", {"--step", "0m"}},
        {"--height-unit", "fathom", {"--height-unit", "fathom", "us-ft"}},
        {"--wings", "2", {"--wings", "earshot map --help"}},
    };
    for (const Case& value : cases) {
        check_refused(folder, with(good_map, value.option, value.value), Fault::usage, value.words);
    }
    check_refused(folder, good_map + Arguments{"--grid", "terrain", "--cell", "30m"}, Fault::usage,
                  {"--cell", "--grid utm"});
    check_refused(folder, with(good_path, "--to", "36.6,-84.2"), Fault::usage,
                  {"less than 1 m apart"});
}

TEST_CASE("a command that is missing or unknown is refused") {
    const TemporaryFolder folder;
    check_refused(folder, {}, Fault::usage, {"map", "path", "terrain", "earshot --help"});
    check_refused(folder, {"mpa"}, Fault::usage, {"mpa", "map", "earshot --help"});
    check_refused(folder, {"terrain"}, Fault::usage,
                  {"--terrain", "required", "earshot terrain --help"});
}

TEST_CASE("elevation that cannot be used is refused") {
    const TemporaryFolder folder;
    for (const Arguments& command :
         {good_map, good_path, Arguments{"terrain", "--terrain", sample}}) {
        check_refused(folder, with(command, "--terrain", "none.tif"), Fault::input,
                      {"none.tif", "no such file", "check the name"});
    }

    const std::string whole = content_of(sample);
    write_file(folder / "half.tif", whole.substr(0, whole.size() / 2));
    write_file(folder / "words.tif", "these are no heights\n");
    write_ground(folder / "no-place.tif", false);
    write_ground(folder / "void.tif", true);
    for (const Arguments& command : {good_map, Arguments{"terrain", "--terrain", sample}}) {
        check_refused(folder, with(command, "--terrain", "half.tif"), Fault::input,
                      {"half.tif", "cut short", "fresh copy"});
        check_refused(folder, with(command, "--terrain", "words.tif"), Fault::input,
                      {"words.tif", "give"});
        check_refused(folder, with(command, "--terrain", "no-place.tif"), Fault::input,
                      {"no-place.tif", "reference system", "gdal_translate"});
    }

    const Arguments in_void = with(with(good_map, "--terrain", "void.tif"), "--at", "47.0,10.0");
    check_refused(folder, in_void, Fault::input, {"47.0", "10.0", "void"});
    const Arguments void_path =
        with(with(good_path, "--terrain", "void.tif"), "--to", "47.0,10.05");
    check_refused(folder, with(void_path, "--from", "47.0,10.0"), Fault::input, {"A", "void"});
    check_refused(folder, with(void_path, "--from", "47.0,9.95"), Fault::input,
                  {"A", "B", "void", "km"});

    check_refused(folder, with(good_map, "--at", "30,-84"), Fault::input,
                  {"30.0", "-84.0", "no elevation"});
    // A southern latitude starts like an option and is none.
    check_refused(folder, with(good_map, "--at", "-36.6,149.2"), Fault::input,
                  {"-36.6", "149.2", "no elevation"});
    check_refused(folder, with(good_map, "--at", "36.74,-84.2"), Fault::input,
                  {"36.74", "-84.2", "off"});
    check_refused(folder, with(good_path, "--to", "36.74,-84.2"), Fault::input,
                  {"B", "36.74", "off the elevation"});
}

TEST_CASE("outputs that cannot be written are refused") {
    struct Case {
        Arguments arguments;
        Fault code;
        std::vector<std::string> words;
    };
    const std::vector<Case> cases{
        {with(good_map, "--out", "absent/map.tif"),
         Fault::output,
         {"absent/map.tif", "does not exist", "create it"}},
        {with(good_map, "--out", "."), Fault::output, {"folder", "name a file"}},
        {with(good_map, "--picture", "absent/map.png"),
         Fault::output,
         {"absent/map.png", "does not exist", "create it"}},
        {good_map + Arguments{"--picture", "map.png", "--bands", "loss"},
         Fault::usage,
         {"--picture", "margin", "--bands"}},
        {with(good_map, "--picture", "map.tif"), Fault::usage, {"map.tif"}},
        {with(good_path, "--profile", "absent/ground.csv"),
         Fault::output,
         {"absent/ground.csv", "does not exist", "create it"}},
    };
    for (const Case& output : cases) {
        const TemporaryFolder folder;
        check_refused(folder, output.arguments, output.code, output.words);
    }
}

TEST_CASE("an input is never overwritten") {
    const TemporaryFolder folder;
    const std::string tile = folder / "tiles/tile.tif";
    std::filesystem::create_directory(folder / "tiles");
    const std::string whole = content_of(sample);
    const auto check_kept = [&](const Arguments& arguments, const std::string& name,
                                const std::string& word = "input") {
        write_file(tile, whole);
        std::error_code ignored;
        for (const std::string link : {"link.tif", "link.png", "link.csv"}) {
            std::filesystem::create_symlink("tiles/tile.tif", folder / link, ignored);
        }
        check_refused(folder, arguments, Fault::usage, {name, word});
        CHECK((content_of(tile) == whole));
        std::filesystem::remove(folder / "map.tif", ignored);
    };
    const std::string terrain = GENERATE("tiles/tile.tif", "tiles");
    const std::string name = GENERATE("tiles/tile.tif", "./tiles/../tiles/tile.tif", "link.tif");
    const Arguments map = with(good_map, "--terrain", terrain);
    check_kept(with(map, "--out", name), name);
    const Arguments path = with(good_path, "--terrain", terrain);
    check_kept(with(map, "--picture", name), name, "ends in .tif");
    check_kept(with(path, "--profile", name), name, "ends in .tif");
    check_kept(with(map, "--picture", "link.png"), "link.png");
    check_kept(with(path, "--profile", "link.csv"), "link.csv");
}

TEST_CASE("a full disk is told of and leaves no half-written file") {
    const TemporaryFolder folder;
    Surroundings full_disk;
    full_disk.largest_file_bytes = 4096;
    check_refused(folder, good_map, Fault::output, {"map.tif", "disk"}, full_disk);
    check_refused(folder, good_path + Arguments{"--step", "10m", "--profile", "ground.csv"},
                  Fault::output, {"ground.csv"}, full_disk);
    write_file(folder / "map.tif", "an older map");
    check_refused(folder, good_map, Fault::output, {"map.tif", "disk"}, full_disk);
    CHECK(content_of(folder / "map.tif") == "an older map");
}

TEST_CASE("an answer that cannot be written to standard output is a failure") {
    const TemporaryFolder folder;
    Surroundings full;
    full.output_device = "/dev/full"; // every write to it fails, full(4)
    check_refused(folder, good_path, Fault::output, {"standard output"}, full);
    check_refused(folder, {"terrain", "--terrain", sample, "--json"}, Fault::output,
                  {"standard output"}, full);
    check_refused(folder, {"--help"}, Fault::output, {"standard output"}, full);
}

TEST_CASE("a job too large for the memory is refused before it starts") {
    const TemporaryFolder folder;
    // A virtual raster of 10^6 by 10^6 cells: 4 TB of heights.
    write_file(folder / "huge.vrt", "<VRTDataset rasterXSize=\"1000000\" rasterYSize=\"1000000\">"
                                    "<SRS>EPSG:4326</SRS>"
                                    "<GeoTransform>10, 1e-6, 0, 47, 0, -1e-6</GeoTransform>"
                                    "<VRTRasterBand dataType=\"Int16\" band=\"1\"/>"
                                    "</VRTDataset>\n");
    check_refused(folder, {"terrain", "--terrain", "huge.vrt"}, Fault::memory,
                  {"1000000 x 1000000", "TB", "shorter range", "coarser"});
    check_refused(folder,
                  {"map", "--terrain", "huge.vrt", "--at", "46.5,10.5", "--range", "30km",
                   "--frequency", "146MHz", "--out", "map.tif"},
                  Fault::memory, {"TB", "shorter range"});
#ifndef __SANITIZE_ADDRESS__ // which needs address space of its own
    Surroundings little_memory;
    little_memory.memory_bytes = rlim_t{1} << 30;
    check_refused(folder, good_map + Arguments{"--cell", "0.2m", "--threads", "1"}, Fault::memory,
                  {"memory", "shorter range", "larger cells"}, little_memory);
#endif
}

} // namespace earshot::app
