#include "base/input_file.hpp"

#include "base/require.hpp"

#include <array>
#include <fstream>
#include <system_error>

namespace earshot {
namespace fs = std::filesystem;
std::string read_text_file(const fs::path& file, std::string_view kind) {
    std::error_code ignored;
    require_input(!fs::is_directory(file, ignored), "{} is a folder; give a {} file", file.string(),
                  kind);
    std::ifstream in(file, std::ios::binary);
    require_input(in.is_open(), "{}: the {} cannot be opened; check the name", file.string(), kind);
    note_input(file);
    std::string text;
    for (std::array<char, 65536> part{}; in && text.size() <= most_text_bytes;) {
        in.read(part.data(), part.size());
        text.append(part.data(), static_cast<std::size_t>(in.gcount()));
    }
    require_input(!in.bad(), "{}: the {} cannot be read to its end; get a fresh copy",
                  file.string(), kind);
    require_input(text.size() <= most_text_bytes, "{}: more than {} MB of text is no {}",
                  file.string(), most_text_bytes >> 20U, kind);
    return text;
}

} // namespace earshot
