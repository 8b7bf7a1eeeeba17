#include "earshot/base/interrupt.hpp"

#include "earshot/base/error.hpp"

#include <unistd.h>

#include <csignal>

namespace earshot {
namespace {

volatile std::sig_atomic_t stop_requested = 0;

void on_signal(int signal_number) {
    if (stop_requested != 0) {
        _exit(128 + signal_number);
    }
    stop_requested = 1;
}

} // namespace

void install_interrupt_handlers() {
    struct sigaction action = {};
    action.sa_handler = on_signal;
    sigemptyset(&action.sa_mask);
    sigaction(SIGINT, &action, nullptr);
    sigaction(SIGTERM, &action, nullptr);
}

bool interrupted() noexcept {
    return stop_requested != 0;
}

void forget_interrupt() noexcept {
    stop_requested = 0;
}

void throw_if_interrupted() {
    if (interrupted()) {
        throw Error(ExitCode::interrupted, "stopped before the work was done; nothing was written");
    }
}

} // namespace earshot
