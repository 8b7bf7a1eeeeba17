#include "base/memory.hpp"

#include "base/number.hpp"
#include "earshot/base/error.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <fstream>
#include <limits>
#include <optional>
#include <string>
#include <string_view>

namespace earshot {
namespace {

namespace fs = std::filesystem;

constexpr std::uint64_t no_limit = std::numeric_limits<std::uint64_t>::max();

/// The number after a word at the start of a line: "MemAvailable:  123 kB", "inactive_file 123".
/// Without a word, that of the first line.
std::optional<std::uint64_t> number_of(const fs::path& file, std::string_view key = {}) {
    std::ifstream in(file);
    for (std::string line; std::getline(in, line);) {
        std::string_view rest = line;
        if (!rest.starts_with(key)) {
            continue;
        }
        rest.remove_prefix(key.size());
        const std::size_t digit = rest.find_first_not_of(" \t");
        if (digit != std::string_view::npos && (digit > 0 || key.empty())) {
            return leading_digits(rest.substr(digit));
        }
    }
    return std::nullopt;
}

/// Names of the files of one version of control groups.
struct GroupFiles {
    const char* mount;
    const char* limit;
    const char* usage;
    const char* idle_cache; ///< key in memory.stat: file pages the kernel gives up when asked
};

/// What a group and all groups it lies in leave free.
std::uint64_t left_in_groups(const fs::path& root, std::string_view group,
                             const GroupFiles& files) {
    const fs::path mount = root / files.mount;
    std::uint64_t left = no_limit;
    fs::path folder(group);
    while (true) {
        const fs::path here = mount / folder.relative_path();
        const auto limit = number_of(here / files.limit);
        const auto usage = number_of(here / files.usage);
        if (limit && usage) {
            const std::uint64_t idle =
                number_of(here / "memory.stat", files.idle_cache).value_or(0);
            const std::uint64_t used = *usage - std::min(*usage, idle);
            left = std::min(left, *limit - std::min(*limit, used));
        }
        if (folder.relative_path().empty()) {
            return left;
        }
        folder = folder.parent_path();
    }
}

std::uint64_t left_by_control_groups(const fs::path& root) {
    constexpr GroupFiles version_2{"sys/fs/cgroup", "memory.max", "memory.current",
                                   "inactive_file"};
    constexpr GroupFiles version_1{"sys/fs/cgroup/memory", "memory.limit_in_bytes",
                                   "memory.usage_in_bytes", "total_inactive_file"};
    std::uint64_t left = no_limit;
    std::ifstream in(root / "proc/self/cgroup");
    // Lines are "number:controllers:path"; version 2 has no controllers on its line.
    for (std::string line; std::getline(in, line);) {
        const std::size_t first = line.find(':');
        const std::size_t second = line.find(':', first + 1);
        if (first == std::string::npos || second == std::string::npos) {
            continue;
        }
        const std::string controllers = line.substr(first + 1, second - first - 1);
        const std::string group = line.substr(second + 1);
        if (controllers.empty()) {
            left = std::min(left, left_in_groups(root, group, version_2));
        } else if (("," + controllers + ",").find(",memory,") != std::string::npos) {
            left = std::min(left, left_in_groups(root, group, version_1));
        }
    }
    return left;
}

/// What a limit on addresses (ulimit -v) leaves.
std::uint64_t left_of_addresses(const fs::path& root) {
    const auto limit = number_of(root / "proc/self/limits", "Max address space"); // or "unlimited"
    const auto used_kb = number_of(root / "proc/self/status", "VmSize:");
    return limit && used_kb ? *limit - std::min(*limit, *used_kb * 1024) : no_limit;
}

std::string in_words(std::uint64_t bytes) {
    const auto amount = static_cast<double>(bytes);
    if (amount >= 1e12) {
        return fmt::format("{:.1f} TB", amount / 1e12);
    }
    return amount >= 1e9 ? fmt::format("{:.1f} GB", amount / 1e9)
                         : fmt::format("{:.0f} MB", amount / 1e6);
}

} // namespace

std::uint64_t available_memory_bytes(const fs::path& root) {
    const auto free_kb = number_of(root / "proc/meminfo", "MemAvailable:");
    const std::uint64_t free = free_kb ? *free_kb * 1024 : no_limit;
    return std::min({free, left_by_control_groups(root), left_of_addresses(root)});
}

namespace {

void require(std::uint64_t bytes, std::uint64_t available, const std::string& what) {
    if (bytes > available) {
        throw Error(Fault::memory,
                    fmt::format("{} needs {} of memory and {} is free; choose a shorter range, "
                                "larger cells or coarser elevation",
                                what, in_words(bytes), in_words(available)));
    }
}

} // namespace

void require_memory(std::uint64_t bytes, const std::string& what) {
    require(bytes, available_memory_bytes(), what);
}

void require_addresses(std::uint64_t bytes, const std::string& what) {
    require(bytes, left_of_addresses("/"), what);
}

} // namespace earshot
