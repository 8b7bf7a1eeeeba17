#include "propagation/building_entry.hpp"
#include "propagation/p1812/batch.hpp"
#include "smooth_terms.hpp"

#include <catch2/catch.hpp>
#include <hwy/targets.h>

#include <cmath>
#include <random>
#include <vector>

using namespace earshot::propagation;

namespace {

struct Case {
    P1812Row row;
    double loss_db;
};

constexpr double step_km = 0.15;

/// Paths over invented ground, with the loss that p1812_loss() gives each, over a smooth earth
/// taken at its peaks. That function is held to the ITU-R reference set in
/// test_p1812_reference.cpp.
std::vector<Case> cases(P1812Inputs inputs, AntennaHeights heights) {
    std::mt19937 random(5);
    std::normal_distribution<double> step(0.0, 6.0);
    std::vector<double> distance_km{0.0};
    std::vector<double> ground_m{200.0};
    std::vector<Case> list;
    const EffectiveRadii radii = effective_radii(inputs.refractivity.delta_n);
    for (int i = 1; i < 260; ++i) {
        distance_km.push_back(i * step_km);
        ground_m.push_back(ground_m.back() + step(random) + (200.0 - ground_m.back()) * 0.02);
        if (i < 4) {
            continue;
        }
        inputs.path_centre_latitude_deg = -80.0 + i * 0.6;
        const PathGeometry g = analyse_path({distance_km, ground_m, {}, {}}, heights, radii);
        P1812Row row;
        row.distance_km = g.distance_km;
        row.first_point_km = distance_km[1];
        row.last_point_km = distance_km[distance_km.size() - 2];
        row.centre_latitude_deg = inputs.path_centre_latitude_deg;
        row.receiver_asl_m = g.receiver_asl_m;
        row.transmitter_horizon_km = g.transmitter_horizon_km;
        row.receiver_horizon_km = g.receiver_horizon_km;
        row.transmitter_slope = 1000.0 * std::tan(g.transmitter_angle_mrad / 1000.0);
        row.receiver_slope = 1000.0 * std::tan(g.receiver_angle_mrad / 1000.0);
        row.smooth_transmitter_m = g.smooth_transmitter_m;
        row.smooth_receiver_m = g.smooth_receiver_m;
        row.diffraction_transmitter_m = g.diffraction_transmitter_m;
        row.diffraction_receiver_m = g.diffraction_receiver_m;
        row.roughness_m = g.roughness_m;
        row.transmitter_arrival = g.transmitter_arrival;
        row.receiver_arrival = g.receiver_arrival;
        const auto finite = [](double value) { return std::isfinite(value) ? value : 0.0; };
        row.median_transmitter_slope = g.actual_median.transmitter_slope;
        row.median_receiver_slope = finite(g.actual_median.receiver_slope);
        row.median_scaled_nu = finite(g.actual_median.scaled_nu_max);
        row.beta_transmitter_slope = g.actual_beta.transmitter_slope;
        row.beta_receiver_slope = finite(g.actual_beta.receiver_slope);
        row.beta_scaled_nu = finite(g.actual_beta.scaled_nu_max);
        list.push_back({row, earshot::test::loss_with_smooth_terms_db(g, inputs, distance_km)});
    }
    return list;
}

/// Largest difference from the scalar model, dB.
double worst_difference_db(const P1812BatchModel& model, const std::vector<Case>& list) {
    P1812Batch batch;
    double worst = 0.0;
    for (std::size_t next = 0; next < list.size();) {
        batch.clear();
        const std::size_t first = next;
        while (next < list.size() && !batch.full()) {
            batch.push(list[next++].row);
        }
        model.predict(batch);
        for (std::size_t i = 0; i < batch.size(); ++i) {
            const double difference = std::abs(batch.loss_db[i] - list[first + i].loss_db);
            worst = difference > worst || std::isnan(difference) ? difference : worst;
        }
    }
    return worst;
}

} // namespace

