#include "earshot/base/error.hpp"
#include "earshot/propagation/path_loss.hpp"
#include "propagation/irregular_terrain.hpp"
#include "propagation/irregular_terrain/attenuation.hpp"
#include "propagation/irregular_terrain/geometry.hpp"
#include "propagation/irregular_terrain/variability.hpp"
#include "support.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <limits>
#include <numbers>
#include <sstream>
#include <string>
#include <vector>

using namespace earshot;
using namespace earshot::propagation;

namespace {

struct Example {
    std::vector<double> distance_km, ground_m;
    AntennaHeights heights;
    irregular::Inputs inputs;
    double loss_db = 0.0;
};

std::vector<std::vector<double>> rows_of(const std::string& name, bool with_head) {
    std::ifstream in(std::filesystem::path(EARSHOT_SOURCE_DIR) / "tests/reference/itm" / name);
    REQUIRE(in);
    std::vector<std::vector<double>> rows;
    std::string line;
    if (with_head) {
        REQUIRE(std::getline(in, line));
    }
    while (std::getline(in, line)) {
        std::istringstream fields(line);
        std::vector<double> row;
        for (std::string field; std::getline(fields, field, ',');) {
            row.push_back(std::stod(field));
        }
        rows.push_back(std::move(row));
    }
    return rows;
}

std::vector<Example> ntia_examples() {
    const auto runs = rows_of("p2p.csv", true);
    const auto profiles = rows_of("pfls.csv", false);
    REQUIRE(runs.size() == 5);
    REQUIRE(profiles.size() == runs.size());
    std::vector<Example> examples;
    for (std::size_t k = 0; k < runs.size(); ++k) {
        const auto& run = runs[k];
        REQUIRE(run.size() == 13);
        Example example;
        example.ground_m.assign(profiles[k].begin() + 2, profiles[k].end());
        REQUIRE(example.ground_m.size() == static_cast<std::size_t>(profiles[k][0]) + 1);
        for (std::size_t i = 0; i < example.ground_m.size(); ++i) {
            example.distance_km.push_back(static_cast<double>(i) * profiles[k][1] / 1000.0);
        }
        example.heights = {run[0], run[1]};
        example.inputs.ground = {run[2], run[3]};
        example.inputs.sea_level_refractivity = run[4];
        example.inputs.frequency_mhz = run[5];
        example.inputs.polarization =
            run[6] == 1.0 ? Polarization::vertical : Polarization::horizontal;
        example.inputs.climate = static_cast<irregular::Climate>(run[7]);
        example.inputs.time_percent = run[8];
        example.inputs.location_percent = run[9];
        example.inputs.situation_percent = run[10];
        REQUIRE(run[11] == 12.0); // mobile, no spread among places
        example.loss_db = run[12];
        examples.push_back(std::move(example));
    }
    return examples;
}

irregular::Result predict(const Example& example) {
    return irregular::predict(example.distance_km, example.ground_m, example.heights,
                              example.inputs);
}

/// Level ground, points every `step_m`, the last piece shorter if need be.
Example flat(double length_m, double step_m, double frequency_mhz, double height_m) {
    Example example;
    for (double d = 0.0; d < length_m - 1e-6; d += step_m) {
        example.distance_km.push_back(d / 1000.0);
    }
    example.distance_km.push_back(length_m / 1000.0);
    example.ground_m.assign(example.distance_km.size(), 200.0);
    example.heights = {height_m, height_m};
    example.inputs.frequency_mhz = frequency_mhz;
    example.inputs.sea_level_refractivity = 325.0;
    return example;
}

/// Invented hills whose points lie unevenly.
Example hilly(double length_km) {
    Example example;
    double d = 0.0;
    for (int i = 0; d < length_km - 0.2; ++i) {
        example.distance_km.push_back(d);
        d += 0.05 + 0.03 * std::sin(7.0 * i);
    }
    example.distance_km.push_back(length_km);
    for (const double at : example.distance_km) {
        example.ground_m.push_back(300.0 + 90.0 * std::sin(at) + 25.0 * std::sin(5.3 * at) +
                                   4.0 * std::sin(31.0 * at));
    }
    example.heights = {12.0, 1.5};
    example.inputs.frequency_mhz = 146.0;
    example.inputs.sea_level_refractivity = 325.0;
    return example;
}

Example reversed(Example example) {
    const double length_km = example.distance_km.back();
    std::reverse(example.distance_km.begin(), example.distance_km.end());
    for (double& d : example.distance_km) {
        d = length_km - d;
    }
    std::reverse(example.ground_m.begin(), example.ground_m.end());
    std::swap(example.heights.transmitter_m, example.heights.receiver_m);
    return example;
}

} // namespace

