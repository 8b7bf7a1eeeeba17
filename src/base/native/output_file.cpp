#include "base/output_file.hpp"

#include "base/input_file.hpp"
#include "base/require.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <atomic>
#include <cerrno>
#include <csignal>
#include <cstdio>
#include <cstring>
#include <mutex>
#include <system_error>
#include <utility>
#include <vector>

namespace earshot {
namespace fs = std::filesystem;
namespace {

/// Temporary files of one output start so; the number of the process follows.
std::string start_of_temporary(const fs::path& path) {
    return "." + path.stem().string() + ".";
}

/// Removes what processes that are no more left of the same output.
void sweep_leftovers(const fs::path& folder, const fs::path& path) {
    const std::string start = start_of_temporary(path);
    std::error_code ignored;
    for (const auto& entry : fs::directory_iterator(folder, ignored)) {
        const std::string name = entry.path().filename().string();
        int process = 0;
        int number = 0;
        int end = 0;
        if (name.starts_with(start) &&
            std::sscanf(name.c_str() + start.size(), "%d-%d.part%n", &process, &number, &end) ==
                2 &&
            end > 0 && process > 0 && kill(process, 0) != 0 && errno == ESRCH) {
            fs::remove(entry.path(), ignored);
        }
    }
}

} // namespace

namespace {

struct Waiting {
    fs::path temporary;
    fs::path path;
};

struct Group {
    std::mutex mutex;
    bool open = false;
    std::vector<Waiting> files;
};

Group& group() {
    static Group only;
    return only;
}

void rename_to(const fs::path& temporary, const fs::path& path) {
    std::error_code failure;
    fs::rename(temporary, path, failure);
    require_output(!failure, "cannot write {}: {}", path.string(), failure.message());
}

} // namespace

OutputGroup::OutputGroup() {
    const std::lock_guard lock(group().mutex);
    group().open = true;
}

OutputGroup::~OutputGroup() {
    discard_outputs();
    const std::lock_guard lock(group().mutex);
    group().open = false;
}

void discard_outputs() {
    const std::lock_guard lock(group().mutex);
    for (const Waiting& file : group().files) {
        std::error_code ignored;
        fs::remove(file.temporary, ignored);
    }
    group().files.clear();
}

void publish_outputs() {
    const std::lock_guard lock(group().mutex);
    // File systems give new data its place before they rename it over old data. Done for all first,
    // it is not done between the renames, where a kill would part the files.
    for (const Waiting& file : group().files) {
        const int descriptor = open(file.temporary.c_str(), O_RDONLY | O_CLOEXEC);
        (void)sync_file_range(descriptor, 0, 0, SYNC_FILE_RANGE_WRITE);
        close(descriptor);
    }
    while (!group().files.empty()) {
        const Waiting next = group().files.front();
        rename_to(next.temporary, next.path);
        group().files.erase(group().files.begin());
    }
}

OutputFile::OutputFile(fs::path path, Replaces replaces) : path_(std::move(path)) {
    static std::atomic<unsigned> opened{0}; // no two temporary files of a process share a name
    std::error_code ignored;
    const std::string asked = path_.string(); // as people know it, in what they are told
    // What a link points at is written, be it there already or not.
    for (int links = 0; fs::is_symlink(path_, ignored); ++links) {
        constexpr int most_links = 40; // as in path_resolution(7)
        require_output(links < most_links, "cannot write {}: its links go round in a circle",
                       asked);
        path_ = path_.parent_path() / fs::read_symlink(path_, ignored);
    }
    fs::path folder = path_.parent_path();
    if (folder.empty()) {
        folder = ".";
    }
    require_output(fs::is_directory(folder, ignored),
                   "cannot write {}: the folder {} does not exist; create it first", asked,
                   folder.string());
    require_output(!path_.filename().empty() && !fs::is_directory(path_, ignored),
                   "cannot write {}: it is a folder; name a file", asked);
    require_output(!fs::exists(path_, ignored) || fs::is_regular_file(path_, ignored),
                   "cannot write {}: it is no plain file, and would be gone; name another output",
                   asked);
    require_usage(replaces == Replaces::an_input || !is_input(path_),
                  "{} is an input and is never changed; name another output", asked);
    sweep_leftovers(folder, path_);
    // The extension stays last because some writers choose their format by it.
    temporary_ = folder / fmt::format("{}{}-{}.part{}", start_of_temporary(path_), getpid(),
                                      ++opened, path_.extension().string());
    const int descriptor = open(temporary_.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0666);
    require_output(descriptor >= 0, "cannot write in the folder {}: {}", folder.string(),
                   std::strerror(errno));
    close(descriptor);
}

OutputFile::~OutputFile() {
    if (committed_) {
        return;
    }
    // Libraries may leave side files (overviews, masks) named after the temporary file.
    std::error_code ignored;
    fs::path folder = temporary_.parent_path();
    const std::string prefix = temporary_.filename().string();
    for (const auto& entry : fs::directory_iterator(folder, ignored)) {
        if (entry.path().filename().string().starts_with(prefix)) {
            fs::remove(entry.path(), ignored);
        }
    }
}

void OutputFile::commit() {
    {
        const std::lock_guard lock(group().mutex);
        if (group().open) {
            std::error_code ignored;
            require_output(fs::exists(temporary_, ignored), "cannot write {}: {} is gone",
                           path_.string(), temporary_.string());
            group().files.push_back({temporary_, path_});
            committed_ = true;
        }
    }
    if (!committed_) {
        rename_to(temporary_, path_);
        committed_ = true;
    }
}

void write_text_file(const fs::path& path, const std::string& content) {
    OutputFile output(path);
    std::FILE* file = std::fopen(output.temporary().c_str(), "wb");
    const bool written =
        file != nullptr && std::fwrite(content.data(), 1, content.size(), file) == content.size();
    const int write_errno = errno;
    const bool closed = file != nullptr && std::fclose(file) == 0;
    require_output(written && closed, "cannot write {}: {}", path.string(),
                   std::strerror(written ? errno : write_errno));
    output.commit();
}

} // namespace earshot
