#pragma once

#include <catch2/catch.hpp>
#include <fcntl.h>
#include <fmt/format.h>
#include <pty.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <memory>
#include <optional>
#include <string>
#include <thread>
#include <vector>

/// Runs the real program in a folder of its own and keeps what it says.
namespace earshot::app::testing {

using Arguments = std::vector<std::string>;

inline const std::string sample =
    std::string(EARSHOT_SOURCE_DIR) + "/dem-samples/cumberland_3arcsec.tif";

inline Arguments operator+(Arguments first, const Arguments& second) {
    first.insert(first.end(), second.begin(), second.end());
    return first;
}

/// A folder removed with all that is in it.
class TemporaryFolder {
public:
    TemporaryFolder() {
        std::string name = (std::filesystem::temp_directory_path() / "earshot-app-XXXXXX").string();
        REQUIRE(mkdtemp(name.data()) != nullptr);
        path_ = name;
    }
    ~TemporaryFolder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    TemporaryFolder(const TemporaryFolder&) = delete;
    TemporaryFolder& operator=(const TemporaryFolder&) = delete;

    [[nodiscard]] std::string operator/(const std::string& name) const {
        return (path_ / name).string();
    }
    [[nodiscard]] const std::filesystem::path& path() const { return path_; }

    /// Names of all that lies in the folder and below it, hidden files too.
    [[nodiscard]] std::vector<std::string> names() const {
        std::vector<std::string> found;
        for (const auto& entry : std::filesystem::recursive_directory_iterator(path_)) {
            found.push_back(entry.path().lexically_relative(path_).string());
        }
        std::ranges::sort(found);
        return found;
    }

private:
    std::filesystem::path path_;
};

inline std::string content_of(const std::string& path) {
    std::ifstream file(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(file), {}};
}

inline void write_file(const std::string& path, const std::string& content) {
    std::ofstream(path, std::ios::binary) << content;
}

/// The words of a PDF, by poppler: as they lie on the page, or one column after the other.
inline std::string words_of_pdf(const std::string& path, const std::string& order = "-layout") {
    const std::unique_ptr<FILE, int (*)(FILE*)> pipe(
        popen(("pdftotext " + order + " '" + path + "' - 2>/dev/null").c_str(), "r"), pclose);
    REQUIRE(pipe);
    std::string words;
    std::array<char, 4096> bytes{};
    while (const std::size_t count = fread(bytes.data(), 1, bytes.size(), pipe.get())) {
        words.append(bytes.data(), count);
    }
    return words;
}

struct Outcome {
    int exit_code = -1; ///< 128 + number if a signal ended the program
    std::string out;
    std::string err;
};

/// What the program is denied, and where its streams go.
struct Surroundings {
    std::optional<rlim_t> largest_file_bytes; ///< writing beyond fails, as on a full disk
    std::optional<rlim_t> memory_bytes;
    std::string output_device; ///< in place of the pipe that takes standard output
    bool errors_to_a_terminal = false;
};

class RunningProgram {
public:
    RunningProgram(const TemporaryFolder& folder, const Arguments& arguments,
                   const Surroundings& surroundings = {},
                   const std::string& program = EARSHOT_PROGRAM) {
        int out[2] = {-1, -1};
        int err[2] = {-1, -1};
        REQUIRE(pipe2(out, O_CLOEXEC) == 0);
        if (surroundings.errors_to_a_terminal) {
            REQUIRE(openpty(&err[0], &err[1], nullptr, nullptr, nullptr) == 0);
            fcntl(err[0], F_SETFD, FD_CLOEXEC);
        } else {
            REQUIRE(pipe2(err, O_CLOEXEC) == 0);
        }
        if (!surroundings.output_device.empty()) {
            close(out[1]);
            out[1] = open(surroundings.output_device.c_str(), O_WRONLY | O_CLOEXEC);
            REQUIRE(out[1] >= 0);
        }
        std::vector<char*> words{const_cast<char*>(program.c_str())};
        for (const std::string& argument : arguments) {
            words.push_back(const_cast<char*>(argument.c_str()));
        }
        words.push_back(nullptr);
        child_ = fork();
        REQUIRE(child_ >= 0);
        if (child_ == 0) {
            dup2(out[1], STDOUT_FILENO);
            dup2(err[1], STDERR_FILENO);
            const auto limit = [](auto resource, const std::optional<rlim_t>& bytes) {
                if (bytes) {
                    const rlimit value{*bytes, *bytes};
                    setrlimit(resource, &value);
                }
            };
            limit(RLIMIT_FSIZE, surroundings.largest_file_bytes);
            limit(RLIMIT_AS, surroundings.memory_bytes);
            // Writing beyond the limit is to fail with an error, not to end the program.
            std::signal(SIGXFSZ, SIG_IGN);
            if (chdir(folder.path().c_str()) == 0) {
                execv(program.c_str(), words.data());
            }
            _exit(127);
        }
        close(out[1]);
        close(err[1]);
        err_descriptor_ = err[0];
        out_reader_ = std::thread([this, from = out[0]] {
            while (read_some(from, outcome_.out)) {
            }
            close(from);
        });
    }
    ~RunningProgram() {
        if (child_ > 0) {
            kill(child_, SIGKILL);
            (void)wait();
        }
    }
    RunningProgram(const RunningProgram&) = delete;
    RunningProgram& operator=(const RunningProgram&) = delete;

