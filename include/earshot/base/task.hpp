#pragma once

#include <cstdint>
#include <string_view>

namespace earshot {

/// Long work, as seen by those who do it: they tell how far they are, and ask whether to go on.
/// The application shows the one on a terminal and takes the other from the keyboard; tests and
/// pipes use silent_task(). All but `begin` and `end` may be called from several threads at once.
///
///     task.begin("paths", paths.size());
///     for (const Path& path : paths) {
///         task.throw_if_stopped();
///         predict(path);
///         task.advance(1);
///     }
class Task {
public:
    Task() = default;
    Task(const Task&) = delete;
    Task& operator=(const Task&) = delete;
    virtual ~Task() = default;

    /// Starts a stage of `total` steps; ends the stage before it.
    virtual void begin(std::string_view /*stage*/, std::uint64_t /*total*/) {}
    virtual void advance(std::uint64_t /*steps*/) {}
    virtual void end() {}

    /// On how many threads the work may run, at least 1.
    [[nodiscard]] virtual unsigned threads() const noexcept { return 1; }

    /// True once somebody wants the work to stop at the next safe point.
    [[nodiscard]] virtual bool stop_requested() const noexcept { return false; }
    /// Throws Error(Fault::stopped) then.
    void throw_if_stopped() const;
};

/// A task that nobody watches and nobody stops, on one thread.
[[nodiscard]] Task& silent_task();

/// The same on so many threads.
class ThreadedTask : public Task {
public:
    explicit ThreadedTask(unsigned threads) : threads_(threads) {}
    [[nodiscard]] unsigned threads() const noexcept override { return threads_; }

private:
    unsigned threads_;
};

/// A part of a task that tells no news of its own: it stops with the whole, and runs on as many
/// threads, or on one if it is itself one of several parts at work.
class QuietTask : public Task {
public:
    explicit QuietTask(const Task& whole) : QuietTask(whole, whole.threads()) {}
    QuietTask(const Task& whole, unsigned threads) : whole_(whole), threads_(threads) {}
    [[nodiscard]] unsigned threads() const noexcept override { return threads_; }
    [[nodiscard]] bool stop_requested() const noexcept override { return whole_.stop_requested(); }

private:
    const Task& whole_;
    unsigned threads_;
};

} // namespace earshot
