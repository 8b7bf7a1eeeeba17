#pragma once

#include <stdexcept>
#include <string>

namespace earshot {

/// What the program tells the shell when it ends. Documented in docs/file-formats.md.
enum class ExitCode : int {
    ok = 0,
    internal = 1,      ///< a fault in Earshot itself
    usage = 2,         ///< an option or value that cannot be used
    input = 3,         ///< an input file that is missing, damaged or does not cover the job
    output = 4,        ///< an output that cannot be written
    memory = 5,        ///< the job needs more memory than there is
    interrupted = 130, ///< stopped by the user (128 + SIGINT)
};

/// An error meant for the person at the keyboard: one line that says what is wrong, where, and
/// what to do about it.
class Error : public std::runtime_error {
public:
    Error(ExitCode code, const std::string& message) : std::runtime_error(message), code_(code) {}
    [[nodiscard]] ExitCode code() const noexcept { return code_; }

private:
    ExitCode code_;
};

[[noreturn]] void throw_usage(const std::string& message);
[[noreturn]] void throw_input(const std::string& message);
[[noreturn]] void throw_output(const std::string& message);

} // namespace earshot
