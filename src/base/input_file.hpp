#pragma once

#include <cstddef>
#include <filesystem>
#include <string>
#include <string_view>

namespace earshot {

/// More text than this in one file is no scenario, table or log.
inline constexpr std::size_t most_text_bytes = std::size_t{16} << 20U;

/// Notes that this run reads `file`: no OutputFile takes its place from then on, whatever name it
/// is asked for by. What names no file of the disk (an address of a library) does no harm.
void note_input(const std::filesystem::path& file);

/// Whether a file is one that this run reads, under this name or another: by device and inode.
[[nodiscard]] bool is_input(const std::filesystem::path& file);

/// All that a text file of the user's holds, and note_input(). `kind` says what it should be, for
/// people: "scenario". Throws Error(Fault::input) if it is a folder, cannot be read, or is longer
/// than most_text_bytes.
[[nodiscard]] std::string read_text_file(const std::filesystem::path& file, std::string_view kind);

} // namespace earshot
