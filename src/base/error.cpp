#include "earshot/base/error.hpp"

namespace earshot {

void throw_usage(const std::string& message) {
    throw Error(ExitCode::usage, message);
}
void throw_input(const std::string& message) {
    throw Error(ExitCode::input, message);
}
void throw_output(const std::string& message) {
    throw Error(ExitCode::output, message);
}

} // namespace earshot
