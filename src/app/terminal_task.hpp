#pragma once

#include "earshot/base/task.hpp"

#include <atomic>
#include <chrono>
#include <cstdint>
#include <mutex>
#include <string>

namespace earshot::app {

/// Keeps the numbers of standard input, output and error taken where the shell closed them: a file
/// opened later must not get them and be written into by messages.
void hold_standard_streams() noexcept;

/// Writes to standard error. What it cannot take is lost: there is nobody left to be told.
void say_aside(const std::string& text) noexcept;

/// Installs handlers for SIGINT and SIGTERM that only set a flag, so that work in progress can
/// stop at a safe point and remove its temporary files. A second signal ends the process at once.
void install_stop_handlers();

/// Shows a stage's share done on standard error when that is a terminal; silent otherwise, so that
/// pipes and logs stay clean. Stops when a signal asks for it.
class TerminalTask : public Task {
public:
    /// Work on so many threads; commands without such an option run on one.
    explicit TerminalTask(unsigned threads = 1);
    ~TerminalTask() override;
    void begin(std::string_view stage, std::uint64_t total) override;
    void advance(std::uint64_t steps) override;
    void end() override;
    [[nodiscard]] unsigned threads() const noexcept override { return threads_; }
    [[nodiscard]] bool stop_requested() const noexcept override;

    /// Forgets that a signal asked to stop, so that what had been found by then can be written.
    /// The next signal asks again.
    static void forget_stop() noexcept;

private:
    void draw(std::uint64_t done);

    unsigned threads_;
    bool on_terminal_;
    bool drawn_ = false;
    std::string stage_;
    std::uint64_t total_ = 0;
    std::atomic<std::uint64_t> done_{0};
    std::mutex drawing_;
    std::chrono::steady_clock::time_point last_drawn_;
};

} // namespace earshot::app
