#include "terrain/native/gdal_errors.hpp"

#include "earshot/base/error.hpp"
#include "geo/text.hpp"
#include "terrain/native/gdal_open.hpp"

#include <cpl_error.h>
#include <gdal.h>

#include <mutex>

namespace earshot::terrain {

namespace {

/// On one line, without the full stop.
GdalErrors::Failure failure(CPLErrorNum number, const char* text) {
    std::string line = geo::one_line(text);
    while (!line.empty() && (line.back() == '.' || line.back() == ' ')) {
        line.pop_back();
    }
    return {line, number == CPLE_OutOfMemory};
}

/// What failed where no GdalErrors is at hand: on the threads that GDAL compresses and warps with.
/// Without it such a failure is printed and forgotten, and the file is wrong.
struct Elsewhere {
    std::mutex mutex;
    std::size_t keepers = 0; ///< GdalErrors that live; without one, GDAL tells as it always does
    std::size_t failures = 0;
    GdalErrors::Failure last;
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
        elsewhere().last = failure(number, message);
    }
}

void note_here(CPLErr level, CPLErrorNum number, const char* message) {
    auto& first = *static_cast<GdalErrors::Failure*>(CPLGetErrorHandlerUserData());
    if (is_failure(level) && first.text.empty()) {
        first = failure(number, message);
    }
}

} // namespace

GdalErrors::GdalErrors() : elsewhere_before_(failures_elsewhere(1)) {
    static std::once_flag once;
    CPLPushErrorHandlerEx(note_here, &first_);
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
    return !first_.text.empty() || failures_elsewhere() > elsewhere_before_;
}

std::string GdalErrors::reason() const {
    Failure known = first_;
    if (known.text.empty() && failed()) {
        const std::lock_guard lock(elsewhere().mutex);
        known = elsewhere().last;
    }
    if (known.memory) {
        throw Error(Fault::memory, "not enough memory (" + known.text +
                                       "); choose a shorter range or larger cells");
    }
    return known.text.empty() ? "GDAL gives no reason" : known.text;
}

} // namespace earshot::terrain
