#include "machine.hpp"

#include "base/parallel.hpp"
#include "propagation/p1812/batch.hpp"

#include <fmt/format.h>
#include <gdal.h>
#include <sys/utsname.h>
#include <unistd.h>

#include <cstdlib>
#include <fstream>
#include <string>

namespace earshot::bench {
namespace {

std::string processor_name() {
    std::ifstream file("/proc/cpuinfo");
    for (std::string line; std::getline(file, line);) {
        const std::size_t colon = line.find(": ");
        if (line.starts_with("model name") && colon != std::string::npos) {
            return line.substr(colon + 2);
        }
    }
    return "unknown";
}

double memory_gib() {
    constexpr double bytes_per_gib = 1073741824.0;
    return static_cast<double>(sysconf(_SC_PHYS_PAGES)) *
           static_cast<double>(sysconf(_SC_PAGE_SIZE)) / bytes_per_gib;
}

} // namespace

double load_average() {
    double load = 0.0;
    return getloadavg(&load, 1) == 1 ? load : 0.0;
}

Table describe_machine(unsigned threads) {
    utsname system{};
    uname(&system);
    return {"Machine",
            {"what", "value"},
            {{"processor", processor_name()},
             {"processors to run on", std::to_string(default_thread_count())},
             {"memory", fmt::format("{:.0f} GiB", memory_gib())},
             {"kernel", fmt::format("{} {}", system.sysname, system.release)},
             {"compiler", fmt::format("GCC {}", __VERSION__)},
#ifdef NDEBUG
             {"build", "optimised"},
#else
             {"build", "NOT OPTIMISED: times mean nothing"},
#endif
             {"vector instructions", propagation::vector_instruction_set()},
             {"GDAL", GDALVersionInfo("RELEASE_NAME")},
             {"threads, unless a row says otherwise", std::to_string(threads)},
             {"load average at the start", fmt::format("{:.2f}", load_average())}},
            {}};
}

} // namespace earshot::bench
