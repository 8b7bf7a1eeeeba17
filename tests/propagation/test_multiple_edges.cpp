#include "propagation/basic.hpp"
#include "propagation/multiple_edges.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <functional>
#include <vector>

using namespace earshot::propagation;

namespace {

/// A flat profile with thin edges standing on it. The earth is made flat so that the geometry can
/// be worked by hand.
struct EdgeField {
    std::vector<double> distance_km, height_m;
    ObstaclePath path;

    EdgeField(double length_km, int steps, double antenna_m,
              std::initializer_list<std::pair<int, double>> edges, double wavelength_m = 2.0) {
        for (int i = 0; i <= steps; ++i) {
            distance_km.push_back(length_km * i / steps);
            height_m.push_back(-1e6);
        }
        for (const auto& [index, height] : edges) {
            height_m[static_cast<std::size_t>(index)] = height;
        }
        path = {distance_km, height_m, antenna_m, antenna_m, wavelength_m, 1e12};
    }
};

} // namespace

TEST_CASE("every method agrees on a single edge", "[edges]") {
    // With one edge each construction reduces to J(nu) of ITU-R P.526-15 equation (31).
    const EdgeField field(10.0, 10, 20.0, {{4, 60.0}});
    const double nu = diffraction_parameter(40.0, 4.0, 6.0, 2.0);
    const double j = knife_edge_loss_itu_db(nu);
    CHECK(single_edge(field.path, KnifeEdgeForm::itu).loss_db == Approx(j));
    CHECK(bullington(field.path, KnifeEdgeForm::itu, false).loss_db == Approx(j));
    CHECK(epstein_peterson(field.path, KnifeEdgeForm::itu).loss_db == Approx(j));
    CHECK(deygout(field.path, KnifeEdgeForm::itu, false).loss_db == Approx(j));
    CHECK(deygout(field.path, KnifeEdgeForm::itu, true).loss_db == Approx(j));
    CHECK(single_edge(field.path, KnifeEdgeForm::exact).loss_db ==
          Approx(knife_edge_loss_exact_db(nu)));
    // The corrections of P.526-15 add what they say: sections 4.5.1 of P.526-15 and 4.4.2 of
    // P.526-10.
    CHECK(bullington(field.path, KnifeEdgeForm::itu, true).loss_db ==
          Approx(j + (1.0 - std::exp(-j / 6.0)) * 10.2));
    CHECK(cascaded_edges(field.path, KnifeEdgeForm::itu).loss_db ==
          Approx(j + (1.0 - std::exp(-j / 6.0)) * 10.4));
}

TEST_CASE("grazing edges: additive constructions against the exact answer", "[edges]") {
    // n equally spaced edges that just touch the line weaken the field to exactly 1 / (n + 1)
    // (S. W. Lee, "Path integrals for solving some electromagnetic edge diffraction problems",
    // J. Math. Phys. 19, 1978). Epstein-Peterson and Deygout count 6.02 dB an edge, and are known
    // to overstate it.
    const EdgeField two(9.0, 9, 20.0, {{3, 20.0}, {6, 20.0}});
    const double exact_db = 20.0 * std::log10(3.0);
    const double added_db = 2.0 * 20.0 * std::log10(2.0);
    const double ep = epstein_peterson(two.path, KnifeEdgeForm::exact).loss_db;
    const double dg = deygout(two.path, KnifeEdgeForm::exact, false).loss_db;
    CHECK(ep == Approx(added_db).margin(1e-6));
    CHECK(dg == Approx(added_db).margin(1e-6));
    CHECK(ep > exact_db);
    CHECK(ep - exact_db == Approx(2.5).margin(0.01));
}

TEST_CASE("two edges worked by hand", "[edges]") {
    // Antennas at 20 m; edges of 100 m at 4 km and 80 m at 7 km of 12 km; wavelength 2 m.
    const EdgeField field(12.0, 12, 20.0, {{4, 100.0}, {7, 80.0}});
    const auto j = [](double h, double a, double b) {
        return knife_edge_loss_itu_db(h * std::sqrt(2.0 / 2.0 * (1.0 / a + 1.0 / b) / 1000.0));
    };
    // Epstein and Peterson: each edge from its neighbours. First: line from 20 m to 80 m at 7 km
    // stands at 54.286 m at 4 km. Second: line from 100 m to 20 m over 8 km stands at 70 m.
    const double first = j(100.0 - (20.0 * 3.0 + 80.0 * 4.0) / 7.0, 4.0, 3.0);
    const double second = j(80.0 - 70.0, 3.0, 5.0);
    CHECK(epstein_peterson(field.path, KnifeEdgeForm::itu).loss_db == Approx(first + second));
    // Deygout: the main edge is the larger nu over the whole path, here the one at 4 km
    // (80 sqrt(1/4 + 1/8) against 60 sqrt(1/7 + 1/5)); the other is seen from its top.
    const double main = j(80.0, 4.0, 8.0);
    CHECK(deygout(field.path, KnifeEdgeForm::itu, false).loss_db == Approx(main + second));
    // T_c of ITU-R P.526-15 section 4.3, worked out step by step.
    const double p = 80.0 * std::sqrt(12.0 / (8.0 * 4.0) / 1000.0);
    const double q = 60.0 * std::sqrt(12.0 / (7.0 * 5.0) / 1000.0);
    const double alpha = std::atan(std::sqrt(3.0 * 12.0 / (4.0 * 5.0)));
    const double tc =
        (12.0 - 20.0 * std::log10(2.0 / (1.0 - alpha / 3.14159265358979))) * std::pow(q / p, 2 * p);
    CHECK(double_edge_correction_db(80.0, 60.0, 4.0, 3.0, 5.0, 2.0) == Approx(tc));
    CHECK(deygout(field.path, KnifeEdgeForm::itu, true).loss_db ==
          Approx(main + std::max(0.0, second - tc)));
    // Bullington: rays 20 m/km up from the transmitter over the first edge and 12 m/km from the
    // receiver over the second (60 m in 5 km) or 10 m/km over the first (80 m in 8 km) cross at
    // 12 * 12 / 32 = 4.5 km, 90 m above the antennas.
    CHECK(bullington(field.path, KnifeEdgeForm::itu, false).loss_db == Approx(j(90.0, 4.5, 7.5)));
    // Cascaded: J(main) + T (J(receiver side) + C), P.526-10 section 4.4.2.
    CHECK(cascaded_edges(field.path, KnifeEdgeForm::itu).loss_db ==
          Approx(main + (1.0 - std::exp(-main / 6.0)) * (second + 10.0 + 0.04 * 12.0)));
}

