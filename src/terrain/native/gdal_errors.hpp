#pragma once

#include <string>

namespace earshot::terrain {

/// Keeps what GDAL has to say off the terminal while it lives (on this thread), so that it can be
/// told inside one of our own messages. Registers GDAL's drivers on first use.
class GdalErrors {
public:
    GdalErrors();
    ~GdalErrors();
    GdalErrors(const GdalErrors&) = delete;
    GdalErrors& operator=(const GdalErrors&) = delete;

    /// The first failure, on one line; "GDAL gives no reason" if there was none.
    [[nodiscard]] std::string reason() const;
    [[nodiscard]] bool failed() const { return !reason_.empty(); }

private:
    void note_failure(const std::string& message);

    std::string reason_;
};

} // namespace earshot::terrain
