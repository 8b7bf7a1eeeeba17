#include "propagation/vegetation.hpp"

#include "earshot/base/error.hpp"
#include "propagation/basic.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>

namespace earshot::propagation {
namespace {

// P.833-10 section 2.1.
constexpr std::array fits{
    WoodlandFitInfo{WoodlandFit::st_petersburg, "st-petersburg", 1.37, 0.42, 105.9, 2117.5},
    WoodlandFitInfo{WoodlandFit::rio_de_janeiro, "rio-de-janeiro", 0.18, 0.752, 900.0, 1800.0},
    WoodlandFitInfo{WoodlandFit::mulhouse, "mulhouse", 1.15, 0.43, 900.0, 2200.0},
};

struct CurvePoint {
    double frequency_mhz;
    double loss_db_m;
};

// Figure 2 of P.833-10, read off. Tree trunks stand upright, so below 1 GHz they take more from
// vertical polarization; above it there is one curve for both.
constexpr std::array vertical_curve{CurvePoint{30.0, 0.02}, CurvePoint{1000.0, 0.2},
                                    CurvePoint{30000.0, 6.0}};
constexpr std::array horizontal_curve{CurvePoint{30.0, 0.003}, CurvePoint{100.0, 0.03},
                                      CurvePoint{300.0, 0.08}, CurvePoint{1000.0, 0.2},
                                      CurvePoint{30000.0, 6.0}};

double interpolate(std::span<const CurvePoint> curve, double frequency_mhz) {
    const auto right = std::find_if(curve.begin() + 1, curve.end() - 1, [&](const CurvePoint& p) {
        return p.frequency_mhz > frequency_mhz;
    });
    const CurvePoint& low = *(right - 1);
    const CurvePoint& high = *right;
    const double slope =
        std::log(high.loss_db_m / low.loss_db_m) / std::log(high.frequency_mhz / low.frequency_mhz);
    return low.loss_db_m * std::pow(frequency_mhz / low.frequency_mhz, slope);
}

void require_frequency(double frequency_mhz) {
    if (!(frequency_mhz >= lowest_frequency_mhz && frequency_mhz <= highest_frequency_mhz)) {
        throw_usage(fmt::format("woodland loss at {} MHz: give a frequency from {} to {} MHz",
                                frequency_mhz, lowest_frequency_mhz, highest_frequency_mhz));
    }
}

void require_positive(double value, const char* what) {
    if (!(value > 0.0)) {
        throw_usage(fmt::format("{} is {}: give a value above 0", what, value));
    }
}

/// The path as seen from one of its ends.
struct Seen {
    const terrain::Profile& profile;
    std::span<const std::uint8_t> woodland;
    double radius_km;
    bool backward;

