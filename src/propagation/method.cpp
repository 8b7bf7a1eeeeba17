#include "earshot/propagation/method.hpp"

#include "earshot/base/error.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <limits>

namespace earshot::propagation {
namespace {

constexpr std::array method_table{
    MethodInfo{Method::p1812, "p1812", "ITU-R P.1812-8, the whole of annex 1"},
    MethodInfo{Method::free_space, "free-space", "ITU-R P.525-4, equation (3)"},
    MethodInfo{Method::single_edge, "single-edge", "ITU-R P.526-15, section 4.1"},
    MethodInfo{Method::bullington, "bullington", "Bullington, Proc. IRE 35 (1947)"},
    MethodInfo{Method::bullington_p526, "bullington-p526", "ITU-R P.526-15, section 4.5.2.1"},
    MethodInfo{Method::epstein_peterson, "epstein-peterson",
               "Epstein and Peterson, Proc. IRE 41 (1953)"},
    MethodInfo{Method::deygout, "deygout", "Deygout, IEEE Trans. AP-14 (1966)"},
    MethodInfo{Method::deygout_p526, "deygout-p526",
               "Deygout (1966), corrected by ITU-R P.526-15, section 4.4.1"},
    MethodInfo{Method::cascaded_p526, "cascaded-p526", "ITU-R P.526-15, section 4.5.1"},
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
    throw Error(ExitCode::internal, "unknown propagation method");
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
        for (const MethodInfo& info : method_table) {
            names.push_back(info.name);
        }
        throw_usage(
            fmt::format("unknown method '{}'; choose one of {}", name, fmt::join(names, ", ")));
    }
    return found->method;
}

namespace {

void predict_p1812(const terrain::Profile& profile, AntennaHeights heights,
                   const PathSettings& settings, PathLoss& loss) {
    P1812Inputs inputs = settings.p1812;
    inputs.frequency_mhz = settings.frequency_mhz;
    loss.p1812 = p1812(view(profile), heights, inputs);
    loss.free_space_db = loss.p1812->free_space_db;
    loss.diffraction_db = loss.p1812->diffraction_p_db;
    loss.basic_loss_db = loss.p1812->loss_db;
}

/// Effective earth radius that a method computes with.
double radius_km(const PathSettings& settings) {
    return settings.method == Method::p1812
               ? effective_radii(settings.p1812.refractivity.delta_n).median_km
               : effective_earth_radius_km(settings.k_factor);
}

} // namespace

PathLoss path_loss(const terrain::Profile& profile, double tx_antenna_m, double rx_antenna_m,
                   const PathSettings& settings) {
    PathLoss loss;
    if (profile.has_void()) {
        constexpr double unknown = std::numeric_limits<double>::quiet_NaN();
        loss.free_space_db = loss.diffraction_db = loss.basic_loss_db = unknown;
        return loss;
    }
    std::vector<double> obstacles(profile.size());
    std::ranges::transform(profile.ground_m, profile.cover_m, obstacles.begin(), std::plus<>());

    ObstaclePath path;
    path.distance_km = profile.distance_km;
    path.height_m = obstacles;
    path.tx_height_m = profile.ground_m.front() + tx_antenna_m;
    path.rx_height_m = profile.ground_m.back() + rx_antenna_m;
    path.wavelength_m = wavelength_m(settings.frequency_mhz);
    path.effective_radius_km = radius_km(settings);

    loss.sight = line_of_sight(path);
    if (settings.method == Method::p1812) {
        predict_p1812(profile, {tx_antenna_m, rx_antenna_m}, settings, loss);
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
