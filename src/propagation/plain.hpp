#pragma once

#include "propagation/low_antenna.hpp"
#include "propagation/p1812/constants.hpp"
#include "propagation/spherical_earth.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

/// The formulas for doubles, one path at a time.
namespace earshot::propagation::plain {

using std::abs, std::acos, std::atan, std::cos, std::exp, std::log, std::log10, std::log1p,
    std::max, std::min, std::sqrt;

inline double exp10(double x) {
    return std::pow(10.0, x);
}
inline double select(bool condition, double yes, double no) {
    return condition ? yes : no;
}
inline bool any(bool condition) {
    return condition;
}

#include "propagation/formulas.hpp"

} // namespace earshot::propagation::plain