    /// Waits until standard error holds the text; false if the program ended without it.
    [[nodiscard]] bool has_said(const std::string& text) {
        while (outcome_.err.find(text) == std::string::npos) {
            if (!read_some(err_descriptor_, outcome_.err)) {
                return false;
            }
        }
        return true;
    }

    void send(int signal_number) const { kill(child_, signal_number); }

    [[nodiscard]] Outcome wait() {
        while (read_some(err_descriptor_, outcome_.err)) {
        }
        close(err_descriptor_);
        out_reader_.join();
        int status = 0;
        waitpid(child_, &status, 0);
        child_ = -1;
        outcome_.exit_code = WIFSIGNALED(status) ? 128 + WTERMSIG(status) : WEXITSTATUS(status);
        return outcome_;
    }

private:
    /// False at the end; a terminal whose other side is closed counts as that.
    static bool read_some(int from, std::string& into) {
        char bytes[4096];
        const ssize_t count = read(from, bytes, sizeof bytes);
        if (count > 0) {
            into.append(bytes, static_cast<std::size_t>(count));
        }
        return count > 0 || (count < 0 && errno == EINTR);
    }

    pid_t child_ = -1;
    int err_descriptor_ = -1;
    std::thread out_reader_;
    Outcome outcome_;
};

inline Outcome run(const TemporaryFolder& folder, const Arguments& arguments,
                   const Surroundings& surroundings = {}) {
    return RunningProgram(folder, arguments, surroundings).wait();
}

/// Runs the program and expects success without a word on standard error.
inline std::string output_of(const TemporaryFolder& folder, const Arguments& arguments) {
    const Outcome outcome = run(folder, arguments);
    INFO(outcome.err);
    REQUIRE(outcome.exit_code == 0);
    CHECK(outcome.err.empty());
    return outcome.out;
}

inline void make_invented_ground(const TemporaryFolder& folder, const Arguments& arguments) {
    const Outcome made = RunningProgram(folder, arguments, {}, EARSHOT_GENERATE_TERRAIN).wait();
    INFO(made.err);
    REQUIRE(made.exit_code == 0);
}

/// An invented net of two handhelds on the sample, as a scenario.
inline std::string net_of_two(const std::string& quorrel = "36.60, -84.19") {
    return fmt::format(R"([net]
name = "Valley net"
frequency_mhz = 146.52
[[radios]]
name = "handheld"
power_w = 5
sensitivity_uv = 0.25
[[stations]]
name = "Ombrel Mill"
position = "36.5792, -84.2108"
antenna_height_m = 6
radio = "handheld"
antenna = "half-wave"
[[stations]]
name = "Quorrel"
position = "{}"
antenna_height_m = 1.5
radio = "handheld"
antenna = "stock"
[ground]
elevation = '{}'
)",
                       quorrel, sample);
}

} // namespace earshot::app::testing
