#include "app/arguments.hpp"
#include "app/commands.hpp"
#include "app/terminal_task.hpp"
#include "earshot/base/error.hpp"
#include "report/say/path_report.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <gdal.h>

#include <algorithm>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <exception>
#include <iostream>
#include <new>
#include <string>
#include <vector>

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
int fail(earshot::Fault fault, std::string message) {
    std::ranges::replace_if(
        message, [](char c) { return c == '\n' || c == '\r'; }, ' ');
    fmt::print(stderr, "earshot: {}\n", message);
    return exit_code(fault);
}

/// What the parser found wrong, and where to read more.
std::string usage_message(const CLI::App& app, const CLI::ParseError& error) {
    const std::vector<CLI::App*> chosen = app.get_subcommands();
    if (!chosen.empty()) {
        return fmt::format("{}; see earshot {} --help", error.what(), chosen.front()->get_name());
    }
    std::vector<std::string> commands;
    for (const CLI::App* command : app.get_subcommands({})) {
        commands.push_back(command->get_name());
    }
    const std::vector<std::string> words = app.remaining();
    return fmt::format("{}; choose one of {}; see earshot --help",
                       words.empty() ? "a command is missing"
                                     : fmt::format("'{}' is not a command", words.front()),
                       fmt::join(commands, ", "));
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

int run(CLI::App& app, int argc, char** argv) {
    try {
        app.parse(argc, argv);
    } catch (const CLI::Success& wanted) { // --help and --version
        return app.exit(wanted);
    } catch (const CLI::ParseError& error) {
        return fail(earshot::Fault::usage, usage_message(app, error));
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
    CLI::App app{"Earshot tells people with small two-way radios where they will be heard."};
    app.name("earshot");
    app.set_version_flag("--version", "earshot " EARSHOT_VERSION);
    app.require_subcommand(1);
    app.footer(earshot::app::forms_of_values() +
               "Exit codes: 0 done, 1 fault in the program, 2 option or value refused, 3 input "
               "refused,\n4 output not written, 5 not enough memory, 130 stopped.\n\n" +
               earshot::report::cautions());
    earshot::app::add_map_command(app);
    earshot::app::add_path_command(app);
    earshot::app::add_net_command(app);
    earshot::app::add_relay_command(app);
    earshot::app::add_mast_command(app);
    earshot::app::add_ladder_command(app);
    earshot::app::add_range_command(app);
    earshot::app::add_walk_command(app);
    earshot::app::add_compare_command(app);
    earshot::app::add_correct_command(app);
    earshot::app::add_brief_command(app);
    earshot::app::add_terrain_command(app);
    earshot::app::add_start_command(app);
    earshot::app::install_stop_handlers();
    // Elevation is read once and maps are written once, so a large cache would only take memory
    // from the map itself.
    GDALSetCacheMax64(std::int64_t{128} << 20);
    const int code = run(app, argc, argv);
    return code == 0 && !all_printed() ? fail_to_print() : code;
}
