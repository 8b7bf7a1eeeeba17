#include "terrain/native/gdal_errors.hpp"

#include "terrain/native/gdal_open.hpp"

#include <cpl_error.h>
#include <gdal.h>

#include <mutex>

namespace earshot::terrain {

namespace {

/// On one line, without the full stop.
std::string in_a_message(const char* text) {
    std::string line;
    for (const char* c = text; *c != '\0'; ++c) {
        line += *c == '\n' || *c == '\r' ? ' ' : *c;
    }
    while (!line.empty() && (line.back() == '.' || line.back() == ' ')) {
        line.pop_back();
    }
    return line;
}

/// What failed where no GdalErrors is at hand: on the threads that GDAL compresses and warps with.
/// Without it such a failure is printed and forgotten, and the file is wrong.
struct Elsewhere {
    std::mutex mutex;
    std::size_t keepers = 0; ///< GdalErrors that live; without one, GDAL tells as it always does
    std::size_t failures = 0;
    std::string last;
};

Elsewhere& elsewhere() {
    static Elsewhere all;
    return all;
}

std::size_t failures_elsewhere(int more_keepers = 0) {
    const std::lock_guard lock(elsewhere().mutex);
    elsewhere().keepers += static_cast<std::size_t>(more_keepers);
    return elsewhere().failures;
}

bool is_failure(CPLErr level) {
    return level == CE_Failure || level == CE_Fatal;
}

void note_elsewhere(CPLErr level, CPLErrorNum number, const char* message) {
    const std::lock_guard lock(elsewhere().mutex);
    if (elsewhere().keepers == 0) {
        CPLDefaultErrorHandler(level, number, message);
    } else if (is_failure(level)) {
        ++elsewhere().failures;
        elsewhere().last = in_a_message(message);
    }
}

void note_here(CPLErr level, CPLErrorNum, const char* message) {
    auto& reason = *static_cast<std::string*>(CPLGetErrorHandlerUserData());
    if (is_failure(level) && reason.empty()) {
        reason = in_a_message(message);
    }
}

} // namespace

GdalErrors::GdalErrors() : elsewhere_before_(failures_elsewhere(1)) {
    static std::once_flag once;
    CPLPushErrorHandlerEx(note_here, &reason_);
    std::call_once(once, [] {
        GDALAllRegister();
        close_network();
        CPLSetErrorHandler(note_elsewhere);
    });
}

GdalErrors::~GdalErrors() {
    CPLPopErrorHandler();
    (void)failures_elsewhere(-1);
}

bool GdalErrors::failed() const {
    return !reason_.empty() || failures_elsewhere() > elsewhere_before_;
}

std::string GdalErrors::reason() const {
    if (!reason_.empty() || !failed()) {
        return reason_.empty() ? "GDAL gives no reason" : reason_;
    }
    const std::lock_guard lock(elsewhere().mutex);
    return elsewhere().last;
}

} // namespace earshot::terrain
