#include "base/input_file.hpp"

#include <algorithm>
#include <mutex>
#include <set>
#include <system_error>
#include <utility>

namespace earshot {
namespace fs = std::filesystem;
namespace {

struct Noted {
    std::mutex mutex;
    std::set<fs::path> files;
};

Noted& noted() {
    static Noted all;
    return all;
}

} // namespace

void note_input(const fs::path& file) {
    std::error_code ignored;
    // Whole, as the folder of the run may be another one when an output is asked for.
    fs::path whole = fs::absolute(file, ignored);
    const std::lock_guard lock(noted().mutex);
    noted().files.insert(std::move(whole));
}

bool is_input(const fs::path& file) {
    const std::lock_guard lock(noted().mutex);
    return std::any_of(noted().files.begin(), noted().files.end(), [&](const fs::path& input) {
        std::error_code ignored;
        return fs::equivalent(input, file, ignored);
    });
}

} // namespace earshot