TEST_CASE("irregular terrain: NTIA's examples are reproduced", "[irregular]") {
    // tests/reference/itm/README.md.
    double worst_db = 0.0;
    for (const Example& example : ntia_examples()) {
        const irregular::Result result = predict(example);
        INFO(example.inputs.frequency_mhz << " MHz over " << example.distance_km.back() << " km by "
                                          << irregular::mechanism_name(result.mechanism));
        CHECK(std::abs(result.loss_db - example.loss_db) <= 0.01);
        worst_db = std::max(worst_db, std::abs(result.loss_db - example.loss_db));
        if (std::getenv("EARSHOT_PRINT_DEVIATIONS") != nullptr) {
            WARN(result.loss_db << " dB, " << result.loss_db - example.loss_db << " off, by "
                                << irregular::mechanism_name(result.mechanism) << ", A_ref "
                                << result.reference_db << ", delta h "
                                << result.geometry.irregularity_m);
        }
    }
    CHECK(worst_db <= 0.01);
}

TEST_CASE("irregular terrain: the same both ways", "[irregular]") {
    for (const double length_km : {1.3, 4.0, 9.7, 22.0, 60.0}) {
        const Example example = hilly(length_km);
        INFO(length_km << " km");
        CHECK(predict(reversed(example)).loss_db == Approx(predict(example).loss_db).margin(1e-6));
    }
    for (const Example& example : ntia_examples()) {
        CHECK(predict(reversed(example)).loss_db == Approx(predict(example).loss_db).margin(1e-6));
    }
}

TEST_CASE("irregular terrain: over level ground the loss grows with distance", "[irregular]") {
    for (const double frequency_mhz : {30.0, 146.0, 446.0, 900.0}) {
        double before_db = 0.0;
        for (double length_m = 1000.0; length_m < 60e3; length_m += 500.0) {
            const irregular::Result result = predict(flat(length_m, 50.0, frequency_mhz, 1.5));
            INFO(frequency_mhz << " MHz, " << length_m << " m");
            CHECK(result.loss_db > before_db);
            before_db = result.loss_db;
        }
    }
}

TEST_CASE("irregular terrain: points closer together change nothing on level ground",
          "[irregular]") {
    for (const double length_m : {2000.0, 7000.0, 25e3}) {
        const double coarse_db = predict(flat(length_m, 100.0, 146.0, 1.5)).loss_db;
        INFO(length_m << " m");
        // The horizon is a point of the profile, so it moves by half of a step at most.
        CHECK(predict(flat(length_m, 10.0, 146.0, 1.5)).loss_db == Approx(coarse_db).margin(0.05));
        // And so with steps of which the last is cut short.
        CHECK(predict(flat(length_m, 37.0, 146.0, 1.5)).loss_db == Approx(coarse_db).margin(0.05));
    }
}

TEST_CASE("irregular terrain: ground between uneven points is straight", "[irregular]") {
    // Points put on the straight pieces of an even profile do not change the ground.
    Example even = ntia_examples()[2];
    Example more = even;
    for (const std::size_t at : {200U, 91U, 17U}) {
        const auto i = static_cast<std::ptrdiff_t>(at);
        more.distance_km.insert(more.distance_km.begin() + i,
                                0.3 * even.distance_km[at - 1] + 0.7 * even.distance_km[at]);
        more.ground_m.insert(more.ground_m.begin() + i,
                             0.3 * even.ground_m[at - 1] + 0.7 * even.ground_m[at]);
    }
    CHECK(predict(more).loss_db == Approx(predict(even).loss_db).margin(1e-6));
}

