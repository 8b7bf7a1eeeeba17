#include "base/output_file.hpp"

#include "base/require.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <atomic>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <system_error>
#include <utility>

namespace earshot {
namespace fs = std::filesystem;

OutputFile::OutputFile(fs::path path) : path_(std::move(path)) {
    static std::atomic<unsigned> opened{0}; // no two temporary files of a process share a name
    fs::path folder = path_.parent_path();
    if (folder.empty()) {
        folder = ".";
    }
    std::error_code ignored;
    require_output(fs::is_directory(folder, ignored),
                   "cannot write {}: the folder {} does not exist; create it first", path_.string(),
                   folder.string());
    require_output(!path_.filename().empty() && !fs::is_directory(path_, ignored),
                   "cannot write {}: it is a folder; name a file", path_.string());
    // The extension stays last because some writers choose their format by it.
    temporary_ = folder / fmt::format(".{}.{}-{}.part{}", path_.stem().string(), getpid(), ++opened,
                                      path_.extension().string());
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
    std::error_code failure;
    fs::rename(temporary_, path_, failure);
    require_output(!failure, "cannot write {}: {}", path_.string(), failure.message());
    committed_ = true;
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
