#pragma once

#include <cstdint>
#include <filesystem>
#include <string>

namespace earshot {

/// Bytes of memory that a new allocation may use without swapping: the least of MemAvailable in
/// /proc/meminfo, what the limits of the process's control groups (version 1 or 2) leave, and what
/// a limit on its addresses leaves. Where there is no such file, there is no limit. `root` stands
/// for "/"; tests name a folder of their own.
[[nodiscard]] std::uint64_t available_memory_bytes(const std::filesystem::path& root = "/");

/// Throws Error(Fault::memory) naming `what`, the need and what there is, if `bytes` exceeds
/// what is available.
void require_memory(std::uint64_t bytes, const std::string& what);

/// The same where only a limit on addresses (ulimit -v) counts: for libraries that end the process
/// when a thread of theirs finds no room.
void require_addresses(std::uint64_t bytes, const std::string& what);

} // namespace earshot
