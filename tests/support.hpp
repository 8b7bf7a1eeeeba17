#pragma once

#include "earshot/base/error.hpp"

#include <catch2/catch.hpp>
#include <unistd.h>

#include <filesystem>
#include <string>

namespace earshot::testing {

/// A folder of its own for each test, removed with all that is in it.
class TemporaryFolder {
public:
    TemporaryFolder() {
        static int count = 0;
        path_ = std::filesystem::temp_directory_path() /
                ("earshot-test-" + std::to_string(getpid()) + "-" + std::to_string(count++));
        std::filesystem::create_directories(path_);
    }
    ~TemporaryFolder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    TemporaryFolder(const TemporaryFolder&) = delete;
    TemporaryFolder& operator=(const TemporaryFolder&) = delete;
    [[nodiscard]] std::filesystem::path operator/(const std::string& name) const {
        return path_ / name;
    }
    [[nodiscard]] const std::filesystem::path& path() const { return path_; }

private:
    std::filesystem::path path_;
};

/// The message of the Error that a call throws; fails the test if there is none.
template <typename Call>
std::string message_of(Fault code, Call&& call) {
    try {
        call();
    } catch (const Error& error) {
        CHECK(error.fault() == code);
        return error.what();
    }
    FAIL("no error was thrown");
    return {};
}

} // namespace earshot::testing
