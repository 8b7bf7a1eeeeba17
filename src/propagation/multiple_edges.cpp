#include "propagation/multiple_edges.hpp"

#include "propagation/basic.hpp"
#include "propagation/plain.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace earshot::propagation {
namespace {

/// A point from which edges are seen: a profile index with the height of an antenna or an edge.
struct Viewpoint {
    std::size_t index;
    double height_m;
};

Viewpoint transmitter(const ObstaclePath& path) {
    return {0, path.tx_height_m};
}
Viewpoint receiver(const ObstaclePath& path) {
    return {path.distance_km.size() - 1, path.rx_height_m};
}
Viewpoint top_of(const ObstaclePath& path, std::size_t index) {
    return {index, path.height_m[index]};
}

/// Height of a profile point above the straight line between two viewpoints, the ground raised by
/// the earth's curvature (ITU-R P.526-10 section 4.4.2).
double height_above_line(const ObstaclePath& path, Viewpoint from, Viewpoint to,
                         std::size_t index) {
    const double d1 = path.distance_km[index] - path.distance_km[from.index];
    const double d2 = path.distance_km[to.index] - path.distance_km[index];
    return path.height_m[index] + earth_bulge_m(d1, d2, path.effective_radius_km) -
           (from.height_m * d2 + to.height_m * d1) / (d1 + d2);
}

Edge edge_at(const ObstaclePath& path, Viewpoint from, Viewpoint to, std::size_t index) {
    Edge edge;
    edge.index = index;
    edge.distance_km = path.distance_km[index];
    edge.height_above_line_m = height_above_line(path, from, to, index);
    edge.nu = diffraction_parameter(
        edge.height_above_line_m, edge.distance_km - path.distance_km[from.index],
        path.distance_km[to.index] - edge.distance_km, path.wavelength_m);
    return edge;
}

/// The edge of largest nu strictly between two viewpoints; nu is -infinity if there is none.
Edge principal_edge(const ObstaclePath& path, Viewpoint from, Viewpoint to) {
    Edge best;
    best.nu = -std::numeric_limits<double>::infinity();
    for (std::size_t i = from.index + 1; i < to.index; ++i) {
        const Edge edge = edge_at(path, from, to, i);
        if (edge.nu > best.nu) {
            best = edge;
        }
    }
    return best;
}

/// Keeps an edge only if it costs something, with its loss filled in.
void add_edge(Diffraction& diffraction, Edge edge, KnifeEdgeForm form) {
    if (!(edge.nu > least_nu_with_loss)) {
        return;
    }
    edge.loss_db = knife_edge_loss_db(edge.nu, form);
    diffraction.loss_db += edge.loss_db;
    diffraction.edges.push_back(edge);
}

/// Profile points that a string stretched from antenna to antenna would touch, ends left out.
std::vector<std::size_t> string_points(const ObstaclePath& path) {
    const std::size_t last = path.distance_km.size() - 1;
    const auto height_at = [&](std::size_t i) {
        if (i == 0) {
            return path.tx_height_m;
        }
        return i == last ? path.rx_height_m : path.height_m[i];
    };
    // The curvature is folded in as a drop from the transmitter's tangent plane; that shears the
    // profile but keeps which points lie above the line through two others.
    const auto dropped = [&](std::size_t i) {
        const double d = path.distance_km[i];
        return height_at(i) - earth_bulge_m(d, d, path.effective_radius_km);
    };
    std::vector<std::size_t> hull;
    for (std::size_t i = 0; i <= last; ++i) {
        while (hull.size() >= 2) {
            const std::size_t a = hull[hull.size() - 2];
            const std::size_t b = hull.back();
            const double slope_ab =
                (dropped(b) - dropped(a)) / (path.distance_km[b] - path.distance_km[a]);
            const double slope_bi =
                (dropped(i) - dropped(b)) / (path.distance_km[i] - path.distance_km[b]);
            if (slope_bi < slope_ab) {
                break;
            }
            hull.pop_back();
        }
        hull.push_back(i);
    }
    return {hull.begin() + 1, hull.end() - 1};
}

} // namespace

