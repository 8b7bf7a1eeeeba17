#include "earshot/base/error.hpp"

namespace earshot {

void throw_usage(const std::string& message) {
    throw Error(Fault::usage, message);
}
void throw_input(const std::string& message) {
    throw Error(Fault::input, message);
}
void throw_output(const std::string& message) {
    throw Error(Fault::output, message);
}

} // namespace earshot
