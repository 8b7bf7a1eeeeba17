#pragma once

#include <filesystem>
#include <string>

namespace earshot {

/// A file that appears under its own name only when it is whole.
///
/// The content is written to `temporary()`, which lies in the same folder; `commit()` renames it.
/// If the object dies uncommitted, the temporary file is removed (with any side file whose name
/// starts with the temporary name), and a file that stood under the final name is left untouched.
/// A link is followed: what it points at is written. What a killed run left beside it is swept.
class OutputFile {
public:
    enum class Replaces { no_input, an_input };

    /// Throws Error(Fault::output) if the folder does not exist or cannot be written to, or if
    /// `path` names a folder or anything else that is no plain file; Error(Fault::usage) if this
    /// run reads the file (note_input), unless it is meant to change what it has read.
    explicit OutputFile(std::filesystem::path path, Replaces replaces = Replaces::no_input);
    ~OutputFile();
    OutputFile(const OutputFile&) = delete;
    OutputFile& operator=(const OutputFile&) = delete;

    [[nodiscard]] const std::filesystem::path& temporary() const { return temporary_; }
    [[nodiscard]] const std::filesystem::path& path() const { return path_; }

    /// Renames the temporary file to its final name, or leaves that to the OutputGroup if there is
    /// one. Throws Error(Fault::output) on failure.
    void commit();

private:
    std::filesystem::path path_;
    std::filesystem::path temporary_;
    bool committed_ = false;
};

/// Makes the files of a run appear together: while it lives, those that are committed wait under
/// their temporary names, until publish_outputs() renames them one right after the other. What
/// waits when it ends is removed. One at a time.
class OutputGroup {
public:
    OutputGroup();
    ~OutputGroup();
    OutputGroup(const OutputGroup&) = delete;
    OutputGroup& operator=(const OutputGroup&) = delete;
};

/// Renames all that waits in the group; nothing without one. Throws Error(Fault::output) if a name
/// cannot be taken; the files after it are not renamed then.
void publish_outputs();
/// Removes all that waits in the group.
void discard_outputs();

/// Writes `content` to `path` whole or not at all. Throws Error(Fault::output).
void write_text_file(const std::filesystem::path& path, const std::string& content);

} // namespace earshot