TEST_CASE("irregular terrain: over level ground close by, it is the plane earth's loss",
          "[irregular]") {
    // 40 log d - 20 log (h1 h2), d and h in m (plane earth, K. Bullington, Proc. IRE 35, 1947): for
    // grazing rays that the ground turns round wholly, as it does for horizontal polarization.
    // The model lays a smooth curve through three distances, hence the room.
    for (const double length_m : {2000.0, 3000.0, 5000.0}) {
        Example example = flat(length_m, 50.0, 146.0, 5.0);
        example.inputs.polarization = Polarization::horizontal;
        const double plane_db = 40.0 * std::log10(length_m) - 20.0 * std::log10(25.0);
        INFO(length_m << " m");
        CHECK(predict(example).loss_db == Approx(plane_db).margin(1.5));
    }
}

TEST_CASE("irregular terrain: beyond the horizon of level ground, it is the smooth sphere's loss",
          "[irregular]") {
    // First term of the residue series (ITU-R P.526-15 section 3.1.1.2): the same physics by other
    // formulas, for low antennas as well as masts. The model knows the ground by the size of one
    // number, which is coarse for vertical waves close to it.
    for (const Polarization polarization : {Polarization::horizontal, Polarization::vertical}) {
        for (const double frequency_mhz : {50.0, 146.0, 446.0, 2000.0}) {
            for (const double height_m : {1.5, 10.0, 60.0}) {
                Example example = flat(80e3, 50.0, frequency_mhz, height_m);
                const irregular::Geometry geometry =
                    irregular::analyse(example.distance_km, example.ground_m, example.heights,
                                       example.inputs.sea_level_refractivity);
                const irregular::Wave wave =
                    irregular::wave_over(irregular::average_ground, frequency_mhz, polarization);
                const FirstTerm term = spherical_earth_first_term(
                    80.0, height_m, height_m, 0.001 / geometry.curvature_per_m, frequency_mhz,
                    irregular::average_ground, polarization);
                INFO(frequency_mhz
                     << " MHz, " << height_m << " m, "
                     << (polarization == Polarization::vertical ? "vertical" : "horizontal"));
                const bool coarse = polarization == Polarization::vertical && height_m < 5.0;
                CHECK(irregular::diffraction_db(geometry, wave, 80e3) ==
                      Approx(term.loss_db).margin(coarse ? 5.0 : 2.0));
            }
        }
    }
}

TEST_CASE("irregular terrain: the pieces of the profile's geometry", "[irregular]") {
    SECTION("a straight line is its own fit") {
        const std::vector<double> values{3.0, 5.0, 7.0, 9.0};
        const irregular::Line line = irregular::fitted_line(values);
        CHECK(line.start == Approx(3.0));
        CHECK(line.step == Approx(2.0));
    }
    SECTION("a wave's interdecile range is 2 sin(0.4 pi) of its height") {
        // A share of 0.1 of a period lies above sin(pi / 2 - 0.1 pi). Whole periods of a cosine
        // have a level line for their fit. Over 200 km the range shown is 1 - 0.8 exp(-200 / 50) of
        // the whole (equation (3.9)).
        std::vector<double> distance_m;
        std::vector<double> ground_m;
        for (int i = 0; i <= 40000; ++i) {
            distance_m.push_back(5.0 * i);
            ground_m.push_back(100.0 * std::cos(2.0 * std::numbers::pi * i / 4000.0));
        }
        const double shown_m = irregular::irregularity_m(distance_m, ground_m, 5.0, 0.0, 200e3) *
                               (1.0 - 0.8 * std::exp(-4.0));
        CHECK(shown_m == Approx(200.0 * std::sin(0.4 * std::numbers::pi)).epsilon(0.03));
    }
    SECTION("one ridge is the horizon of both ends") {
        // 100 m of ridge above antennas at 10 m: 90 m over 4 km and over 6 km, less half the
        // curvature times the distance.
        const std::vector<double> distance_km{0.0, 4.0, 10.0};
        const std::vector<double> ground_m{0.0, 100.0, 0.0};
        const irregular::Geometry found =
            irregular::analyse(distance_km, ground_m, {10.0, 10.0}, 301.0);
        CHECK(found.ends[0].horizon_m == Approx(4000.0));
        CHECK(found.ends[1].horizon_m == Approx(6000.0));
        CHECK(found.ends[0].horizon_elevation_rad ==
              Approx(90.0 / 4000.0 - found.curvature_per_m / 2.0 * 4000.0));
        CHECK(found.ends[1].horizon_elevation_rad ==
              Approx(90.0 / 6000.0 - found.curvature_per_m / 2.0 * 6000.0));
    }
    SECTION("301 N-units at sea level are the 4/3 earth") {
        // NTIA Report 82-100: 301 N-units go with an effective radius of 4/3.
        CHECK(0.001 / irregular::earth_curvature_per_m(301.0) ==
              Approx(6371.0 * 4.0 / 3.0).epsilon(0.002));
    }
}

