#include "app/commands.hpp"
#include "base/output_file.hpp"
#include "earshot/base/error.hpp"
#include "scenario/scenario.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <memory>
#include <string>

namespace earshot::app {
namespace {

void write_starter(const std::string& output) {
    std::error_code ignored;
    if (std::filesystem::exists(std::filesystem::symlink_status(output, ignored))) {
        throw_output(fmt::format("{} exists and is left as it is; name another file", output));
    }
    write_text_file(output, std::string(scenario::starter_scenario()));
    fmt::print("Wrote {}. Fill it in with an editor, then run: earshot net --scenario {}\n", output,
               output);
}

} // namespace

void add_start_command(CLI::App& app) {
    auto output = std::make_shared<std::string>();
    CLI::App* sub =
        app.add_subcommand("start", "Write a scenario file with remarks, to be filled in");
    sub->add_option("file", *output, "The file to write; one that exists is never changed")
        ->required()
        ->type_name("FILE.toml");
    sub->callback([output] { write_starter(*output); });
}

} // namespace earshot::app
