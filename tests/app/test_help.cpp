#include "program.hpp"

#include <map>

namespace earshot::app {

using namespace testing;

namespace {

/// Whether the help has the option as a word of its own.
bool names_option(const std::string& help, const std::string& option) {
    for (std::size_t at = help.find(option); at != std::string::npos;
         at = help.find(option, at + 1)) {
        const char before = at == 0 ? ' ' : help[at - 1];
        const std::size_t end = at + option.size();
        const char after = end < help.size() ? help[end] : ' ';
        const bool inside = std::isalnum(static_cast<unsigned char>(before)) != 0 ||
                            before == '-' || after == '-' ||
                            std::isalnum(static_cast<unsigned char>(after)) != 0;
        if (!inside) {
            return true;
        }
    }
    return false;
}

} // namespace

TEST_CASE("the version is told") {
    const TemporaryFolder folder;
    CHECK(output_of(folder, {"--version"}) == "earshot " EARSHOT_VERSION "\n");
}

TEST_CASE("the help names the commands, the exit codes and the cautions") {
    const TemporaryFolder folder;
    const std::string help = output_of(folder, {"--help"});
    for (const char* word : {"map", "path", "terrain", "0 done", "2 option", "3 input", "4 output",
                             "5 not enough memory", "130 stopped", "no guarantee"}) {
        CHECK_THAT(help, Catch::Contains(word));
    }
}

TEST_CASE("the help of each command names every option, with units") {
    const std::vector<std::string> radio{"antenna-height", "power",     "gain",
                                         "feeder-loss",    "body-loss", "threshold"};
    const std::vector<std::string> prediction{"--terrain", "--height-unit", "--frequency",
                                              "--method",  "--knife-edge",  "--k-factor",
                                              "--step",    "--json"};
    std::map<std::string, std::vector<std::string>> options{
        {"map",
         {"--at", "--name", "--out", "--picture", "--range", "--grid", "--cell", "--bands",
          "--threads"}},
        {"path", {"--from", "--to", "--from-name", "--to-name", "--profile"}},
        {"relay",
         {"--place", "--places-file", "--serve", "--area", "--people", "--sites", "--fewest",
          "--linked", "--base", "--near", "--inside", "--outside", "--above", "--slope",
          "--candidates", "--apart", "--shortlist", "--out", "--threads"}},
        {"mast", {"--from", "--to", "--end", "--lowest", "--limit", "--height-step", "--table"}},
        {"ladder",
         {"--at", "--to", "--to-all", "--next-power", "--better-antenna", "--raise", "--move",
          "--with-relay", "--threads"}},
        {"brief",
         {"--scenario", "--map", "--out", "--only", "--paper", "--range", "--grid", "--cell",
          "--title", "--date", "--declination", "--terrain", "--correction", "--places-file",
          "--threads", "--json"}},
        {"range", {"--at", "--range", "--directions", "--table", "--threads"}},
        {"terrain", {"--terrain", "--height-unit", "--json"}}};
    for (const char* command : {"map", "path", "relay", "mast", "ladder", "range"}) {
        options[command] = options[command] + prediction + std::vector<std::string>{"--scenario"};
    }
    for (const std::string& name : radio) {
        options["map"].push_back("--" + name);
        options["path"].push_back("--" + name);
        options["path"].push_back("--from-" + name);
        options["path"].push_back("--to-" + name);
        options["map"].push_back("--receiver-" + name);
    }
    const TemporaryFolder folder;
    for (const auto& [command, names] : options) {
        const std::string help = output_of(folder, {command, "--help"});
        INFO(command << "\n" << help);
        for (const std::string& name : names) {
            INFO(name);
            CHECK(names_option(help, name));
        }
        CHECK_THAT(help, Catch::Contains("no guarantee"));
        if (command != "terrain" && command != "brief") { // these describe no radio
            for (const char* unit : {"6ft", "2m", "5W", "dBm", "dBi", "dB", "MHz", "uV"}) {
                INFO(unit);
                CHECK_THAT(help, Catch::Contains(unit));
            }
            CHECK_THAT(help, Catch::Contains("Example:"));
        }
    }
}

} // namespace earshot::app
