#include "terrain/native/gdal_errors.hpp"

#include "terrain/native/gdal_open.hpp"

#include <cpl_error.h>
#include <gdal.h>

#include <mutex>

namespace earshot::terrain {

GdalErrors::GdalErrors() {
    static std::once_flag once;
    CPLPushErrorHandlerEx(
        [](CPLErr level, CPLErrorNum, const char* message) {
            if (level == CE_Failure || level == CE_Fatal) {
                static_cast<GdalErrors*>(CPLGetErrorHandlerUserData())->note_failure(message);
            }
        },
        this);
    std::call_once(once, [] {
        GDALAllRegister();
        close_network();
    });
}

GdalErrors::~GdalErrors() {
    CPLPopErrorHandler();
}

std::string GdalErrors::reason() const {
    return reason_.empty() ? "GDAL gives no reason" : reason_;
}

void GdalErrors::note_failure(const std::string& message) {
    if (!reason_.empty()) {
        return;
    }
    for (const char c : message) {
        reason_ += c == '\n' || c == '\r' ? ' ' : c;
    }
    while (!reason_.empty() && (reason_.back() == '.' || reason_.back() == ' ')) {
        reason_.pop_back();
    }
}

} // namespace earshot::terrain
