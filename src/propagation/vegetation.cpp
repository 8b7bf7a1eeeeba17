#include "propagation/vegetation.hpp"

#include "earshot/base/error.hpp"
#include "propagation/basic.hpp"
#include "propagation/low_antenna.hpp"
#include "propagation/p1812.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <cstddef>
#include <limits>
#include <numbers>

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
struct Run {
    bool inside = false;
    std::size_t last = 0;
    double edge_km = 0.0;
};

Run own_run(const Seen& seen) {
    Run own;
    own.inside = seen.wooded(0) && seen.cover_m(0) > 0.0;
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

/// Steepest slope from an antenna to the obstacles and to the other antenna, m/km.
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
double way_out_km(const Seen& seen, const Run& own, double antenna_m, double slope) {
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

OwnWoodland own_woodland(const Seen& seen, const Run& run, std::span<const double> obstacles_m,
                         double height_m, double other_height_m, const WoodlandLoss& woods) {
    if (!run.inside) {
        return {};
    }
    const double tops_m = seen.cover_m(0);
    const double start_m = woods.way_out_from_m(height_m, tops_m);
    const double from_m = seen.ground_m(0) + start_m;
    const double slope = ray_slope(seen, obstacles_m, from_m, other_height_m);
    return {std::hypot(1000.0, slope) * way_out_km(seen, run, from_m, slope), height_m, tops_m,
            slope + start_m / seen.profile.length_km() -
                ground_slope_beside(seen.profile.distance_km, seen.profile.ground_m,
                                    beside_km(seen.profile.length_km()),
                                    seen.backward ? End::last : End::first)};
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

WoodlandLoss::WoodlandLoss(const Conditions& conditions)
    : per_metre_db_(woodland_loss_per_metre_db(conditions.frequency_mhz, conditions.polarization)),
      greatest_db_(greatest_woodland_loss_db(conditions.frequency_mhz, conditions.woodland_fit)),
      factor_(conditions.woodland_factor), frequency_mhz_(conditions.frequency_mhz),
      polarization_(conditions.polarization), withholds_(conditions.method == Method::short_range) {
    constexpr double permittivity = 1.1;
    constexpr double conductivity_s_m = 1e-4;
    const double wavelength = wavelength_m(frequency_mhz_);
    const double wave_number = 2.0 * std::numbers::pi / wavelength;
    const std::complex<double> excess(permittivity - 1.0, -60.0 * wavelength * conductivity_s_m);
    constexpr double db_per_neper = 20.0 * std::numbers::log10e;
    climb_db_m_ = db_per_neper * wave_number * std::abs(std::sqrt(excess).imag());
    tops_layer_m_ = 1.0 / (wave_number * std::sqrt(std::abs(excess)));
}

double WoodlandLoss::way_out_from_m(double antenna_m, double tops_m) const {
    return std::min(antenna_m, std::max(0.0, tops_m - tops_layer_m_));
}

double WoodlandLoss::db(const OwnWoodland& own) const {
    if (own.depth_m <= 0.0) {
        return 0.0;
    }
    constexpr double measured_m = 1.6; // height of the antenna behind A_m (P.833-10, from memory)
    const double in_woods_m = std::min(own.antenna_m, own.tops_m);
    double shallow_db = 0.0; // what the greatest loss falls by
    if (own.antenna_m > std::min(measured_m, own.tops_m)) {
        const auto beside_db = [&](double height_m) {
            return ground_beside_db(low_antenna(height_m, frequency_mhz_, polarization_),
                                    own.arrival_slope);
        };
        shallow_db = climb_db_m_ * std::max(0.0, in_woods_m - measured_m) +
                     20.0 * std::log10(1.0 + (own.antenna_m - in_woods_m) / tops_layer_m_);
        if (withholds_ && own.antenna_m > measured_m) {
            shallow_db -= beside_db(measured_m) - beside_db(own.antenna_m);
        }
    }
    const double share = -std::expm1(-own.depth_m * per_metre_db_ / greatest_db_);
    return factor_ * share * std::max(0.0, greatest_db_ - shallow_db);
}

WoodlandSplit split_woodland(const terrain::Profile& profile,
                             std::span<const std::uint8_t> woodland, double transmitter_height_m,
                             double receiver_height_m, double effective_radius_km,
                             const WoodlandLoss& woods) {
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
    const Run at_transmitter = own_run(from_transmitter);
    const Run at_receiver = own_run(from_receiver);

    WoodlandSplit split;
    split.cover_m = profile.cover_m;
    const auto clear = [&](const Seen& seen, const Run& own) {
        for (std::size_t step = 1; step <= own.last; ++step) {
            split.cover_m[seen.index(step)] = 0.0;
        }
    };
    clear(from_transmitter, at_transmitter);
    clear(from_receiver, at_receiver);
    if (profile.surface) {
        std::fill(split.cover_m.begin() + 1, split.cover_m.end() - 1, 0.0);
    }
    split.transmitter = own_woodland(from_transmitter, at_transmitter, split.cover_m,
                                     transmitter_height_m, receiver_height_m, woods);
    split.receiver = own_woodland(from_receiver, at_receiver, split.cover_m, receiver_height_m,
                                  transmitter_height_m, woods);
    return split;
}

} // namespace earshot::propagation
