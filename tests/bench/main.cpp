// Measures speed, memory and agreement, and prints tables. Not part of the tests: what it prints
// depends on the machine and on what else the machine is doing.

#include "benchmarks.hpp"
#include "earshot/base/error.hpp"
#include "machine.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>
#include <gdal.h>

#include <algorithm>
#include <cstdio>
#include <cstring>
#include <exception>
#include <filesystem>
#include <string>
#include <vector>

namespace {

using namespace earshot;
using namespace earshot::bench;

struct Benchmark {
    std::string name;
    std::vector<Table> (*run)(Workshop&);
};

struct Options {
    std::vector<std::string> only;
    bool markdown = false;
    bool huge = false;
    std::string update;
    std::string scratch = std::filesystem::temp_directory_path().string();
    unsigned threads = 2;
};

void print_and_update(const Options& options, const std::string& name,
                      const std::vector<Table>& tables) {
    const Style style = options.markdown ? Style::markdown : Style::text;
    fmt::print("{}\n", format_tables(tables, style));
    std::fflush(stdout);
    if (!options.update.empty()) {
        update_document(options.update, name, format_tables(tables, Style::markdown));
    }
}

void run(const Options& options) {
    const std::vector<Benchmark> benchmarks{
        {"paths", bench_paths}, {"map", bench_map},       {"agreement", bench_agreement},
        {"doubt", bench_doubt}, {"growth", bench_growth}, {"program", bench_program},
        {"truth", bench_truth}, {"huge", bench_huge}};
    for (const std::string& name : options.only) {
        if (std::ranges::find(benchmarks, name, &Benchmark::name) == benchmarks.end()) {
            throw_usage(fmt::format("--only '{}' is not known; choose from paths, map, "
                                    "agreement, doubt, growth, program, truth, huge",
                                    name));
        }
    }
    GDALAllRegister();
    const ScratchFolder scratch(options.scratch);
    Grounds grounds(scratch);
    Workshop shop{grounds, scratch, options.threads};
    print_and_update(options, "machine", {describe_machine(options.threads)});
    for (const Benchmark& benchmark : benchmarks) {
        const bool named = std::ranges::find(options.only, benchmark.name) != options.only.end();
        const bool wanted =
            benchmark.name == "huge" ? named || options.huge : named || options.only.empty();
        if (!wanted) {
            continue;
        }
        std::vector<Table> tables = benchmark.run(shop);
        tables.back().notes.push_back(
            fmt::format("Load average after this: {:.2f}.", load_average()));
        print_and_update(options, benchmark.name, tables);
    }
}

} // namespace

int main(int argc, char** argv) {
    if (argc > 1 && std::strcmp(argv[1], launcher_word) == 0) {
        return run_launcher(argc, argv);
    }
    Options options;
    CLI::App app("Measures the speed, memory and agreement of Earshot on this machine");
    app.add_flag("--markdown", options.markdown, "Print the tables in Markdown");
    app.add_option("--update", options.update,
                   "Also put the tables in their places in this document")
        ->type_name("FILE.md");
    app.add_option("--only", options.only,
                   "Run these alone: paths, map, agreement, doubt, growth, program, truth, huge")
        ->delimiter(',')
        ->type_name("NAME,...");
    app.add_flag("--huge", options.huge,
                 "Also map 20,000 x 20,000 cells: minutes, 2 GB of disk, several of memory");
    app.add_option("--scratch", options.scratch, "Folder for files that are removed at the end")
        ->capture_default_str()
        ->type_name("FOLDER");
    app.add_option("--threads", options.threads, "Processors to use")
        ->check(CLI::Range(1U, 1024U))
        ->capture_default_str();
    CLI11_PARSE(app, argc, argv);
    try {
        run(options);
        return 0;
    } catch (const Error& error) {
        fmt::print(stderr, "earshot-bench: {}\n", error.what());
        return 1;
    } catch (const std::exception& error) {
        fmt::print(stderr, "earshot-bench: {}\n", error.what());
        return 1;
    }
}
