#include "earshot/propagation/method.hpp"

#include "earshot/base/error.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <iterator>
#include <limits>

namespace earshot::propagation {
namespace {

constexpr std::array method_table{
    MethodInfo{Method::p1812, "p1812", "ITU-R P.1812-8, the whole of annex 1"},
    MethodInfo{Method::free_space, "free-space", "ITU-R P.525-4, equation (3)"},
    MethodInfo{Method::single_edge, "single-edge", "ITU-R P.526-15, section 4.1"},
    MethodInfo{Method::bullington, "bullington", "Bullington, Proc. IRE 35 (1947)"},
    MethodInfo{Method::bullington_p526, "bullington-p526", "ITU-R P.526-15 section 4.5.1"},
    MethodInfo{Method::epstein_peterson, "epstein-peterson",
               "Epstein and Peterson, Proc. IRE 41 (1953)"},
    MethodInfo{Method::deygout, "deygout", "Deygout, IEEE Trans. AP-14 (1966)"},
    MethodInfo{Method::deygout_p526, "deygout-p526",
               "Deygout (1966), corrected by ITU-R P.526-15, section 4.3"},
    MethodInfo{Method::cascaded_p526, "cascaded-p526", "ITU-R P.526-10, section 4.4.2"},
};

Diffraction diffraction_of(const ObstaclePath& path, const PathSettings& settings) {
    switch (settings.method) {
    case Method::p1812: // has its own way through path_loss()
    case Method::free_space:
        return {};
    case Method::single_edge:
        return single_edge(path, settings.knife_edge);
    case Method::bullington:
        return bullington(path, settings.knife_edge, false);
    case Method::bullington_p526:
        return bullington(path, settings.knife_edge, true);
    case Method::epstein_peterson:
        return epstein_peterson(path, settings.knife_edge);
    case Method::deygout:
        return deygout(path, settings.knife_edge, false);
    case Method::deygout_p526:
        return deygout(path, settings.knife_edge, true);
    case Method::cascaded_p526:
        return cascaded_edges(path, settings.knife_edge);
    }
    throw Error(Fault::internal, "unknown propagation method");
}

} // namespace

std::span<const MethodInfo> methods() {
    return method_table;
}

const MethodInfo& method_info(Method method) {
    return *std::ranges::find(method_table, method, &MethodInfo::method);
}

Method parse_method(std::string_view name) {
    const auto found = std::ranges::find(method_table, name, &MethodInfo::name);
    if (found == method_table.end()) {
        std::vector<std::string_view> names;
        names.reserve(method_table.size());
        for (const MethodInfo& info : method_table) {
            names.push_back(info.name);
        }
        throw_usage(
            fmt::format("unknown method '{}'; choose one of {}", name, fmt::join(names, ", ")));
    }
    return found->method;
}

namespace {

void predict_p1812(const PathView& profile, AntennaHeights heights, const PathSettings& settings,
                   PathLoss& loss) {
    P1812Inputs inputs = settings.p1812;
    inputs.frequency_mhz = settings.frequency_mhz;
    loss.p1812 = p1812(profile, heights, inputs);
    loss.free_space_db = loss.p1812->free_space_db;
    loss.diffraction_db = loss.p1812->diffraction_p_db;
    loss.basic_loss_db = loss.p1812->loss_db;
}

} // namespace

double radius_km(const PathSettings& settings) {
    return settings.method == Method::p1812
               ? effective_radii(settings.p1812.refractivity.delta_n).median_km
               : effective_earth_radius_km(settings.k_factor);
}

std::vector<std::string> validity_warnings(const PathSettings& settings, double tx_antenna_m,
                                           double rx_antenna_m) {
    if (settings.method != Method::p1812) {
        return {};
    }
    // A kilometre of level ground, whose own length and shape give no cause for warning.
    const terrain::Profile level{{0.0, 0.5, 1.0}, {0.0, 0.0, 0.0}, {0.0, 0.0, 0.0}, {}, {}};
    std::vector<std::string> warnings =
        path_loss(level, tx_antenna_m, rx_antenna_m, settings).p1812->warnings;
    if (settings.p1812.building_entry) {
        warnings.emplace_back("loss into a building differs by tens of decibels from room to room; "
                              "the median is used");
    }
    return warnings;
}

PathLoss path_loss(const terrain::Profile& profile, double tx_antenna_m, double rx_antenna_m,
                   const PathSettings& settings) {
    PathLoss loss;
    if (profile.has_void()) {
        constexpr double unknown = std::numeric_limits<double>::quiet_NaN();
        loss.free_space_db = loss.diffraction_db = loss.basic_loss_db = unknown;
        return loss;
    }
    const double effective_radius_km = radius_km(settings);
    std::span<const double> cover_m = profile.cover_m;
    WoodlandSplit woods;
    if (std::ranges::any_of(profile.woodland, [](std::uint8_t w) { return w != 0; })) {
        woods = split_woodland(profile, profile.woodland, tx_antenna_m, rx_antenna_m,
                               effective_radius_km);
        cover_m = woods.cover_m;
        const auto woodland_db = [&](double depth_m) {
            return depth_m > 0.0
                       ? settings.woodland_factor *
                             woodland_loss_db(depth_m, settings.frequency_mhz,
                                              settings.p1812.polarization, settings.woodland_fit)
                       : 0.0;
        };
        loss.tx_woodland_depth_m = woods.transmitter_depth_m;
        loss.rx_woodland_depth_m = woods.receiver_depth_m;
        loss.tx_woodland_db = woodland_db(woods.transmitter_depth_m);
        loss.rx_woodland_db = woodland_db(woods.receiver_depth_m);
    }
    std::vector<double> obstacles(profile.size());
    std::ranges::transform(profile.ground_m, cover_m, obstacles.begin(), std::plus<>());

    ObstaclePath path;
    path.distance_km = profile.distance_km;
    path.height_m = obstacles;
    path.tx_height_m = profile.ground_m.front() + tx_antenna_m;
    path.rx_height_m = profile.ground_m.back() + rx_antenna_m;
    path.wavelength_m = wavelength_m(settings.frequency_mhz);
    path.effective_radius_km = effective_radius_km;

    loss.sight = line_of_sight(path);
    if (settings.method == Method::p1812) {
        std::vector<Zone> zones;
        std::ranges::transform(profile.zone, std::back_inserter(zones), zone_from_code);
        predict_p1812({profile.distance_km, profile.ground_m, cover_m, zones},
                      {tx_antenna_m, rx_antenna_m}, settings, loss);
        loss.edges = bullington(path, settings.knife_edge, false).edges;
        return loss;
    }
    // Loss is along the ray: near a tall mast the slant distance counts, not the ground's.
    const double slant_km =
        std::hypot(profile.length_km(), (path.tx_height_m - path.rx_height_m) / 1000.0);
    loss.free_space_db = free_space_loss_db(slant_km, settings.frequency_mhz);
    Diffraction diffraction = diffraction_of(path, settings);
    loss.diffraction_db = diffraction.loss_db;
    loss.edges = std::move(diffraction.edges);
    loss.basic_loss_db = loss.free_space_db + loss.diffraction_db;
    return loss;
}

} // namespace earshot::propagation
