#include "base/output_file.hpp"
#include "earshot/base/error.hpp"

#include <catch2/catch.hpp>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <csignal>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

namespace fs = std::filesystem;
using earshot::Error;
using earshot::Fault;
using earshot::OutputFile;

namespace {

/// An empty folder that goes away with the test.
class Folder {
public:
    Folder() {
        std::string name = (fs::temp_directory_path() / "earshot-base-XXXXXX").string();
        REQUIRE(mkdtemp(name.data()) != nullptr);
        path_ = name;
    }
    ~Folder() {
        std::error_code ignored;
        fs::remove_all(path_, ignored);
    }
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;

    [[nodiscard]] fs::path operator/(const std::string& name) const { return path_ / name; }
    [[nodiscard]] std::ptrdiff_t entries() const {
        return std::distance(fs::directory_iterator(path_), fs::directory_iterator{});
    }

private:
    fs::path path_;
};

std::string read(const fs::path& path) {
    std::ifstream file(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(file), {}};
}

void write(const fs::path& path, const std::string& content) {
    std::ofstream(path, std::ios::binary) << content;
}

template <typename Action>
std::string refusal(Action action) {
    try {
        action();
    } catch (const Error& error) {
        CHECK(error.fault() == Fault::output);
        return error.what();
    }
    FAIL("nothing was refused");
    return {};
}

} // namespace

TEST_CASE("A committed output file stands under its own name alone") {
    const Folder folder;
    const fs::path path = folder / "map.tif";
    {
        OutputFile output(path);
        CHECK(output.path() == path);
        CHECK(output.temporary().parent_path() == path.parent_path());
        CHECK(output.temporary().extension() == ".tif");
        write(output.temporary(), "new");
        CHECK_FALSE(fs::exists(path));
        output.commit();
    }
    CHECK(read(path) == "new");
    CHECK(folder.entries() == 1);
}

TEST_CASE("A committed output file replaces the one before it") {
    const Folder folder;
    write(folder / "map.tif", "old");
    OutputFile output(folder / "map.tif");
    write(output.temporary(), "new");
    CHECK(read(folder / "map.tif") == "old");
    output.commit();
    CHECK(read(folder / "map.tif") == "new");
}

TEST_CASE("An uncommitted output file leaves no trace") {
    const Folder folder;
    write(folder / "map.tif", "old");
    write(folder / "notes.txt", "mine");
    {
        const OutputFile output(folder / "map.tif");
        write(output.temporary(), "half");
        write(output.temporary().string() + ".aux.xml", "side file");
        CHECK(folder.entries() == 4);
    }
    CHECK(folder.entries() == 2);
    CHECK(read(folder / "map.tif") == "old");
    CHECK(read(folder / "notes.txt") == "mine");
}

TEST_CASE("A commit whose temporary file is gone is reported and leaves the old file") {
    const Folder folder;
    write(folder / "map.tif", "old");
    const std::string message = refusal([&] {
        OutputFile output(folder / "map.tif");
        fs::remove(output.temporary());
        output.commit();
    });
    CHECK(message.find("map.tif") != std::string::npos);
    CHECK(read(folder / "map.tif") == "old");
    CHECK(folder.entries() == 1);
}

TEST_CASE("An output in a missing folder, or that is a folder, is refused in one line") {
    const Folder folder;
    const fs::path missing = folder / "nowhere" / "map.txt";
    for (const std::string& message :
         {refusal([&] { const OutputFile output(missing); }),
          refusal([&] { earshot::write_text_file(missing, "text"); })}) {
        CHECK(message.find(missing.string()) != std::string::npos);
        CHECK(message.find("does not exist") != std::string::npos);
        CHECK(message.find('\n') == std::string::npos);
    }
    CHECK_FALSE(fs::exists(folder / "nowhere"));

    fs::create_directory(folder / "sub");
    CHECK(refusal([&] { const OutputFile output(folder / "sub"); }).find("folder") !=
          std::string::npos);
    CHECK(refusal([&] { const OutputFile output(folder / "sub" / ""); }).find("folder") !=
          std::string::npos);
}

TEST_CASE("A text file is written whole, byte for byte") {
    const Folder folder;
    const std::string content("line\r\nnext\n\0end", 15);
    earshot::write_text_file(folder / "text.txt", content);
    CHECK(read(folder / "text.txt") == content);
    earshot::write_text_file(folder / "text.txt", "");
    CHECK(fs::file_size(folder / "text.txt") == 0);
    CHECK(folder.entries() == 1);
}

TEST_CASE("A text file that does not fit on the disk is refused and leaves nothing", "[linux]") {
    // A limit on the size of files stands in for a full disk; it is set in a child, since it could
    // not be lifted again.
    const Folder folder;
    const pid_t child = fork();
    REQUIRE(child >= 0);
    if (child == 0) {
        std::signal(SIGXFSZ, SIG_IGN);
        const rlimit limit{100, 100};
        setrlimit(RLIMIT_FSIZE, &limit);
        try {
            earshot::write_text_file(folder / "text.txt", std::string(1000, 'x'));
        } catch (const earshot::Error& error) {
            const bool clear = std::string(error.what()).find("text.txt") != std::string::npos;
            _exit(clear ? static_cast<int>(error.fault()) : 99);
        }
        _exit(0);
    }
    int status = 0;
    REQUIRE(waitpid(child, &status, 0) == child);
    REQUIRE(WIFEXITED(status));
    CHECK(WEXITSTATUS(status) == static_cast<int>(earshot::Fault::output));
    CHECK(folder.entries() == 0);
}
