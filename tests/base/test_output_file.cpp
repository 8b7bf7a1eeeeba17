#include "base/csv.hpp"
#include "base/input_file.hpp"
#include "base/output_file.hpp"
#include "earshot/base/error.hpp"

#include <catch2/catch.hpp>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/stat.h>
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
std::string refusal(Action action, Fault fault = Fault::output) {
    try {
        action();
    } catch (const Error& error) {
        CHECK(error.fault() == fault);
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

TEST_CASE("What is read is not written over, under whatever name") {
    const Folder folder;
    write(folder / "ground.tif", "heights");
    fs::create_symlink("ground.tif", folder / "link.tif");
    fs::create_hard_link(folder / "ground.tif", folder / "hard.tif");
    earshot::note_input(folder / "ground.tif");
    for (const char* name : {"ground.tif", "link.tif", "hard.tif", "../ground.tif"}) {
        const fs::path path =
            std::string(name).starts_with("..")
                ? folder / "" / ".." / (folder / "").parent_path().filename() / "ground.tif"
                : folder / name;
        const std::string message = refusal([&] { const OutputFile output(path); }, Fault::usage);
        CHECK(message.find("is an input and is never changed") != std::string::npos);
    }
    CHECK(folder.entries() == 3);
    {
        OutputFile meant(folder / "ground.tif", OutputFile::Replaces::an_input);
        write(meant.temporary(), "changed");
        meant.commit();
    }
    CHECK(read(folder / "ground.tif") == "changed");
    // A file of that name that comes later is another one.
    fs::remove(folder / "ground.tif");
    earshot::write_text_file(folder / "ground.tif", "new");
    CHECK(read(folder / "ground.tif") == "new");
}

TEST_CASE("A link is followed, and what is no plain file is left alone") {
    const Folder folder;
    fs::create_symlink("target.txt", folder / "link.txt");
    earshot::write_text_file(folder / "link.txt", "text"); // the target is not there yet
    CHECK(fs::is_symlink(folder / "link.txt"));
    CHECK(read(folder / "target.txt") == "text");
    fs::create_symlink("round.txt", folder / "round.txt");
    CHECK(refusal([&] { const OutputFile output(folder / "round.txt"); }).find("circle") !=
          std::string::npos);
    REQUIRE(mkfifo((folder / "pipe").c_str(), 0600) == 0);
    CHECK(refusal([&] { const OutputFile output(folder / "pipe"); }).find("no plain file") !=
          std::string::npos);
    CHECK(fs::is_fifo(folder / "pipe"));
    CHECK(refusal([] { const OutputFile output("/dev/null"); }).find("no plain file") !=
          std::string::npos);
}

TEST_CASE("Files of a group appear together or not at all") {
    const Folder folder;
    write(folder / "map.tif", "old");
    {
        const earshot::OutputGroup group;
        earshot::write_text_file(folder / "map.tif", "new");
        earshot::write_text_file(folder / "map.png", "new");
        CHECK(read(folder / "map.tif") == "old");
        CHECK_FALSE(fs::exists(folder / "map.png"));
    }
    CHECK(folder.entries() == 1);
    CHECK(read(folder / "map.tif") == "old");
    {
        const earshot::OutputGroup group;
        earshot::write_text_file(folder / "map.tif", "new");
        earshot::write_text_file(folder / "map.png", "new");
        earshot::publish_outputs();
        CHECK(read(folder / "map.tif") == "new");
        CHECK(read(folder / "map.png") == "new");
        earshot::write_text_file(folder / "late.txt", "late");
    }
    CHECK(folder.entries() == 2);
    earshot::write_text_file(folder / "alone.txt", "alone"); // no group any more
    CHECK(read(folder / "alone.txt") == "alone");
}

TEST_CASE("What a killed run left of the same output is swept, and nothing else") {
    const Folder folder;
    const pid_t gone = fork();
    REQUIRE(gone >= 0);
    if (gone == 0) {
        _exit(0);
    }
    REQUIRE(waitpid(gone, nullptr, 0) == gone);
    const std::string dead = std::to_string(gone);
    const std::string alive = std::to_string(getpid());
    write(folder / (".map." + dead + "-1.part.tif"), "half");
    write(folder / (".map." + dead + "-1.part.tif.ovr"), "half");
    write(folder / (".map." + alive + "-99.part.tif"), "at work");
    write(folder / (".other." + dead + "-1.part.tif"), "half");
    write(folder / ".map.tif", "mine");
    earshot::write_text_file(folder / "map.tif", "new");
    CHECK(folder.entries() == 4);
    CHECK(fs::exists(folder / (".map." + alive + "-99.part.tif")));
    CHECK(fs::exists(folder / (".other." + dead + "-1.part.tif")));
    CHECK(fs::exists(folder / ".map.tif"));
}

TEST_CASE("A text is read whole, noted, and bounded") {
    const Folder folder;
    const std::string content("line\r\n\0end", 10);
    write(folder / "in.txt", content);
    CHECK(earshot::read_text_file(folder / "in.txt", "log") == content);
    CHECK(earshot::is_input(folder / "in.txt"));
    const auto read_it = [&](const char* name) {
        return refusal([&] { (void)earshot::read_text_file(folder / name, "log"); }, Fault::input);
    };
    write(folder / "long.txt", std::string(earshot::most_text_bytes, 'x'));
    CHECK(earshot::read_text_file(folder / "long.txt", "log").size() == earshot::most_text_bytes);
    write(folder / "long.txt", std::string(earshot::most_text_bytes + 1, 'x'));
    CHECK(read_it("long.txt").find("more than 16 MB of text is no log") != std::string::npos);
    CHECK(read_it("none.txt").find("the log cannot be opened") != std::string::npos);
    CHECK(read_it("").find("is a folder") != std::string::npos);
}

TEST_CASE("A field of CSV is no formula to a spreadsheet, and comes back as it was") {
    for (const std::string text : {"=1+1", "+cmd|x", "-me", "@sum", "\tx"}) {
        CHECK(earshot::csv_field(text) == "'" + text);
        CHECK(earshot::from_csv_field(earshot::csv_field(text)) == text);
    }
    for (const std::string text : {"-12.5", "Ombrel Mill", "'quoted", "5 - 6", ""}) {
        CHECK(earshot::csv_field(text) == text);
        CHECK(earshot::from_csv_field(text) == text);
    }
    CHECK(earshot::csv_field("=a,\"b\"") == "\"'=a,\"\"b\"\"\"");
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
