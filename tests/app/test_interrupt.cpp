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

} // namespace earshot::app
