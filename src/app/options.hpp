#pragma once

#include <cstddef>
#include <functional>
#include <memory>
#include <string>
#include <vector>

namespace CLI {
class App;
class Option;
} // namespace CLI

/// The command line: what the library that reads it is asked for, so that one file compiles it.

namespace earshot::app {

/// More about an option that was just added.
class Option {
public:
    explicit Option(CLI::Option* option) : option_(option) {}

    const Option& required() const;
    /// Each value comes after an option of its own: "--at A --at B".
    const Option& one_each() const;
    /// Values come one after another, or each after an option of its own.
    const Option& take_all() const;
    /// "A,B"
    const Option& separated_by_commas() const;
    /// Refuses numbers below `low` and above `high`.
    template <typename Number>
    const Option& between(Number low, Number high) const;

private:
    CLI::Option* option_;
};

/// Where one command's options are added and, once the command line is read, looked up.
class Options {
public:
    Options() = default;
    explicit Options(CLI::App* command) : command_(command) {}

    /// The same command; what is added stands under this heading in the help.
    [[nodiscard]] Options under(const std::string& heading) const;

    /// `names` are all of an option, "--log" or "log,--log"; one without dashes is a position on
    /// the command line. `value` holds what counts if the option is left out, which the help shows;
    /// it must outlive the program. `type` says in the help what is to be written. `Value` is a
    /// text, a vector of texts, int, unsigned, std::size_t or double.
    template <typename Value>
    Option add(const std::string& names, Value& value, const std::string& help,
               const std::string& type) const;
    void flag(const std::string& name, bool& value, const std::string& help) const;
    void remove(const std::string& name) const;
    void footer(const std::string& text) const;

    /// Whether it is on the command line.
    [[nodiscard]] bool given(const std::string& name) const;

private:
    CLI::App* command_ = nullptr;
    std::string heading_;
};

/// A program with commands.
class Program {
public:
    Program(const std::string& name, const std::string& about, const std::string& version,
            const std::string& footer);
    ~Program();
    Program(const Program&) = delete;
    Program& operator=(const Program&) = delete;

    /// A `Command` takes its options in add_to(const Options&) and does its work in run().
    template <typename Command>
    void add(const std::string& name, const std::string& about) {
        const auto command = std::make_shared<Command>();
        command->add_to(this->command(name, about, [command] { command->run(); }));
    }

    /// Runs the command that the command line names, or prints the help asked for. Throws
    /// Error(Fault::usage) for a line that cannot be read, and as the command does.
    void run(int argc, char** argv);

private:
    [[nodiscard]] Options command(const std::string& name, const std::string& about,
                                  std::function<void()> run);

    std::unique_ptr<CLI::App> app_;
};

} // namespace earshot::app
