#include "app/options.hpp"

#include "base/output_file.hpp"
#include "earshot/base/error.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <sstream>
#include <string_view>
#include <type_traits>
#include <utility>

namespace earshot::app {
namespace {

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

/// Why a file cannot be one of `type`, "FILE.png|FILE.pdf": its ending is that of another format.
/// Empty if it can; endings that are no format's are nobody's business.
std::string contradiction(const std::string& file, const std::string& type) {
    constexpr std::array formats{".tif", ".tiff", ".png",  ".jpg",  ".jpeg",
                                 ".svg", ".pdf",  ".csv",  ".json", ".gpx",
                                 ".kml", ".kmz",  ".html", ".toml", ".geojson"};
    const std::filesystem::path path(file);
    std::string ending = path.extension().string();
    std::ranges::transform(ending, ending.begin(), [](char c) {
        return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c;
    });
    if (std::ranges::find(formats, ending) == formats.end()) {
        return {};
    }
    std::vector<std::string> own;
    std::istringstream types(type);
    for (std::string one; std::getline(types, one, '|');) {
        own.push_back(one.substr(one.find('.')));
    }
    const auto is_own = [&](const std::string& one) {
        return ending == one || (ending == ".tiff" && one == ".tif") ||
               (ending == ".json" && one == ".geojson");
    };
    if (std::ranges::any_of(own, is_own)) {
        return {};
    }
    return fmt::format("'{}' ends in {}, but this file is a {} one; name it {}{}", file, ending,
                       fmt::join(own, " or "), path.stem().string(), own.front());
}

} // namespace

const Option& Option::required() const {
    option_->required();
    return *this;
}

const Option& Option::one_each() const {
    option_->expected(1);
    return take_all();
}

const Option& Option::take_all() const {
    option_->take_all();
    return *this;
}

const Option& Option::separated_by_commas() const {
    option_->delimiter(',');
    return *this;
}

template <typename Number>
const Option& Option::between(Number low, Number high) const {
    option_->check(CLI::Range(low, high));
    if constexpr (std::is_floating_point_v<Number>) { // which NaN is never out of
        option_->check(
            [](const std::string& text) {
                return text.find_first_of("nN") == std::string::npos ? std::string()
                                                                     : text + " is no number";
            },
            "");
    }
    return *this;
}

template const Option& Option::between(int, int) const;
template const Option& Option::between(unsigned, unsigned) const;
template const Option& Option::between(std::size_t, std::size_t) const;
template const Option& Option::between(double, double) const;

Options Options::under(const std::string& heading) const {
    Options options = *this;
    options.heading_ = heading;
    return options;
}

template <typename Value>
Option Options::add(const std::string& names, Value& value, const std::string& help,
                    const std::string& type) const {
    CLI::Option* option = command_->add_option(names, value, help)->type_name(type);
    if (!heading_.empty()) {
        option->group(heading_);
    }
    bool has_value = true;
    if constexpr (!std::is_arithmetic_v<Value>) {
        has_value = !value.empty();
    }
    if (type.starts_with("FILE.") && !type.starts_with("FILE...")) {
        option->check([type](const std::string& file) { return contradiction(file, type); }, "");
    }
    if (has_value) {
        option->capture_default_str();
    }
    option->check(
        [](const std::string& text) {
            return text.empty()
                       ? std::string("an empty value says nothing; leave the option out, or "
                                     "give it one")
                       : std::string();
        },
        "");
    return Option(option);
}

template Option Options::add(const std::string&, std::string&, const std::string&,
                             const std::string&) const;
template Option Options::add(const std::string&, std::vector<std::string>&, const std::string&,
                             const std::string&) const;
template Option Options::add(const std::string&, int&, const std::string&,
                             const std::string&) const;
template Option Options::add(const std::string&, unsigned&, const std::string&,
                             const std::string&) const;
template Option Options::add(const std::string&, std::size_t&, const std::string&,
                             const std::string&) const;
template Option Options::add(const std::string&, double&, const std::string&,
                             const std::string&) const;

void Options::flag(const std::string& name, bool& value, const std::string& help) const {
    CLI::Option* option = command_->add_flag(name, value, help);
    option->disable_flag_override();
    if (!heading_.empty()) {
        option->group(heading_);
    }
}

void Options::remove(const std::string& name) const {
    command_->remove_option(command_->get_option(name));
}

void Options::footer(const std::string& text) const {
    command_->footer(text);
}

bool Options::given(const std::string& name) const {
    return command_->count(name) > 0;
}

Program::Program(const std::string& name, const std::string& about, const std::string& version,
                 const std::string& footer)
    : app_(std::make_unique<CLI::App>(about, name)) {
    app_->set_version_flag("--version", version);
    app_->require_subcommand(1);
    app_->footer(footer);
}

Program::~Program() = default;

Options Program::command(const std::string& name, const std::string& about,
                         std::function<void()> run) {
    CLI::App* command = app_->add_subcommand(name, about);
    command->callback(std::move(run));
    return Options(command);
}

void Program::run(int argc, char** argv) {
    // "earshot help net" is how people ask for "earshot net --help".
    std::vector<char*> words(argv, argv + argc);
    std::string help = "--help";
    if (argc >= 2 && std::string_view(argv[1]) == "help") {
        words.erase(words.begin() + 1);
        const std::vector<CLI::App*> commands = app_->get_subcommands({});
        if (argc == 2 || std::ranges::any_of(commands, [&](const CLI::App* command) {
                return command->get_name() == argv[2];
            })) {
            words.push_back(help.data());
        }
    }
    // What one run writes belongs together.
    const OutputGroup together;
    try {
        app_->parse(static_cast<int>(words.size()), words.data());
        publish_outputs();
    } catch (const CLI::Success& wanted) { // --help and --version
        app_->exit(wanted);
    } catch (const CLI::ParseError& error) {
        throw_usage(usage_message(*app_, error));
    }
}

} // namespace earshot::app
