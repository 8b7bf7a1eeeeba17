#include "terminal_progress.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <cstdio>

namespace earshot::app {

TerminalProgress::TerminalProgress() : on_terminal_(isatty(STDERR_FILENO) != 0) {}

TerminalProgress::~TerminalProgress() {
    TerminalProgress::end();
}

void TerminalProgress::begin(std::string_view stage, std::uint64_t total) {
    end();
    stage_ = stage;
    total_ = total;
    done_ = 0;
    last_drawn_ = {};
}

void TerminalProgress::advance(std::uint64_t steps) {
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

void TerminalProgress::draw(std::uint64_t done) {
    const double share =
        total_ == 0 ? 1.0 : static_cast<double>(done) / static_cast<double>(total_);
    fmt::print(stderr, "\r\033[K{}: {:.0f} %", stage_, 100.0 * share);
    std::fflush(stderr);
    drawn_ = true;
}

void TerminalProgress::end() {
    if (drawn_) {
        fmt::print(stderr, "\r\033[K");
        std::fflush(stderr);
        drawn_ = false;
    }
}

} // namespace earshot::app
