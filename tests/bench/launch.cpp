#include "launch.hpp"

#include "earshot/base/error.hpp"
#include "tables.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <fmt/ranges.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <fstream>
#include <sstream>

namespace earshot::bench {
namespace {

using Clock = std::chrono::steady_clock;

double seconds_since(Clock::time_point start) {
    return std::chrono::duration<double>(Clock::now() - start).count();
}

/// Replaces this process. Both outputs go to the file if one is named. Returns only on failure.
void become(std::vector<std::string> words, const char* output) {
    if (output != nullptr) {
        const int file = open(output, O_WRONLY | O_CREAT | O_TRUNC, 0644);
        if (file < 0 || dup2(file, STDOUT_FILENO) < 0 || dup2(file, STDERR_FILENO) < 0) {
            return;
        }
    }
    std::vector<char*> arguments;
    arguments.reserve(words.size() + 1);
    for (std::string& word : words) {
        arguments.push_back(word.data());
    }
    arguments.push_back(nullptr);
    execvp(arguments.front(), arguments.data());
}

constexpr int cannot_start = 127;

std::string content_of(const std::filesystem::path& path) {
    std::ifstream file(path);
    std::stringstream content;
    content << file.rdbuf();
    return content.str();
}

} // namespace

Timing time_runs(const std::function<void()>& work) {
    return median_of_runs([&] {
        const auto start = Clock::now();
        work();
        return seconds_since(start);
    });
}

Timing median_of_runs(const std::function<double()>& work) {
    constexpr int runs = 5;
    constexpr double patience_s = 30.0;
    std::vector<double> seconds;
    double total = 0.0;
    while (seconds.size() < runs && total < patience_s) {
        seconds.push_back(work());
        total += seconds.back();
    }
    std::ranges::sort(seconds);
    const std::size_t middle = seconds.size() / 2;
    const double median =
        seconds.size() % 2 == 1 ? seconds[middle] : (seconds[middle - 1] + seconds[middle]) / 2.0;
    return {median, static_cast<int>(seconds.size())};
}

std::string format_timing(const Timing& timing) {
    const std::string seconds = format_seconds(timing.seconds);
    return timing.runs == 1 ? seconds : fmt::format("{} (median of {})", seconds, timing.runs);
}

int run_launcher(int argc, char** argv) {
    if (argc < 5) {
        return cannot_start;
    }
    const auto start = Clock::now();
    const pid_t child = fork();
    if (child == 0) {
        become({argv + 4, argv + argc}, argv[3]);
        _exit(cannot_start);
    }
    int status = 0;
    rusage usage{};
    if (child < 0 || wait4(child, &status, 0, &usage) != child) {
        return cannot_start;
    }
    const double seconds = seconds_since(start);
    constexpr double kib_per_mib = 1024.0;
    std::ofstream(argv[2]) << fmt::format("{} {}\n", seconds,
                                          static_cast<double>(usage.ru_maxrss) / kib_per_mib);
    return WIFEXITED(status) ? WEXITSTATUS(status) : cannot_start;
}

Launched launch(const std::vector<std::string>& words, const std::filesystem::path& output) {
    const std::string numbers = output.string() + ".numbers";
    std::vector<std::string> all{"/proc/self/exe", launcher_word, numbers, output.string()};
    all.insert(all.end(), words.begin(), words.end());
    const pid_t child = fork();
    if (child == 0) {
        become(std::move(all), nullptr);
        _exit(cannot_start);
    }
    int status = 0;
    if (child < 0 || waitpid(child, &status, 0) != child || status != 0) {
        throw_input(
            fmt::format("this did not work: {}\n{}", fmt::join(words, " "), content_of(output)));
    }
    Launched launched;
    std::ifstream(numbers) >> launched.seconds >> launched.peak_mib;
    return launched;
}

ScratchFolder::ScratchFolder(const std::filesystem::path& parent)
    : path_(parent / fmt::format("earshot-bench-{}", getpid())) {
    std::error_code error;
    std::filesystem::create_directories(path_, error);
    if (error) {
        throw_output(fmt::format("cannot make the folder {}: {}; choose another place with "
                                 "--scratch",
                                 path_.string(), error.message()));
    }
}

ScratchFolder::~ScratchFolder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
}

} // namespace earshot::bench
