#include "commands.hpp"
#include "earshot/base/error.hpp"
#include "earshot/base/interrupt.hpp"
#include "earshot/report/path_report.hpp"

#include <fmt/format.h>

#include <cstdio>
#include <exception>
#include <new>

namespace {

int fail(earshot::ExitCode code, const char* message) {
    fmt::print(stderr, "earshot: {}\n", message);
    return static_cast<int>(code);
}

} // namespace

int main(int argc, char** argv) {
    CLI::App app{"Earshot tells people with small two-way radios where they will be heard."};
    app.name("earshot");
    app.set_version_flag("--version", "earshot " EARSHOT_VERSION);
    app.require_subcommand(1);
    app.footer("Heights and distances take a unit (6ft, 2m, 3mi, 5km), power W or dBm, gain dBi or "
               "dBd.\nPositions: 36.6,-84.2 | 36 36.0N 84 12.0W | 36 36 00N 84 12 00W | UTM | MGRS."
               "\n\nExit codes: 0 done, 1 fault in the program, 2 option or value refused, 3 input "
               "refused,\n4 output not written, 5 not enough memory, 130 stopped.\n\n" +
               earshot::report::cautions());
    earshot::app::add_map_command(app);
    earshot::app::add_path_command(app);
    earshot::app::add_terrain_command(app);
    earshot::install_interrupt_handlers();
    try {
        app.parse(argc, argv);
    } catch (const CLI::Success& wanted) { // --help and --version
        return app.exit(wanted);
    } catch (const CLI::ParseError& error) {
        return fail(earshot::ExitCode::usage,
                    fmt::format("{}; see earshot --help", error.what()).c_str());
    } catch (const earshot::Error& error) {
        return fail(error.code(), error.what());
    } catch (const std::bad_alloc&) {
        return fail(earshot::ExitCode::memory,
                    "not enough memory; choose a shorter range or larger cells");
    } catch (const std::exception& error) {
        return fail(earshot::ExitCode::internal, error.what());
    }
    return 0;
}
