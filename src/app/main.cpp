#include "app/arguments.hpp"
#include "app/commands.hpp"
#include "app/options.hpp"
#include "app/terminal_task.hpp"
#include "earshot/base/error.hpp"
#include "geo/text.hpp"
#include "report/say/phrases.hpp"

#include <fmt/format.h>
#include <gdal.h>

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <exception>
#include <iostream>
#include <new>
#include <string>

namespace {

/// What the shell is told. Documented in docs/file-formats.md.
int exit_code(earshot::Fault fault) {
    switch (fault) {
    case earshot::Fault::usage:
        return 2;
    case earshot::Fault::input:
        return 3;
    case earshot::Fault::output:
        return 4;
    case earshot::Fault::memory:
        return 5;
    case earshot::Fault::stopped:
        return 130; // 128 + SIGINT
    case earshot::Fault::internal:
        break;
    }
    return 1;
}

/// One line, whatever names of files and words of libraries hold.
int fail(earshot::Fault fault, const std::string& message) {
    earshot::app::say_aside(fmt::format("earshot: {}\n", earshot::geo::one_line(message)));
    return exit_code(fault);
}

int fail_to_print() {
    return fail(
        earshot::Fault::output,
        fmt::format("cannot write to standard output ({}); check the space left on the disk",
                    std::strerror(errno)));
}

/// Pushes out what was printed. False if some of it is lost.
bool all_printed() {
    std::cout.flush();
    return std::fflush(stdout) == 0 && std::ferror(stdout) == 0 && std::cout.good();
}

int run(earshot::app::Program& program, int argc, char** argv) {
    try {
        program.run(argc, argv);
    } catch (const earshot::Error& error) {
        return fail(error.fault(), error.what());
    } catch (const std::bad_alloc&) {
        return fail(earshot::Fault::memory,
                    "not enough memory; choose a shorter range or larger cells");
    } catch (const std::exception& error) {
        if (std::ferror(stdout) != 0) {
            return fail_to_print();
        }
        return fail(earshot::Fault::internal, error.what());
    }
    return 0;
}

} // namespace

int main(int argc, char** argv) {
    earshot::app::hold_standard_streams();
    earshot::app::Program program(
        "earshot", "Earshot tells people with small two-way radios where they will be heard.",
        "earshot " EARSHOT_VERSION,
        earshot::app::forms_of_values() +
            "Exit codes: 0 done, 1 fault in the program, 2 option or value refused, 3 input "
            "refused,\n4 output not written, 5 not enough memory, 130 stopped.\n\n" +
            earshot::report::cautions());
    namespace app = earshot::app;
    for (const auto add :
         {app::add_map_command, app::add_path_command, app::add_net_command, app::add_relay_command,
          app::add_mast_command, app::add_ladder_command, app::add_range_command,
          app::add_walk_command, app::add_compare_command, app::add_correct_command,
          app::add_brief_command, app::add_terrain_command, app::add_start_command}) {
        add(program);
    }
    earshot::app::install_stop_handlers();
    // Elevation is read once and maps are written once, so a large cache would only take memory
    // from the map itself.
    GDALSetCacheMax64(std::int64_t{128} << 20);
    const int code = run(program, argc, argv);
    return code == 0 && !all_printed() ? fail_to_print() : code;
}