Sight line_of_sight(const ObstaclePath& path) {
    const Viewpoint tx = transmitter(path);
    const Viewpoint rx = receiver(path);
    Sight sight;
    sight.closest = principal_edge(path, tx, rx);
    // The largest nu is positive exactly when some point stands above the ray.
    sight.clear = !(sight.closest.nu >= 0.0);
    sight.clearance_f1 = -sight.closest.nu / std::numbers::sqrt2;
    return sight;
}

Diffraction single_edge(const ObstaclePath& path, KnifeEdgeForm form) {
    Diffraction diffraction;
    add_edge(diffraction, principal_edge(path, transmitter(path), receiver(path)), form);
    return diffraction;
}

Edge equivalent_edge(double tx_slope, double direct_slope, double rx_slope, double length_km,
                     double wavelength_m) {
    const auto rays = plain::crossing_rays(tx_slope, direct_slope, rx_slope, length_km);
    Edge edge;
    edge.distance_km = rays.distance_km;
    edge.height_above_line_m = rays.height_m;
    edge.nu = rays.scaled_nu / std::sqrt(wavelength_m);
    return edge;
}

double bullington_correction_db(double edge_loss_db, double length_km) {
    return plain::other_obstacles_db(plain::other_obstacles_share(edge_loss_db), length_km);
}

Diffraction bullington(const ObstaclePath& path, KnifeEdgeForm form, bool p526_correction) {
    const Viewpoint tx = transmitter(path);
    const Viewpoint rx = receiver(path);
    const double d = path.distance_km.back();
    Diffraction diffraction;
    const Edge closest = principal_edge(path, tx, rx);
    if (closest.nu < 0.0) {
        add_edge(diffraction, closest, form);
    } else {
        // Steepest slopes, m/km, from either end to the profile raised by curvature; the horizon
        // rays cross at the equivalent edge.
        double tx_slope = -std::numeric_limits<double>::infinity();
        double rx_slope = -std::numeric_limits<double>::infinity();
        for (std::size_t i = 1; i + 1 < path.distance_km.size(); ++i) {
            const double d1 = path.distance_km[i];
            const double d2 = d - d1;
            const double raised =
                path.height_m[i] + earth_bulge_m(d1, d2, path.effective_radius_km);
            tx_slope = std::max(tx_slope, (raised - path.tx_height_m) / d1);
            rx_slope = std::max(rx_slope, (raised - path.rx_height_m) / d2);
        }
        Edge edge = equivalent_edge(tx_slope, (path.rx_height_m - path.tx_height_m) / d, rx_slope,
                                    d, path.wavelength_m);
        const auto after =
            std::lower_bound(path.distance_km.begin(), path.distance_km.end(), edge.distance_km);
        edge.index = static_cast<std::size_t>(after - path.distance_km.begin());
        add_edge(diffraction, edge, form);
    }
    if (p526_correction) {
        diffraction.loss_db += bullington_correction_db(diffraction.loss_db, d);
    }
    return diffraction;
}

Diffraction epstein_peterson(const ObstaclePath& path, KnifeEdgeForm form) {
    const std::vector<std::size_t> points = string_points(path);
    if (points.empty()) {
        return single_edge(path, form);
    }
    // One obstacle per run of neighbouring samples: its point standing highest in nu between the
    // string points on either side of the run.
    std::vector<Viewpoint> stops{transmitter(path)};
    for (std::size_t first = 0; first < points.size();) {
        std::size_t last = first;
        while (last + 1 < points.size() && points[last + 1] == points[last] + 1) {
            ++last;
        }
        const Viewpoint before = first == 0 ? transmitter(path) : top_of(path, points[first - 1]);
        const Viewpoint after =
            last + 1 == points.size() ? receiver(path) : top_of(path, points[last + 1]);
        std::size_t best = points[first];
        double best_nu = -std::numeric_limits<double>::infinity();
        for (std::size_t k = first; k <= last; ++k) {
            const double nu = edge_at(path, before, after, points[k]).nu;
            if (nu > best_nu) {
                best_nu = nu;
                best = points[k];
            }
        }
        stops.push_back(top_of(path, best));
        first = last + 1;
    }
    stops.push_back(receiver(path));

    Diffraction diffraction;
    for (std::size_t k = 1; k + 1 < stops.size(); ++k) {
        add_edge(diffraction, edge_at(path, stops[k - 1], stops[k + 1], stops[k].index), form);
    }
    return diffraction;
}