TEST_CASE("irregular terrain: a knife edge is that of diffraction theory", "[irregular]") {
    // Half of the field at the edge's top; far in the shadow 20 log (v pi sqrt 2) (ITU-R P.526-15
    // section 4.1).
    CHECK(irregular::knife_edge_db(0.0) == Approx(6.02));
    CHECK(irregular::knife_edge_db(100.0) ==
          Approx(20.0 * std::log10(10.0 * std::numbers::pi * std::numbers::sqrt2)).margin(0.01));
    CHECK(irregular::knife_edge_db(2.4001 * 2.4001) ==
          Approx(irregular::knife_edge_db(2.3999 * 2.3999)).margin(0.02));
}

TEST_CASE("irregular terrain: rarer shares cost more, and each mode joins them its way",
          "[irregular]") {
    Example example = hilly(40.0);
    const double median_db = predict(example).loss_db;
    example.inputs.time_percent = 10.0;
    const double seldom_db = predict(example).loss_db;
    CHECK(seldom_db < median_db);
    example.inputs.time_percent = 90.0;
    CHECK(predict(example).loss_db > median_db);
    example.inputs.time_percent = 50.0;
    example.inputs.situation_percent = 90.0;
    const double cautious_db = predict(example).loss_db;
    // 5 + 3 exp(-d_e / 100 km) dB, times the deviate of 90 %, 1.2816.
    CHECK(cautious_db - median_db > 5.0 * 1.2816);
    CHECK(cautious_db - median_db < 8.0 * 1.2816);
    example.inputs.situation_percent = 50.0;
    example.inputs.places_vary = true;
    for (const auto mode :
         {irregular::Variability::single_message, irregular::Variability::individual,
          irregular::Variability::mobile, irregular::Variability::broadcast}) {
        example.inputs.variability = mode;
        CHECK(predict(example).loss_db == Approx(median_db).margin(1e-9));
    }
    example.inputs.time_percent = 10.0;
    example.inputs.variability = irregular::Variability::single_message;
    CHECK(predict(example).loss_db == Approx(median_db).margin(1e-9)); // situations alone count
    example.inputs.variability = irregular::Variability::broadcast;
    CHECK(predict(example).loss_db == Approx(seldom_db).margin(1e-9)); // half of the places
    example.inputs.variability = irregular::Variability::mobile;
    CHECK(predict(example).loss_db < seldom_db); // time and places are one
}

