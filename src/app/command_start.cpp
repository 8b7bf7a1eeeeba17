#include "app/commands.hpp"
#include "app/options.hpp"
#include "base/output_file.hpp"
#include "earshot/base/error.hpp"
#include "scenario/scenario.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <string>

namespace earshot::app {
namespace {

struct StartCommand {
    std::string output;

    void add_to(const Options& options) {
        options
            .add("file", output, "The file to write; one that exists is never changed", "FILE.toml")
            .required();
    }
    void run() const;
};

void StartCommand::run() const {
    std::error_code ignored;
    if (std::filesystem::exists(std::filesystem::symlink_status(output, ignored))) {
        throw_output(fmt::format("{} exists and is left as it is; name another file", output));
    }
    write_text_file(output, std::string(scenario::starter_scenario()));
    fmt::print("Wrote {}. Fill it in with an editor, then run: earshot net --scenario {}\n", output,
               output);
}

} // namespace

void add_start_command(Program& program) {
    program.add<StartCommand>("start", "Write a scenario file with remarks, to be filled in");
}

} // namespace earshot::app
