#pragma once

#include <stdexcept>
#include <string>

/// What Earshot throws. The promise: nothing that goes wrong ends the program, and a message is one
/// line that a person can act on.
///
///     try {
///         predict();
///     } catch (const Error& error) {
///         std::cerr << error.what() << '\n'; // one line: what is wrong, where, what to do
///         return error.fault() == Fault::usage ? 1 : 2;
///     }

namespace earshot {

/// What kind of thing went wrong, so that a caller can tell what to do about it.
enum class Fault {
    internal, ///< in Earshot itself
    usage,    ///< an option or value that cannot be used
    input,    ///< an input that is missing, damaged or does not cover the job
    output,   ///< an output that cannot be written
    memory,   ///< the job needs more memory than there is
    stopped,  ///< somebody asked the work to stop
};

/// An error meant for a person: one line that says what is wrong, where, and what to do about it.
class Error : public std::runtime_error {
public:
    Error(Fault fault, const std::string& message) : std::runtime_error(message), fault_(fault) {}
    [[nodiscard]] Fault fault() const noexcept { return fault_; }

private:
    Fault fault_;
};

[[noreturn]] void throw_usage(const std::string& message);
[[noreturn]] void throw_input(const std::string& message);
[[noreturn]] void throw_output(const std::string& message);

} // namespace earshot
