#include "report/files/browser_raster.hpp"

#include "earshot/base/error.hpp"
#include "report/say/numbers.hpp"

#include <cpl_conv.h>
#include <cpl_string.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <memory>

namespace earshot::report {
namespace {

constexpr double most_number = 32767.0;

struct CplFree {
    void operator()(void* memory) const { VSIFree(memory); }
};

std::int16_t clamped(double number) {
    return static_cast<std::int16_t>(std::clamp(number, -most_number, most_number));
}

std::string base64(std::span<const unsigned char> bytes) {
    // GDAL's encoder counts in int; whole groups of three bytes join without a seam.
    constexpr std::size_t most_bytes = 3U << 26U;
    std::string text;
    for (std::size_t begin = 0; begin < bytes.size(); begin += most_bytes) {
        const auto part = bytes.subspan(begin, std::min(most_bytes, bytes.size() - begin));
        const std::unique_ptr<char, CplFree> encoded(
            CPLBase64Encode(static_cast<int>(part.size()), part.data()));
        text += encoded.get();
    }
    return text;
}

} // namespace

std::vector<std::int16_t> margin_numbers(std::span<const float> margin_db) {
    std::vector<std::int16_t> numbers(margin_db.size());
    std::ranges::transform(margin_db, numbers.begin(), [](float margin) {
        return std::isnan(margin)
                   ? packed_unknown
                   : clamped(std::round(shown_margin_db(static_cast<double>(margin), 1) /
                                        margin_steps.step));
    });
    return numbers;
}

Steps fitting_steps(std::span<const float> values) {
    double lowest = std::numeric_limits<double>::infinity();
    double highest = -lowest;
    for (const float value : values) {
        // Comparisons with NaN fail, so what is not known does not count.
        lowest = static_cast<double>(value) < lowest ? static_cast<double>(value) : lowest;
        highest = static_cast<double>(value) > highest ? static_cast<double>(value) : highest;
    }
    if (!(lowest <= highest)) {
        return {0.0, 0.1};
    }
    Steps steps{std::round((lowest + highest) / 2.0), 0.1};
    for (double tens = 0.1;; tens *= 10.0) {
        for (const double step : {tens, 2.0 * tens, 5.0 * tens}) {
            if (std::max(highest - steps.offset, steps.offset - lowest) < most_number * step) {
                steps.step = step;
                return steps;
            }
        }
    }
}

std::vector<std::int16_t> whole_numbers(std::span<const float> values, const Steps& steps) {
    std::vector<std::int16_t> numbers(values.size());
    std::ranges::transform(values, numbers.begin(), [&steps](float value) {
        return std::isnan(value)
                   ? packed_unknown
                   : clamped(std::round((static_cast<double>(value) - steps.offset) / steps.step));
    });
    return numbers;
}

std::string packed(std::span<const std::int16_t> numbers, int columns) {
    const auto width = static_cast<std::size_t>(columns);
    std::vector<unsigned char> planes(2 * numbers.size());
    for (std::size_t i = 0; i < numbers.size(); ++i) {
        int before = 0;
        if (i % width != 0) {
            before = numbers[i - 1];
        } else if (i >= width) {
            before = numbers[i - width];
        }
        const auto difference = static_cast<std::uint16_t>(numbers[i] - before);
        planes[i] = static_cast<unsigned char>(difference & 0xFFU);
        planes[numbers.size() + i] = static_cast<unsigned char>(difference >> 8U);
    }
    std::size_t size = 0;
    constexpr int level = 9;
    const std::unique_ptr<void, CplFree> zipped(
        CPLZLibDeflate(planes.data(), planes.size(), level, nullptr, 0, &size));
    if (zipped == nullptr) {
        throw Error(Fault::memory, "the page for a browser does not fit in memory; use larger "
                                   "cells or a shorter range");
    }
    return base64({static_cast<const unsigned char*>(zipped.get()), size});
}

} // namespace earshot::report