TEST_CASE("batches agree with the scalar model on every instruction set", "[batch]") {
    P1812Inputs inputs;
    inputs.frequency_mhz = GENERATE(40.0, 146.0, 446.0, 2400.0);
    inputs.time_percent = GENERATE(50.0, 20.0, 1.0);
    inputs.location_percent = GENERATE(50.0, 90.0);
    inputs.polarization = GENERATE(Polarization::vertical, Polarization::horizontal);
    inputs.short_range = GENERATE(false, true);
    if (GENERATE(false, true)) {
        inputs.building_entry = building_entry(BuildingType::traditional, inputs.frequency_mhz);
    }
    const AntennaHeights heights{GENERATE(1.5, 40.0, 400.0), 1.5};
    CAPTURE(inputs.frequency_mhz, inputs.time_percent, heights.transmitter_m);
    const std::vector<Case> list = cases(inputs, heights);
    const P1812BatchModel model(inputs, 200.0 + heights.transmitter_m, heights);
    // From the widest the processor has down to the portable one, whose answer is the same to
    // 1e-4 dB, and far closer.
    const auto usable = hwy::SupportedTargets();
    std::size_t instruction_sets = 0;
    for (auto rest = usable; rest != 0; rest &= rest - 1) {
        hwy::SetSupportedTargetsForTest(rest & -rest);
        hwy::GetChosenTarget().Update(rest & -rest);
        CAPTURE(vector_instruction_set());
        CHECK(worst_difference_db(model, list) < 1e-6);
        ++instruction_sets;
    }
    hwy::SetSupportedTargetsForTest(0);
    hwy::GetChosenTarget().Update(hwy::SupportedTargets());
    CHECK(instruction_sets >= 2);
}

// Of two neighbouring radials one may be blocked and the other clear: then the edge between their
// horizon rays need not lie between the antennas, and counts as one that grazes.
TEST_CASE("a batch takes an edge outside of the path as grazing", "[batch]") {
    P1812Inputs inputs;
    inputs.frequency_mhz = 146.0;
    const AntennaHeights heights{40.0, 1.5};
    P1812Row outside = cases(inputs, heights)[100].row;
    const double direct =
        (outside.receiver_asl_m - 200.0 - heights.transmitter_m) / outside.distance_km;
    outside.median_transmitter_slope = direct + 0.01;
    outside.median_receiver_slope = -direct - 0.005;
    P1812Row grazing = outside;
    grazing.median_transmitter_slope = direct - 1e-9;
    grazing.median_scaled_nu = 0.0;
    P1812Batch batch;
    batch.push(outside);
    batch.push(grazing);
    P1812BatchModel(inputs, 200.0 + heights.transmitter_m, heights).predict(batch);
    CHECK(batch.loss_db[0] == Approx(batch.loss_db[1]).margin(1e-6));
}

// Which thread predicts which part of a map is chance: a loss may not hang on what is left in the
// lanes that a batch does not fill.
TEST_CASE("the losses of a batch do not hang on the batch before", "[batch]") {
    P1812Inputs inputs;
    inputs.frequency_mhz = 146.0;
    const AntennaHeights heights{40.0, 1.5};
    const std::vector<Case> list = cases(inputs, heights);
    const P1812BatchModel model(inputs, 200.0 + heights.transmitter_m, heights);
    std::size_t differ = 0;
    for (std::size_t far = 0; far < list.size(); far += 5) {
        P1812Batch used;
        while (!used.full()) {
            used.push(list[far].row);
        }
        model.predict(used);
        for (const Case& each : list) {
            P1812Batch fresh;
            used.clear();
            for (P1812Batch* batch : {&fresh, &used}) {
                batch->push(each.row);
                model.predict(*batch);
            }
            differ += fresh.loss_db[0] != used.loss_db[0] ? 1U : 0U;
        }
    }
    CHECK(differ == 0);
}
