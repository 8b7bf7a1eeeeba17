#include "base/memory.hpp"
#include "support.hpp"

#include <catch2/catch.hpp>

#include <fstream>
#include <limits>

namespace earshot {
namespace {

using testing::message_of;
using testing::TemporaryFolder;

void write(const std::filesystem::path& path, const std::string& text) {
    std::filesystem::create_directories(path.parent_path());
    std::ofstream(path) << text;
}

} // namespace

// Layouts: Linux kernel documentation, filesystems/proc.rst, admin-guide/cgroup-v2.rst and
// admin-guide/cgroup-v1/memory.rst.
TEST_CASE("without a limit the free memory is MemAvailable") {
    const TemporaryFolder root;
    write(root / "proc/meminfo", "MemTotal:  8000 kB\nMemFree: 100 kB\nMemAvailable:   5000 kB\n");
    write(root / "proc/self/cgroup", "0::/user\n");
    write(root / "sys/fs/cgroup/user/memory.max", "max\n");
    write(root / "sys/fs/cgroup/user/memory.current", "123\n");
    CHECK(available_memory_bytes(root.path()) == 5000 * 1024);
}

TEST_CASE("a limit on addresses limits memory") {
    const TemporaryFolder root;
    write(root / "proc/meminfo", "MemAvailable:   5000 kB\n");
    write(root / "proc/self/status", "Name:\tearshot\nVmPeak:\t 900 kB\nVmSize:\t 400 kB\n");
    const std::string others =
        "Limit                     Soft Limit           Hard Limit           "
        "Units\nMax cpu time              unlimited            unlimited   "
        "         seconds\n";
    write(root / "proc/self/limits", others + "Max address space         1000000              "
                                              "1000000              bytes\n");
    CHECK(available_memory_bytes(root.path()) == 1000000 - 400 * 1024);
    write(root / "proc/self/limits", others + "Max address space         300000               "
                                              "300000               bytes\n");
    CHECK(available_memory_bytes(root.path()) == 0);
    write(root / "proc/self/limits", others + "Max address space         unlimited            "
                                              "unlimited            bytes\n");
    CHECK(available_memory_bytes(root.path()) == 5000 * 1024);
}

TEST_CASE("a version 2 group and those around it limit memory") {
    const TemporaryFolder root;
    write(root / "proc/meminfo", "MemAvailable:   5000 kB\n");
    write(root / "proc/self/cgroup", "0::/outer/inner\n");
    write(root / "sys/fs/cgroup/outer/inner/memory.max", "3000000\n");
    write(root / "sys/fs/cgroup/outer/inner/memory.current", "1000000\n");
    CHECK(available_memory_bytes(root.path()) == 2000000);
    // Cache that nobody uses is given back when memory is asked for.
    write(root / "sys/fs/cgroup/outer/inner/memory.stat", "anon 5\ninactive_file 400000\n");
    CHECK(available_memory_bytes(root.path()) == 2400000);
    write(root / "sys/fs/cgroup/outer/memory.max", "900000\n");
    write(root / "sys/fs/cgroup/outer/memory.current", "1000000\n");
    CHECK(available_memory_bytes(root.path()) == 0);
}

TEST_CASE("a version 1 group limits memory") {
    const TemporaryFolder root;
    write(root / "proc/meminfo", "MemAvailable:   5000 kB\n");
    write(root / "proc/self/cgroup", "3:cpu,cpuacct:/a\n2:memory:/b\n");
    write(root / "sys/fs/cgroup/memory/b/memory.limit_in_bytes", "1500000\n");
    write(root / "sys/fs/cgroup/memory/b/memory.usage_in_bytes", "500000\n");
    CHECK(available_memory_bytes(root.path()) == 1000000);
}

TEST_CASE("more memory than there is is refused with both amounts") {
    CHECK_NOTHROW(require_memory(1000, "a little"));
    const std::string message = message_of(Fault::memory, [] {
        require_memory(std::uint64_t{16} * 1000 * 1000 * 1000 * 1000, "the elevation");
    });
    CHECK_THAT(message, Catch::Contains("the elevation") && Catch::Contains("16.0 TB"));
}

} // namespace earshot
