#include "program.hpp"

namespace earshot::app {

using namespace testing;

namespace {

const Arguments long_map{"map",     "--terrain", "rough.tif", "--at",    "35.43,17.01",
                         "--range", "20km",      "--method",  "deygout", "--frequency",
                         "446MHz",  "--threads", "1",         "--out",   "map.tif"};

} // namespace

TEST_CASE("a map stopped by the user leaves nothing behind") {
    const TemporaryFolder folder;
    make_invented_ground(folder, {"rough", "rough.tif", "--columns", "1500", "--rows", "1500"});
    const bool older = GENERATE(false, true);
    const int signal_number = older ? SIGTERM : SIGINT;
    INFO((older ? "older map" : "no older map"));
    if (older) {
        write_file(folder / "map.tif", "an older map");
    }
    const auto before = folder.names();

    Surroundings terminal;
    terminal.errors_to_a_terminal = true;
    RunningProgram program(folder, long_map, terminal);
    // On a terminal the program tells how far it is.
    REQUIRE(program.has_said("sweep: "));
    program.send(signal_number);
    const Outcome outcome = program.wait();
    CHECK(outcome.exit_code == 130);
    CHECK(outcome.out.empty());
    CHECK_THAT(outcome.err, Catch::Contains("earshot: stopped"));
    CHECK(folder.names() == before);
    if (older) {
        CHECK(content_of(folder / "map.tif") == "an older map");
    }
}

TEST_CASE("a map stopped while it is being written leaves nothing behind") {
    const TemporaryFolder folder;
    write_file(folder / "map.tif", "an older map");
    Surroundings terminal;
    terminal.errors_to_a_terminal = true;
    // 4 million cells take a while to pack.
    RunningProgram program(folder,
                           {"map", "--terrain", sample, "--at", "36.6,-84.2", "--range", "5km",
                            "--method", "free-space", "--cell", "5m", "--frequency", "146MHz",
                            "--out", "map.tif"},
                           terminal);
    REQUIRE(program.has_said("writing the map: "));
    program.send(SIGINT);
    const Outcome outcome = program.wait();
    CHECK(outcome.exit_code == 130);
    CHECK(folder.names() == std::vector<std::string>{"map.tif"});
    CHECK(content_of(folder / "map.tif") == "an older map");
}

namespace {

/// A relay search over rough ground that takes a while in each of its phases.
Arguments long_search(const std::string& most_candidates) {
    return {"relay",    "--terrain",     "rough.tif",     "--frequency",       "146MHz",
            "--place",  "A=35.42,17.00", "--place",       "B=35.45,17.05",     "--threads",
            "1",        "--out",         "sites.geojson", "--around",          "15km",
            "--margin", "0dB",           "--ideal",       "--most-candidates", most_candidates};
}

/// Stops the search once it has said something, and expects what it had by then.
void check_best_so_far(const TemporaryFolder& folder, const Arguments& search,
                       const std::string& said) {
    Surroundings terminal;
    terminal.errors_to_a_terminal = true;
    RunningProgram program(folder, search, terminal);
    REQUIRE(program.has_said(said));
    program.send(SIGINT);
    const Outcome outcome = program.wait();
    INFO(outcome.out << outcome.err);
    CHECK(outcome.exit_code == 130);
    CHECK_THAT(outcome.out, Catch::StartsWith("Stopped: this is the best") &&
                                Catch::Contains("relay 1 at") && Catch::Contains("stopped"));
    CHECK_THAT(outcome.err, Catch::Contains("best so far"));
    CHECK_THAT(content_of(folder / "sites.geojson"), Catch::Contains("relay 1"));
    std::filesystem::remove(folder / "sites.geojson");
}

} // namespace

TEST_CASE("a relay search stopped by the user prints and writes the best so far") {
    const TemporaryFolder folder;
    make_invented_ground(folder, {"rough", "rough.tif", "--columns", "1500", "--rows", "1500"});
    const std::string line = "\033[K";
    check_best_so_far(folder, long_search("50000"), line + "candidates: ");
    check_best_so_far(folder, long_search("3000"), line + "relay candidates: ");
    write_file(
        folder / "area.geojson",
        R"({"type":"Polygon","coordinates":[[[16.95,35.4],[17.05,35.4],[17.05,35.48],[16.95,35.4]]]})");
    const Arguments of_area{"relay",  "--terrain",    "rough.tif",     "--frequency", "146MHz",
                            "--area", "area.geojson", "--cells",       "2",           "--threads",
                            "1",      "--out",        "sites.geojson", "--margin",    "20dB"};
    check_best_so_far(folder, of_area, line + "candidates: ");
    check_best_so_far(folder, of_area, line + "relay candidates: ");
}

TEST_CASE("a relay search stopped at its map has printed and written the sites") {
    const TemporaryFolder folder;
    make_invented_ground(folder, {"rough", "rough.tif", "--columns", "1500", "--rows", "1500"});
    Surroundings terminal;
    terminal.errors_to_a_terminal = true;
    RunningProgram program(folder, long_search("20") + Arguments{"--out", "map.tif"}, terminal);
    REQUIRE(program.has_said("sweep: "));
    program.send(SIGINT);
    const Outcome outcome = program.wait();
    CHECK(outcome.exit_code == 130);
    CHECK_THAT(outcome.out,
               Catch::Contains("relay 1 at") && Catch::Contains("Wrote sites.geojson"));
    CHECK(folder.names() == std::vector<std::string>{"rough.tif", "sites.geojson"});
}

} // namespace earshot::app