TEST_CASE("irregular terrain: what lies outside its limits is told or refused", "[irregular]") {
    Example example = flat(5000.0, 50.0, 146.0, 1.5);
    CHECK(predict(example).warnings.empty());

    Example low = example;
    low.heights.receiver_m = 0.2;
    const irregular::Result taken = predict(low);
    REQUIRE(taken.warnings.size() == 2);
    CHECK_THAT(taken.warnings.back(), Catch::Contains("counts as one at 0.5 m"));
    low.heights.receiver_m = 0.5;
    CHECK(predict(low).loss_db == taken.loss_db);

    CHECK_THAT(predict(flat(300.0, 50.0, 146.0, 1.5)).warnings.front(),
               Catch::Contains("path length of 0.3 km"));

    Example steep = example;
    steep.ground_m[2] = 300.0;
    CHECK_THAT(predict(steep).warnings.front(), Catch::Contains("mrad from level"));

    const auto refused = [](Example bad, Fault fault) {
        return earshot::testing::message_of(fault, [&] { (void)predict(bad); });
    };
    Example bad = example;
    bad.inputs.frequency_mhz = 15.0;
    CHECK(refused(bad, Fault::usage) == "frequency is 15 MHz: give a value from 20 to 20000 MHz");
    bad = example;
    bad.ground_m[4] = std::numeric_limits<double>::quiet_NaN();
    CHECK_THAT(refused(bad, Fault::input), Catch::Contains("not a number"));
    bad = example;
    std::swap(bad.distance_km[3], bad.distance_km[4]);
    CHECK_THAT(refused(bad, Fault::input), Catch::Contains("out of order"));
    bad = example;
    bad.inputs.sea_level_refractivity = 600.0;
    CHECK_THAT(refused(bad, Fault::usage), Catch::Contains("450 at most"));
    bad = example;
    bad.heights.transmitter_m = -1.0;
    CHECK_THAT(refused(bad, Fault::usage), Catch::Contains("transmitter height is -1 m"));
}

TEST_CASE("irregular terrain: shortest and steepest paths have a loss", "[irregular]") {
    // A map asks for cells beside the station and on cliffs.
    for (const double length_m : {1.0, 30.0, 200.0}) {
        for (const double cliff_m : {0.0, 400.0}) {
            Example example = flat(length_m, 30.0, 146.0, 1.5);
            example.ground_m.back() += cliff_m;
            INFO(length_m << " m, cliff of " << cliff_m << " m");
            const irregular::Result result = predict(example);
            CHECK(std::isfinite(result.loss_db));
            CHECK(result.loss_db >= result.free_space_db - 1.0);
        }
    }
}

TEST_CASE("irregular terrain as a method: bare ground, own woods apart", "[irregular][method]") {
    const Example example = hilly(8.0);
    terrain::Profile profile;
    profile.distance_km = example.distance_km;
    profile.ground_m = example.ground_m;
    profile.cover_m.assign(example.ground_m.size(), 0.0);
    Conditions conditions;
    conditions.method = Method::irregular_terrain;
    const PathLoss bare = path_loss(profile, example.heights, conditions);
    CHECK(bare.basic_loss_db == Approx(predict(example).loss_db).margin(1e-9));
    CHECK(bare.basic_loss_db == Approx(bare.free_space_db + bare.diffraction_db));
    REQUIRE(bare.irregular_terrain);
    const std::size_t told = bare.irregular_terrain->warnings.size();
    CHECK(reciprocal(conditions));

    profile.cover_m[60] = 20.0;
    const PathLoss covered = path_loss(profile, example.heights, conditions);
    CHECK(covered.basic_loss_db == bare.basic_loss_db);
    REQUIRE(covered.irregular_terrain->warnings.size() == told + 1);
    CHECK_THAT(covered.irregular_terrain->warnings.back(), Catch::Contains("ground cover"));

    profile.cover_m[60] = 0.0;
    profile.woodland.assign(profile.size(), 0);
    for (std::size_t i = profile.size() - 5; i < profile.size(); ++i) {
        profile.cover_m[i] = 15.0;
        profile.woodland[i] = 1;
    }
    const PathLoss wooded = path_loss(profile, example.heights, conditions);
    CHECK(wooded.basic_loss_db == bare.basic_loss_db);
    CHECK(wooded.rx_woodland_db > 1.0);
    CHECK(wooded.irregular_terrain->warnings.size() == told);
    const PathLoss back = path_loss(terrain::reversed(profile), {1.5, 12.0}, conditions);
    CHECK(back.total_db() == Approx(wooded.total_db()).margin(1e-6));

    conditions.location_percent = 90.0;
    CHECK(path_loss(profile, example.heights, conditions).basic_loss_db > bare.basic_loss_db + 5.0);
    CHECK(reciprocal(conditions));
}
