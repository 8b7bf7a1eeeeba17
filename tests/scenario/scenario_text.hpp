#pragma once

#include "earshot/base/error.hpp"
#include "earshot/terrain/terrain_source.hpp"
#include "scenario/scenario.hpp"

#include <catch2/catch.hpp>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <string>

namespace earshot::test {

/// A folder of its own for each test, removed with all that is in it.
class ScenarioFolder {
public:
    ScenarioFolder() {
        static int count = 0;
        path_ = std::filesystem::temp_directory_path() /
                ("earshot-plan-" + std::to_string(getpid()) + "-" + std::to_string(count++));
        std::filesystem::create_directories(path_);
    }
    ~ScenarioFolder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    ScenarioFolder(const ScenarioFolder&) = delete;
    ScenarioFolder& operator=(const ScenarioFolder&) = delete;

    /// Writes a file and gives its path.
    std::filesystem::path write(const std::string& name, const std::string& content) const {
        std::ofstream(path_ / name, std::ios::binary) << content;
        return path_ / name;
    }
    [[nodiscard]] const std::filesystem::path& path() const { return path_; }

private:
    std::filesystem::path path_;
};

/// An invented net, the least that a scenario needs; lines are numbered from 1.
inline std::string least_scenario() {
    return "[net]\n"                        // 1
           "name = \"Invented net\"\n"      // 2
           "frequency_mhz = 146.52\n"       // 3
           "[ground]\n"                     // 4
           "elevation = \"ground.tif\"\n"   // 5
           "[[radios]]\n"                   // 6
           "name = \"handheld\"\n"          // 7
           "power_w = 5\n"                  // 8
           "threshold_dbm = -116\n"         // 9
           "[[stations]]\n"                 // 10
           "name = \"Camp\"\n"              // 11
           "position = \"36.60, -84.20\"\n" // 12
           "antenna_height_m = 2\n"         // 13
           "radio = \"handheld\"\n"         // 14
           "antenna = \"dipole\"\n";        // 15
}

/// `text` with the first `from` in it changed to `to`.
inline std::string changed(std::string text, const std::string& from, const std::string& to) {
    const std::size_t at = text.find(from);
    REQUIRE(at != std::string::npos);
    return text.replace(at, from.size(), to);
}

inline scenario::Scenario read_text(const std::string& text) {
    const ScenarioFolder folder;
    return scenario::read_scenario(folder.write("net.toml", text));
}

/// The one line with which a call is refused.
template <typename Call>
std::string refusal_of(Fault code, Call&& call) {
    try {
        call();
    } catch (const Error& error) {
        CHECK(error.fault() == code);
        const std::string message = error.what();
        CHECK(message.find('\n') == std::string::npos);
        return message;
    }
    FAIL("nothing was refused");
    return {};
}

/// The one line with which a scenario is refused, from the name of the file on.
inline std::string refused(const std::string& text) {
    const std::string message = refusal_of(Fault::input, [&] { (void)read_text(text); });
    const std::size_t file = message.find("net.toml");
    return file == std::string::npos ? message : message.substr(file);
}

/// Real ground: U.S. Geological Survey elevation, see dem-samples/README.md.
inline const terrain::HeightGrid& sample_ground() {
    static const terrain::HeightGrid ground =
        terrain::TerrainSource::open(
            {std::string(EARSHOT_SOURCE_DIR) + "/dem-samples/cumberland_3arcsec.tif"})
            .load_all();
    return ground;
}

} // namespace earshot::test
