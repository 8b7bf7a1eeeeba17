#include "report/draw/layout.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

namespace earshot::report {

double overlap_area(const Box& a, const Box& b) {
    const double width = std::min(a.right(), b.right()) - std::max(a.x, b.x);
    const double height = std::min(a.bottom(), b.bottom()) - std::max(a.y, b.y);
    return width > 0.0 && height > 0.0 ? width * height : 0.0;
}

bool crosses(Point a, Point b, const Box& box) {
    // The stretch of the line that lies within the box, as shares of its length from a, cut down
    // axis by axis.
    double from = 0.0;
    double to = 1.0;
    const std::array<std::array<double, 4>, 2> axes{
        {{a.x, b.x, box.x, box.right()}, {a.y, b.y, box.y, box.bottom()}}};
    for (const auto& [start, end, low, high] : axes) {
        const double step = end - start;
        if (step == 0.0) {
            if (start < low || start > high) {
                return false;
            }
            continue;
        }
        double enter = (low - start) / step;
        double leave = (high - start) / step;
        if (enter > leave) {
            std::swap(enter, leave);
        }
        from = std::max(from, enter);
        to = std::min(to, leave);
    }
    return from <= to;
}

double round_length(double most) {
    const double power = std::pow(10.0, std::floor(std::log10(most)));
    for (const double step : {5.0, 2.0}) {
        if (step * power <= most) {
            return step * power;
        }
    }
    return power;
}

double round_length_above(double least) {
    const double below = round_length(least);
    // From 2 it is two and a half times to 5, else twice.
    return below >= least ? below : round_length(2.6 * below);
}

} // namespace earshot::report
