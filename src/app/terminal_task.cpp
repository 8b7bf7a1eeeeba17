#include "app/terminal_task.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <csignal>
#include <cstdio>

namespace earshot::app {
namespace {

volatile std::sig_atomic_t stop_asked = 0;

void on_signal(int signal_number) {
    if (stop_asked != 0) {
        _exit(128 + signal_number);
    }
    stop_asked = 1;
}

} // namespace

void hold_standard_streams() noexcept {
    // For reading alone, so that writing to one fails as it does on a closed one.
    int opened = 0;
    while (opened >= 0 && opened <= STDERR_FILENO) {
        opened = open("/dev/null", O_RDONLY | O_CLOEXEC);
    }
    close(opened);
}

void say_aside(const std::string& text) noexcept {
    // Not fmt::print(): that throws where nobody is left to be told.
    (void)std::fputs(text.c_str(), stderr);
    (void)std::fflush(stderr);
}

void install_stop_handlers() {
    struct sigaction action = {};
    action.sa_handler = on_signal;
    sigemptyset(&action.sa_mask);
    sigaction(SIGINT, &action, nullptr);
    sigaction(SIGTERM, &action, nullptr);
}

bool TerminalTask::stop_requested() const noexcept {
    // A signal may be held back while a library runs that has handlers of its own.
    sigset_t waiting;
    sigemptyset(&waiting);
    sigpending(&waiting);
    return stop_asked != 0 || sigismember(&waiting, SIGINT) == 1;
}

void TerminalTask::forget_stop() noexcept {
    stop_asked = 0;
}

TerminalTask::TerminalTask(unsigned threads)
    : threads_(std::max(1U, threads)), on_terminal_(isatty(STDERR_FILENO) != 0) {}

TerminalTask::~TerminalTask() {
    TerminalTask::end();
}

void TerminalTask::begin(std::string_view stage, std::uint64_t total) {
    end();
    stage_ = stage;
    total_ = total;
    done_ = 0;
    last_drawn_ = {};
}

void TerminalTask::advance(std::uint64_t steps) {
    const std::uint64_t done = done_ += steps;
    if (!on_terminal_) {
        return;
    }
    // A thread that finds another one drawing has nothing to add.
    const std::unique_lock lock(drawing_, std::try_to_lock);
    const auto now = std::chrono::steady_clock::now();
    if (lock.owns_lock() && now - last_drawn_ > std::chrono::milliseconds(100)) {
        last_drawn_ = now;
        draw(done);
    }
}

void TerminalTask::draw(std::uint64_t done) {
    const double share =
        total_ == 0 ? 1.0 : static_cast<double>(done) / static_cast<double>(total_);
    say_aside(fmt::format("\r\033[K{}: {:.0f} %", stage_, 100.0 * share));
    drawn_ = true;
}

void TerminalTask::end() {
    if (drawn_) {
        say_aside("\r\033[K");
        drawn_ = false;
    }
}

} // namespace earshot::app