    [[nodiscard]] std::size_t index(std::size_t step) const {
        return backward ? profile.size() - 1 - step : step;
    }
    [[nodiscard]] double distance_km(std::size_t step) const {
        const std::size_t i = index(step);
        return backward ? profile.length_km() - profile.distance_km[i] : profile.distance_km[i];
    }
    [[nodiscard]] bool wooded(std::size_t step) const { return woodland[index(step)] != 0; }
    /// Ground below the tangent of the earth at this end: straight rays stay straight.
    [[nodiscard]] double ground_m(std::size_t step) const {
        const double d = distance_km(step);
        return profile.ground_m[index(step)] - 1000.0 * d * d / (2.0 * radius_km);
    }
    [[nodiscard]] double cover_m(std::size_t step) const { return profile.cover_m[index(step)]; }
};

/// A terminal's own woodland: steps 0 to `last`, up to `edge_km` from it.
struct OwnWoodland {
    bool inside = false;
    std::size_t last = 0;
    double edge_km = 0.0;
};

OwnWoodland own_woodland(const Seen& seen, double height_m) {
    OwnWoodland own;
    own.inside = seen.wooded(0) && height_m < seen.cover_m(0);
    if (!own.inside) {
        return own;
    }
    const double middle_km = seen.profile.length_km() / 2.0;
    const std::size_t size = seen.profile.size();
    while (own.last + 1 < size && seen.wooded(own.last + 1) &&
           seen.distance_km(own.last + 1) <= middle_km) {
        ++own.last;
    }
    own.edge_km = middle_km;
    if (own.last + 1 < size && !seen.wooded(own.last + 1)) {
        own.edge_km = std::min(middle_km,
                               (seen.distance_km(own.last) + seen.distance_km(own.last + 1)) / 2.0);
    }
    return own;
}

/// Steepest slope from the antenna to the obstacles and to the other antenna, m/km.
double ray_slope(const Seen& seen, std::span<const double> obstacles_m, double antenna_m,
                 double other_height_m) {
    double slope = -std::numeric_limits<double>::infinity();
    const std::size_t last = seen.profile.size() - 1;
    for (std::size_t step = 1; step <= last; ++step) {
        const double above_m = step == last ? other_height_m : obstacles_m[seen.index(step)];
        slope =
            std::max(slope, (seen.ground_m(step) + above_m - antenna_m) / seen.distance_km(step));
    }
    return slope;
}

/// How far the ray stays in its woodland, by the edge or through the tops.
double way_out_km(const Seen& seen, const OwnWoodland& own, double antenna_m, double slope) {
    const auto below_top_m = [&](std::size_t step) {
        return seen.ground_m(step) + seen.cover_m(step) - antenna_m -
               slope * seen.distance_km(step);
    };
    double before_m = below_top_m(0);
    for (std::size_t step = 1; step <= own.last; ++step) {
        const double after_m = below_top_m(step);
        if (after_m <= 0.0) {
            return std::lerp(seen.distance_km(step - 1), seen.distance_km(step),
                             before_m / (before_m - after_m));
        }
        before_m = after_m;
    }
    // From the last point to the edge the tops are taken to be level.
    const double through_top_km = slope > 0.0 ? seen.distance_km(own.last) + before_m / slope
                                              : std::numeric_limits<double>::infinity();
    return std::min(own.edge_km, through_top_km);
}

double depth_m(const Seen& seen, const OwnWoodland& own, std::span<const double> obstacles_m,
               double height_m, double other_height_m) {
    if (!own.inside) {
        return 0.0;
    }
    const double antenna_m = seen.ground_m(0) + height_m;
    const double slope = ray_slope(seen, obstacles_m, antenna_m, other_height_m);
    return std::hypot(1000.0, slope) * way_out_km(seen, own, antenna_m, slope);
}

} // namespace

std::span<const WoodlandFitInfo> woodland_fits() {
    return fits;
}

const WoodlandFitInfo& woodland_fit_info(WoodlandFit fit) {
    return *std::find_if(fits.begin(), fits.end(),
                         [=](const WoodlandFitInfo& info) { return info.fit == fit; });
}

double greatest_woodland_loss_db(double frequency_mhz, WoodlandFit fit) {
    require_frequency(frequency_mhz);
    const WoodlandFitInfo& info = woodland_fit_info(fit);
    return info.a1_db * std::pow(frequency_mhz, info.alpha);
}

double woodland_loss_per_metre_db(double frequency_mhz, Polarization polarization) {
    require_frequency(frequency_mhz);
    return polarization == Polarization::vertical ? interpolate(vertical_curve, frequency_mhz)
                                                  : interpolate(horizontal_curve, frequency_mhz);
}

double woodland_loss_db(double depth_m, double per_metre_db, double greatest_db) {
    if (!(depth_m >= 0.0)) {
        throw_usage(fmt::format("the depth of woodland is {} m: give 0 or more", depth_m));
    }
    require_positive(per_metre_db, "the loss per metre of woodland in dB");
    require_positive(greatest_db, "the greatest loss of woodland in dB");
    return -greatest_db * std::expm1(-depth_m * per_metre_db / greatest_db);
}

double woodland_loss_db(double depth_m, double frequency_mhz, Polarization polarization,
                        WoodlandFit fit) {
    return woodland_loss_db(depth_m, woodland_loss_per_metre_db(frequency_mhz, polarization),
                            greatest_woodland_loss_db(frequency_mhz, fit));
}

WoodlandSplit split_woodland(const terrain::Profile& profile,
                             std::span<const std::uint8_t> woodland, double transmitter_height_m,
                             double receiver_height_m, double effective_radius_km) {
    if (woodland.size() != profile.size() || profile.cover_m.size() != profile.size()) {
        throw_usage(fmt::format("a profile of {} points has woodland for {} and cover for {}: give "
                                "one value for each point",
                                profile.size(), woodland.size(), profile.cover_m.size()));
    }
    if (!(transmitter_height_m >= 0.0 && receiver_height_m >= 0.0)) {
        throw_usage(fmt::format("antennas at {} and {} m above ground: give 0 or more",
                                transmitter_height_m, receiver_height_m));
    }
    const Seen from_transmitter{profile, woodland, effective_radius_km, false};
    const Seen from_receiver{profile, woodland, effective_radius_km, true};
    const OwnWoodland at_transmitter = own_woodland(from_transmitter, transmitter_height_m);
    const OwnWoodland at_receiver = own_woodland(from_receiver, receiver_height_m);

    WoodlandSplit split;
    split.cover_m = profile.cover_m;
    const auto clear = [&](const Seen& seen, const OwnWoodland& own) {
        for (std::size_t step = 1; step <= own.last; ++step) {
            split.cover_m[seen.index(step)] = 0.0;
        }
    };
    clear(from_transmitter, at_transmitter);
    clear(from_receiver, at_receiver);
    split.transmitter_depth_m = depth_m(from_transmitter, at_transmitter, split.cover_m,
                                        transmitter_height_m, receiver_height_m);
    split.receiver_depth_m =
        depth_m(from_receiver, at_receiver, split.cover_m, receiver_height_m, transmitter_height_m);
    return split;
}

} // namespace earshot::propagation
