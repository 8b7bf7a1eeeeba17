#pragma once

#include <cstdint>
#include <string_view>

namespace earshot {

/// Receives news of long work. The application shows it on a terminal; tests and pipes use the
/// silent base class. `advance` may be called from several threads at once.
class Progress {
public:
    Progress() = default;
    Progress(const Progress&) = delete;
    Progress& operator=(const Progress&) = delete;
    virtual ~Progress() = default;

    /// Starts a stage of `total` steps; ends the stage before it.
    virtual void begin(std::string_view /*stage*/, std::uint64_t /*total*/) {}
    virtual void advance(std::uint64_t /*steps*/) {}
    virtual void end() {}
};

} // namespace earshot
