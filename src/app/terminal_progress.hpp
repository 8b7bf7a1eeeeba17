#pragma once

#include "earshot/base/progress.hpp"

#include <atomic>
#include <chrono>
#include <cstdint>
#include <mutex>
#include <string>

namespace earshot::app {

/// Shows a stage's share done on standard error when that is a terminal; silent otherwise, so that
/// pipes and logs stay clean.
class TerminalProgress : public Progress {
public:
    TerminalProgress();
    ~TerminalProgress() override;
    void begin(std::string_view stage, std::uint64_t total) override;
    void advance(std::uint64_t steps) override;
    void end() override;

private:
    void draw(std::uint64_t done);

    bool on_terminal_;
    bool drawn_ = false;
    std::string stage_;
    std::uint64_t total_ = 0;
    std::atomic<std::uint64_t> done_{0};
    std::mutex drawing_;
    std::chrono::steady_clock::time_point last_drawn_;
};

} // namespace earshot::app