double double_edge_correction_db(double main_m, double second_m, double a_km, double b_km,
                                 double c_km, double wavelength_m) {
    if (main_m <= 0.0 || second_m <= 0.0) {
        return 0.0;
    }
    const double total = a_km + b_km + c_km;
    const double p = diffraction_parameter(main_m, a_km, b_km + c_km, wavelength_m);
    const double q = diffraction_parameter(second_m, a_km + b_km, c_km, wavelength_m);
    const double alpha = std::atan(std::sqrt(b_km * total / (a_km * c_km)));
    return (12.0 - 20.0 * std::log10(2.0 / (1.0 - alpha / std::numbers::pi))) *
           std::pow(q / p, 2.0 * p);
}

namespace {

/// The three edges of Deygout's construction; a side without an edge that costs has nu = -infinity
/// or a nu at which its loss is zero.
struct ThreeEdges {
    Edge main, tx_side, rx_side;
};

ThreeEdges deygout_edges(const ObstaclePath& path) {
    ThreeEdges edges;
    edges.main = principal_edge(path, transmitter(path), receiver(path));
    if (edges.main.nu > least_nu_with_loss) {
        const Viewpoint top = top_of(path, edges.main.index);
        edges.tx_side = principal_edge(path, transmitter(path), top);
        edges.rx_side = principal_edge(path, top, receiver(path));
    }
    return edges;
}

} // namespace

Diffraction deygout(const ObstaclePath& path, KnifeEdgeForm form, bool p526_correction) {
    const ThreeEdges edges = deygout_edges(path);
    Diffraction diffraction;
    if (!(edges.main.nu > least_nu_with_loss)) {
        return diffraction;
    }
    add_edge(diffraction, edges.tx_side, form);
    add_edge(diffraction, edges.main, form);
    add_edge(diffraction, edges.rx_side, form);
    if (!p526_correction) {
        return diffraction;
    }
    const double d = path.distance_km.back();
    const auto above_direct_line = [&](const Edge& edge) {
        return height_above_line(path, transmitter(path), receiver(path), edge.index);
    };
    diffraction.loss_db = 0.0;
    for (Edge& edge : diffraction.edges) {
        if (edge.index != edges.main.index) {
            const bool toward_rx = edge.index > edges.main.index;
            const double a = toward_rx ? edges.main.distance_km : d - edges.main.distance_km;
            const double c = toward_rx ? d - edge.distance_km : edge.distance_km;
            const double correction =
                double_edge_correction_db(edges.main.height_above_line_m, above_direct_line(edge),
                                          a, d - a - c, c, path.wavelength_m);
            edge.loss_db = std::max(0.0, edge.loss_db - correction);
        }
        diffraction.loss_db += edge.loss_db;
    }
    return diffraction;
}

Diffraction cascaded_edges(const ObstaclePath& path, KnifeEdgeForm form) {
    const ThreeEdges edges = deygout_edges(path);
    Diffraction diffraction;
    if (!(edges.main.nu > least_nu_with_loss)) {
        return diffraction;
    }
    add_edge(diffraction, edges.tx_side, form);
    const double tx_side_db = diffraction.loss_db;
    add_edge(diffraction, edges.main, form);
    const double main_db = diffraction.loss_db - tx_side_db;
    add_edge(diffraction, edges.rx_side, form);
    const double side_db = diffraction.loss_db - main_db;
    const double t = 1.0 - std::exp(-main_db / 6.0);
    const double c = 10.0 + 0.04 * path.distance_km.back();
    diffraction.loss_db = main_db + t * (side_db + c);
    return diffraction;
}

} // namespace earshot::propagation
