#pragma once

#include "propagation/p1812.hpp"
#include "propagation/plain.hpp"

#include <algorithm>
#include <limits>
#include <vector>

namespace earshot::test {

/// Bullington terms of the smooth earth under a path, between its first point and its last, at
/// their very peaks. P.1812-8 takes the largest at the points of a profile; the batches, which do
/// not know the points, take these.
inline propagation::BullingtonTerms smooth_terms(const propagation::PathGeometry& geometry,
                                                 double radius_km, double first_km,
                                                 double last_km) {
    namespace plain = propagation::plain;
    const double d = geometry.distance_km;
    const double height_t = geometry.diffraction_height_transmitter_m();
    const double height_r = geometry.diffraction_height_receiver_m();
    // Each rises and then falls.
    const auto peak = [&](auto f) {
        double low = first_km;
        double high = last_km;
        for (int k = 0; k < 80; ++k) {
            const double a = low + (high - low) / 3.0;
            const double b = high - (high - low) / 3.0;
            (f(a) < f(b) ? low : high) = f(a) < f(b) ? a : b;
        }
        return std::max({f(first_km), f((low + high) / 2.0), f(last_km)});
    };
    propagation::BullingtonTerms terms;
    terms.transmitter_slope =
        peak([&](double x) { return plain::smooth_slope(height_t, x, d - x, radius_km); });
    terms.direct_slope = (height_r - height_t) / d;
    constexpr double not_used = std::numeric_limits<double>::quiet_NaN();
    terms.receiver_slope = not_used;
    terms.scaled_nu_max = not_used;
    if (terms.line_of_sight()) {
        terms.scaled_nu_max = peak([&](double x) {
            return plain::smooth_scaled_nu(height_t, height_r, x, d - x, radius_km);
        });
    } else {
        terms.receiver_slope =
            peak([&](double x) { return plain::smooth_slope(height_r, d - x, x, radius_km); });
    }
    return terms;
}

/// The loss with these for the smooth terms.
inline double loss_with_smooth_terms_db(propagation::PathGeometry geometry,
                                        const propagation::P1812Inputs& inputs,
                                        const std::vector<double>& distance_km) {
    geometry.smooth_median = smooth_terms(geometry, geometry.radii.median_km, distance_km[1],
                                          distance_km[distance_km.size() - 2]);
    geometry.smooth_beta = smooth_terms(geometry, geometry.radii.beta_km, distance_km[1],
                                        distance_km[distance_km.size() - 2]);
    return propagation::p1812_loss(geometry, inputs).loss_db;
}

} // namespace earshot::test
