#pragma once

#include <cstddef>
#include <string>

namespace earshot::terrain {

/// Keeps what GDAL has to say off the terminal while it lives, so that it can be told inside one of
/// our own messages: what is said on this thread, and on threads of GDAL's own, which have no
/// keeper of theirs. Registers GDAL's drivers on first use.
class GdalErrors {
public:
    GdalErrors();
    ~GdalErrors();
    GdalErrors(const GdalErrors&) = delete;
    GdalErrors& operator=(const GdalErrors&) = delete;

    /// The first failure, on one line; "GDAL gives no reason" if there was none. Throws
    /// Error(Fault::memory) if it was that memory ran out: then no file is to blame.
    [[nodiscard]] std::string reason() const;
    [[nodiscard]] bool failed() const;

    struct Failure {
        std::string text; ///< empty: nothing failed
        bool memory = false;
    };

private:
    Failure first_;                ///< on this thread
    std::size_t elsewhere_before_; ///< failures on GDAL's own threads until this one was made
};

} // namespace earshot::terrain
