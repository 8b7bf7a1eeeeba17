#include "app/arguments.hpp"
#include "app/commands.hpp"
#include "app/terminal_task.hpp"
#include "report/say/coverage_report.hpp"

#include <fmt/format.h>

namespace earshot::app {
namespace {

struct TerrainCommand {
    TerrainArguments terrain;
    bool json = false;

    void add_to(const Options& options);
    void run() const;
};

void TerrainCommand::run() const {
    TerminalTask task;
    scenario::GroundInputs ground;
    terrain.put_into(ground);
    const terrain::TerrainSource source = scenario::open_elevation(ground);
    terrain::HeightSummary heights;
    (void)source.load_all(&heights, task);
    task.end();
    fmt::print("{}", json ? report::terrain_json(source.info(), heights)
                          : report::terrain_text(source.info(), heights));
}

void TerrainCommand::add_to(const Options& options) {
    terrain.add_to(options, true);
    add_json_flag(options, json);
}

} // namespace

void add_terrain_command(Program& program) {
    program.add<TerrainCommand>(
        "terrain", "Say what an elevation input covers: extent, cells, heights, voids, units");
}

} // namespace earshot::app