TEST_CASE("line of sight ends at 4.12 (sqrt h1 + sqrt h2) km over smooth earth", "[edges]") {
    // The radio horizon of ITU-R P.526 for k = 4/3.
    const auto clear_at = [](double length_km) {
        std::vector<double> distance_km, height_m;
        for (int i = 0; i <= 2000; ++i) {
            distance_km.push_back(length_km * i / 2000);
            height_m.push_back(0.0);
        }
        const ObstaclePath path{
            distance_km, height_m, 30.0, 10.0, 2.0, effective_earth_radius_km(standard_k_factor)};
        return line_of_sight(path).clear;
    };
    const double horizon_km = 4.12 * (std::sqrt(30.0) + std::sqrt(10.0));
    CHECK(clear_at(horizon_km * 0.998));
    CHECK_FALSE(clear_at(horizon_km * 1.002));
}

TEST_CASE("a clear path with room loses nothing, and touching ground loses 6 dB", "[edges]") {
    const EdgeField free(10.0, 10, 200.0, {{5, 0.0}});
    CHECK(line_of_sight(free.path).clear);
    CHECK(line_of_sight(free.path).clearance_f1 > 0.6);
    for (const auto& loss : {single_edge(free.path, KnifeEdgeForm::itu),
                             bullington(free.path, KnifeEdgeForm::itu, true),
                             epstein_peterson(free.path, KnifeEdgeForm::itu),
                             deygout(free.path, KnifeEdgeForm::itu, true),
                             cascaded_edges(free.path, KnifeEdgeForm::itu)}) {
        CHECK(loss.loss_db == 0.0);
        CHECK(loss.edges.empty());
    }
    const EdgeField touching(10.0, 10, 20.0, {{5, 20.0}});
    CHECK_FALSE(line_of_sight(touching.path).clear);
    CHECK(single_edge(touching.path, KnifeEdgeForm::exact).loss_db ==
          Approx(20.0 * std::log10(2.0)));
}

TEST_CASE("neighbouring samples on one hilltop count as one obstacle", "[edges]") {
    // A round hill sampled every 100 m: Epstein-Peterson must not charge for each sample.
    std::vector<double> distance_km, height_m;
    for (int i = 0; i <= 100; ++i) {
        distance_km.push_back(0.1 * i);
        const double off = (i - 50) / 8.0;
        height_m.push_back(120.0 * std::exp(-off * off));
    }
    const ObstaclePath path{distance_km, height_m, 10.0, 10.0, 2.0, 1e12};
    const Diffraction loss = epstein_peterson(path, KnifeEdgeForm::itu);
    CHECK(loss.edges.size() == 1);
    CHECK(loss.edges.front().index == 50);
}

TEST_CASE("losses are the same from either end", "[edges]") {
    std::vector<double> distance_km, height_m;
    unsigned state = 12345;
    for (int i = 0; i <= 200; ++i) {
        state = state * 1664525U + 1013904223U;
        distance_km.push_back(0.1 * i);
        height_m.push_back(static_cast<double>(state >> 24) / 2.0);
    }
    std::vector<double> back_m(height_m.rbegin(), height_m.rend());
    const double radius_km = effective_earth_radius_km(standard_k_factor);
    const ObstaclePath there{distance_km, height_m, 90.0, 150.0, 2.0, radius_km};
    const ObstaclePath back{distance_km, back_m, 150.0, 90.0, 2.0, radius_km};
    using Construction = std::function<Diffraction(const ObstaclePath&)>;
    const std::vector<Construction> constructions{
        [](const ObstaclePath& p) { return single_edge(p, KnifeEdgeForm::itu); },
        [](const ObstaclePath& p) { return bullington(p, KnifeEdgeForm::itu, true); },
        [](const ObstaclePath& p) { return epstein_peterson(p, KnifeEdgeForm::itu); },
        [](const ObstaclePath& p) { return deygout(p, KnifeEdgeForm::itu, true); },
        [](const ObstaclePath& p) { return cascaded_edges(p, KnifeEdgeForm::itu); }};
    for (const Construction& loss : constructions) {
        CHECK(loss(there).loss_db > 6.0);
        CHECK(loss(there).loss_db == Approx(loss(back).loss_db).margin(1e-9));
    }
}
