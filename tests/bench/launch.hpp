#pragma once

#include <filesystem>
#include <functional>
#include <string>
#include <vector>

namespace earshot::bench {

struct Timing {
    double seconds = 0.0; ///< the median
    int runs = 0;
};

/// Times work five times, or fewer if that took longer than half a minute in all.
[[nodiscard]] Timing time_runs(const std::function<void()>& work);
/// The same for work that takes its own time, in seconds.
[[nodiscard]] Timing median_of_runs(const std::function<double()>& work);

/// "3.21 s (median of 5)", or the time alone of a single run.
[[nodiscard]] std::string format_timing(const Timing& timing);

struct Launched {
    double seconds = 0.0;  ///< wall time from start to end
    double peak_mib = 0.0; ///< largest resident memory
};

/// Runs a program to its end, with what it prints going to `output`. Throws Error(Fault::input)
/// that names the program, with what it printed, if it cannot be started or fails.
///
/// The program is started by a small process of its own (this program with the word
/// `launcher_word`): a process inherits the resident memory of the one that started it in the
/// count, and this one is large.
[[nodiscard]] Launched launch(const std::vector<std::string>& words,
                              const std::filesystem::path& output);

inline constexpr const char* launcher_word = "--launch";

/// What the small process does; `argv` is: program, `launcher_word`, file for the numbers, file for
/// the output, words. Returns its exit status.
[[nodiscard]] int run_launcher(int argc, char** argv);

/// A folder that goes away with the object.
class ScratchFolder {
public:
    /// Makes it inside `parent`. Throws Error(Fault::output).
    explicit ScratchFolder(const std::filesystem::path& parent);
    ~ScratchFolder();
    ScratchFolder(const ScratchFolder&) = delete;
    ScratchFolder& operator=(const ScratchFolder&) = delete;
    [[nodiscard]] std::string file(const std::string& name) const {
        return (path_ / name).string();
    }

private:
    std::filesystem::path path_;
};

} // namespace earshot::bench
