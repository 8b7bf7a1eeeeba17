#include "earshot/propagation/path_loss.hpp"

#include "base/named.hpp"
#include "earshot/base/error.hpp"
#include "propagation/basic.hpp"
#include "propagation/clutter.hpp"
#include "propagation/irregular_terrain.hpp"
#include "propagation/multiple_edges.hpp"
#include "propagation/p1812.hpp"
#include "propagation/vegetation.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <iterator>
#include <limits>
#include <optional>

namespace earshot::propagation {
namespace {

constexpr std::array method_table{
    MethodInfo{Method::short_range, "short-range",
               "ITU-R P.1812-8 for small radios near the ground"},
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
    MethodInfo{Method::irregular_terrain, "irregular-terrain",
               "NTIA Report 82-100, point-to-point mode"},
};

Diffraction diffraction_of(const ObstaclePath& path, const Conditions& conditions) {
    switch (conditions.method) {
    case Method::short_range: // have their own way through path_loss()
    case Method::p1812:
    case Method::irregular_terrain:
    case Method::free_space:
        return {};
    case Method::single_edge:
        return single_edge(path, conditions.knife_edge);
    case Method::bullington:
        return bullington(path, conditions.knife_edge, false);
    case Method::bullington_p526:
        return bullington(path, conditions.knife_edge, true);
    case Method::epstein_peterson:
        return epstein_peterson(path, conditions.knife_edge);
    case Method::deygout:
        return deygout(path, conditions.knife_edge, false);
    case Method::deygout_p526:
        return deygout(path, conditions.knife_edge, true);
    case Method::cascaded_p526:
        return cascaded_edges(path, conditions.knife_edge);
    }
    throw Error(Fault::internal, "unknown propagation method");
}

} // namespace

std::span<const MethodInfo> methods() {
    return method_table;
}

const MethodInfo& method_info(Method method) {
    return *std::find_if(method_table.begin(), method_table.end(),
                         [method](const MethodInfo& info) { return info.method == method; });
}

Method parse_method(std::string_view name) {
    const MethodInfo* found = named(method_table, name);
    if (found == nullptr) {
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

bool knows_shares(Method method) {
    return from_p1812(method) || method == Method::irregular_terrain;
}

double radius_km(const Conditions& conditions) {
    switch (conditions.method) {
    case Method::short_range:
    case Method::p1812:
        return effective_radii(conditions.refractivity.delta_n).median_km;
    case Method::irregular_terrain: // at sea level; the model's own falls with the ground's height
        return 0.001 / irregular::earth_curvature_per_m(conditions.refractivity.n0);
    default:
        return effective_earth_radius_km(conditions.k_factor);
    }
}

P1812Conditions p1812_conditions(const Conditions& conditions) {
    const P1812Conditions& standard = conditions;
    P1812Conditions part = standard;
    part.short_range = conditions.method == Method::short_range;
    return part;
}

std::vector<std::string> validity_warnings(const Conditions& conditions, AntennaHeights heights) {
    if (conditions.method == Method::irregular_terrain) {
        return irregular::warnings(conditions.frequency_mhz, heights);
    }
    if (!from_p1812(conditions.method)) {
        return {};
    }
    validate(conditions);
    std::vector<std::string> list = warnings(conditions, heights);
    if (conditions.building_entry) {
        list.emplace_back("loss into a building differs by tens of decibels from room to room; "
                          "the median is used");
    }
    return list;
}

double standard_loss_db(const PathLoss& loss) {
    if (!loss.p1812 || !loss.p1812->inputs.short_range) {
        return loss.total_db();
    }
    P1812Inputs inputs = loss.p1812->inputs;
    inputs.short_range = false;
    return loss.total_db() - loss.basic_loss_db + p1812_loss(loss.p1812->geometry, inputs).loss_db;
}

bool reciprocal(const Conditions& conditions) {
    switch (conditions.method) {
    case Method::short_range:
    case Method::p1812:
        return conditions.location_percent == 50.0 && !conditions.building_entry;
    case Method::free_space:
    case Method::single_edge:
    case Method::bullington:
    case Method::bullington_p526:
    case Method::epstein_peterson:
    case Method::irregular_terrain:
        return true;
    case Method::deygout:
    case Method::deygout_p526:
    case Method::cascaded_p526:
        return false;
    }
    return false;
}

namespace {

/// Lets houses count as the conditions say: takes them out of the cover between the terminals, sets
/// what they cost a terminal below their roofs, and raises that to the roofs.
void count_houses(terrain::Profile& profile, const Conditions& conditions, AntennaHeights& heights,
                  PathLoss& loss) {
    const auto count = [&](std::size_t end, double& height_m, double& houses_loss_db) {
        const AmongHouses terminal{height_m,
                                   profile.woodland[end] == 0 ? profile.cover_m[end] : 0.0};
        houses_loss_db = houses_db(conditions, terminal, profile.length_km());
        if (!profile.surface) { // whose heights are those of the roofs
            height_m = path_height_m(conditions.houses, terminal);
        }
    };
    count(0, heights.transmitter_m, loss.tx_houses_db);
    count(profile.size() - 1, heights.receiver_m, loss.rx_houses_db);
    for (std::size_t i = 1; i + 1 < profile.size(); ++i) {
        if (profile.woodland[i] == 0) {
            profile.cover_m[i] = 0.0;
        }
    }
}

bool has_houses(const terrain::Profile& profile) {
    for (std::size_t i = 0; i < profile.woodland.size(); ++i) {
        if (profile.woodland[i] == 0 && profile.cover_m[i] > 0.0) {
            return true;
        }
    }
    return false;
}

/// Takes the trees around the terminals out of the cover, and sets what they cost instead.
std::vector<double> without_own_woods(const terrain::Profile& profile, AntennaHeights heights,
                                      const Conditions& conditions, PathLoss& loss) {
    const WoodlandLoss woods(conditions);
    WoodlandSplit split = split_woodland(profile, profile.woodland, heights.transmitter_m,
                                         heights.receiver_m, radius_km(conditions), woods);
    loss.tx_woodland_depth_m = split.transmitter.depth_m;
    loss.rx_woodland_depth_m = split.receiver.depth_m;
    loss.tx_woodland_db = woods.db(split.transmitter);
    loss.rx_woodland_db = woods.db(split.receiver);
    return std::move(split.cover_m);
}

void predict_p1812(const PathView& path, AntennaHeights heights, double centre_latitude_deg,
                   const Conditions& conditions, PathLoss& loss) {
    P1812Inputs inputs(p1812_conditions(conditions));
    inputs.path_centre_latitude_deg = centre_latitude_deg;
    loss.p1812 = std::make_shared<const P1812Result>(p1812(path, heights, inputs));
    loss.free_space_db = loss.p1812->free_space_db;
    loss.diffraction_db = loss.p1812->diffraction_p_db;
    loss.basic_loss_db = loss.p1812->loss_db;
}

void predict_irregular(const terrain::Profile& profile, std::span<const double> cover_m,
                       AntennaHeights heights, const Conditions& conditions, PathLoss& loss) {
    irregular::Result result = irregular::predict(profile.distance_km, profile.ground_m, heights,
                                                  irregular::inputs_of(conditions));
    if (std::any_of(cover_m.begin() + 1, cover_m.end() - 1, [](double h) { return h > 0.0; })) {
        result.warnings.emplace_back("ground cover on the way does not count: the irregular "
                                     "terrain model takes bare ground");
    }
    loss.free_space_db = result.free_space_db;
    loss.diffraction_db = result.attenuation_db;
    loss.basic_loss_db = result.loss_db;
    loss.irregular_terrain = std::make_shared<const irregular::Result>(std::move(result));
}

} // namespace

PathLoss path_loss(const terrain::Profile& whole, AntennaHeights antennas,
                   const Conditions& conditions) {
    PathLoss loss;
    if (whole.has_void()) {
        constexpr double unknown = std::numeric_limits<double>::quiet_NaN();
        loss.free_space_db = loss.diffraction_db = loss.basic_loss_db = unknown;
        return loss;
    }
    loss.field_offset_db = conditions.field_offset_db;
    AntennaHeights heights = antennas; // that the loss is reckoned from
    std::optional<terrain::Profile> without_houses;
    if (has_houses(whole) && (conditions.houses != Houses::obstacles || whole.surface)) {
        without_houses = whole;
        count_houses(*without_houses, conditions, heights, loss);
    }
    const terrain::Profile& profile = without_houses ? *without_houses : whole;
    std::span<const double> cover_m = profile.cover_m;
    std::vector<double> outside_m;
    if (std::any_of(profile.woodland.begin(), profile.woodland.end(),
                    [](std::uint8_t w) { return w != 0; })) {
        outside_m = without_own_woods(profile, heights, conditions, loss);
        cover_m = outside_m;
    }
    std::vector<double> obstacles(profile.size());
    std::transform(profile.ground_m.begin(), profile.ground_m.end(), cover_m.begin(),
                   obstacles.begin(), std::plus<>());

    ObstaclePath path;
    path.distance_km = profile.distance_km;
    path.height_m = obstacles;
    path.tx_height_m = profile.ground_m.front() + antennas.transmitter_m;
    path.rx_height_m = profile.ground_m.back() + antennas.receiver_m;
    path.wavelength_m = wavelength_m(conditions.frequency_mhz);
    path.effective_radius_km = radius_km(conditions);

    loss.sight = line_of_sight(path);
    path.tx_height_m = profile.ground_m.front() + heights.transmitter_m;
    path.rx_height_m = profile.ground_m.back() + heights.receiver_m;
    if (from_p1812(conditions.method)) {
        std::vector<Zone> zones;
        std::transform(profile.zone.begin(), profile.zone.end(), std::back_inserter(zones),
                       zone_from_code);
        predict_p1812({profile.distance_km, profile.ground_m, cover_m, zones}, heights,
                      profile.centre_latitude_deg, conditions, loss);
        loss.edges = bullington(path, conditions.knife_edge, false).edges;
        return loss;
    }
    if (conditions.method == Method::irregular_terrain) {
        predict_irregular(profile, cover_m, heights, conditions, loss);
        return loss;
    }
    // Loss is along the ray: near a tall mast the slant distance counts, not the ground's.
    const double slant_km =
        std::hypot(profile.length_km(), (path.tx_height_m - path.rx_height_m) / 1000.0);
    loss.free_space_db = free_space_loss_db(slant_km, conditions.frequency_mhz);
    Diffraction diffraction = diffraction_of(path, conditions);
    loss.diffraction_db = diffraction.loss_db;
    loss.edges = std::move(diffraction.edges);
    loss.basic_loss_db = loss.free_space_db + loss.diffraction_db;
    return loss;
}

} // namespace earshot::propagation
