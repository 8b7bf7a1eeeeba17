// Every value of the ITU-R Study Group 3 validation set for Recommendation ITU-R P.1812-8
// (tests/reference/p1812/README.md), run by run and line by line.

#include "propagation/p1812.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <functional>
#include <map>
#include <sstream>
#include <string>
#include <vector>

using namespace earshot;
using namespace earshot::propagation;

namespace {

struct LoadedProfile {
    std::vector<double> distance_km, ground_m, cover_m;
    std::vector<Zone> zone;
    [[nodiscard]] PathView path() const { return {distance_km, ground_m, cover_m, zone}; }
};

std::vector<std::string> split(const std::string& line) {
    std::vector<std::string> fields;
    std::istringstream in(line);
    for (std::string field; std::getline(in, field, ',');) {
        while (!field.empty() && std::isspace(static_cast<unsigned char>(field.back())) != 0) {
            field.pop_back();
        }
        fields.push_back(field);
    }
    return fields;
}

double number(const std::string& text) {
    std::size_t used = 0;
    const double value = std::stod(text, &used);
    REQUIRE(used == text.size());
    return value;
}

LoadedProfile load_profile(const std::filesystem::path& file) {
    std::ifstream in(file);
    REQUIRE(in);
    LoadedProfile profile;
    std::string line;
    while (std::getline(in, line) && line.rfind("{Begin of Profile}", 0) != 0) {
    }
    REQUIRE(std::getline(in, line));
    const auto count = static_cast<std::size_t>(number(split(line).at(1)));
    while (std::getline(in, line) && line.rfind("{End of Profile}", 0) != 0) {
        const auto fields = split(line);
        REQUIRE(fields.size() >= 5);
        profile.distance_km.push_back(number(fields[0]));
        profile.ground_m.push_back(number(fields[1]));
        profile.cover_m.push_back(number(fields[3]));
        profile.zone.push_back(zone_from_code(static_cast<int>(number(fields[4]))));
    }
    REQUIRE(profile.distance_km.size() == count);
    return profile;
}

// A line of a result file: its name and reference joined, and its value.
struct Row {
    std::string name;
    double value = 0.0;
};

struct Run {
    std::map<std::string, double> inputs;
    std::vector<Row> values;
};

Run load_run(const std::filesystem::path& file) {
    std::ifstream in(file);
    REQUIRE(in);
    Run run;
    std::string line;
    REQUIRE(std::getline(in, line));
    bool reading_inputs = true;
    while (std::getline(in, line)) {
        if (line.empty() || line[0] == ',') {
            reading_inputs = false;
            continue;
        }
        auto fields = split(line);
        // The name of the last line, "Ep (dBuV/m) w.r.t. Ptx, Gtx, Grx", holds commas itself.
        if (line.rfind("Ep (dBuV/m) w.r.t.", 0) == 0) {
            run.values.push_back({"Ep w.r.t. transmitter", number(fields.back())});
            continue;
        }
        REQUIRE(fields.size() == 4);
        if (reading_inputs) {
            run.inputs[fields[0]] = number(fields[3]);
        } else {
            run.values.push_back({fields[0] + "|" + fields[1], number(fields[3])});
        }
    }
    return run;
}

enum class Kind { decibel, relative };
struct Mapping {
    Kind kind;
    std::function<double(const P1812Result&)> value;
};

const std::map<std::string, Mapping>& mappings() {
    using R = P1812Result;
    constexpr Kind db = Kind::decibel;
    constexpr Kind rel = Kind::relative;
    static const std::map<std::string, Mapping> table{
        {"d (km)|", {rel, [](const R& r) { return r.geometry.distance_km; }}},
        {"dlt (km)|Eq (78)", {rel, [](const R& r) { return r.geometry.transmitter_horizon_km; }}},
        {"dlr (km)|Eq (81a)", {rel, [](const R& r) { return r.geometry.receiver_horizon_km; }}},
        {"th_t (mrad)|Eqs (76-78)",
         {rel, [](const R& r) { return r.geometry.transmitter_angle_mrad; }}},
        {"th_r (mrad)|Eqs (79-81)",
         {rel, [](const R& r) { return r.geometry.receiver_angle_mrad; }}},
        {"th (mrad)|Eq (82)", {rel, [](const R& r) { return r.geometry.angular_distance_mrad; }}},
        {"hts (m)|", {rel, [](const R& r) { return r.geometry.transmitter_asl_m; }}},
        {"hrs (m)|", {rel, [](const R& r) { return r.geometry.receiver_asl_m; }}},
        {"htc (m)|Table 5", {rel, [](const R& r) { return r.geometry.transmitter_asl_m; }}},
        {"hrc (m)|Table 5", {rel, [](const R& r) { return r.geometry.receiver_asl_m; }}},
        {"w|Table 5", {rel, [](const R& r) { return r.geometry.sea_fraction; }}},
        {"dtm (km)|Sec 3.6", {rel, [](const R& r) { return r.geometry.longest_land_km; }}},
        {"dlm (km)|Sec 3.6", {rel, [](const R& r) { return r.geometry.longest_inland_km; }}},
        {"phi (deg)|Eq (4)", {rel, [](const R& r) { return r.inputs.path_centre_latitude_deg; }}},
        {"b0 (%)|Eq (5)", {rel, [](const R& r) { return r.beta0_percent; }}},
        {"ae (km)|Eq (7a)", {rel, [](const R& r) { return r.geometry.radii.median_km; }}},
        {"hst (m)|Eq (85)", {rel, [](const R& r) { return r.geometry.fitted_transmitter_m; }}},
        {"hsr (m)|Eq (86)", {rel, [](const R& r) { return r.geometry.fitted_receiver_m; }}},
        {"hst (m)|Eq (90a)", {rel, [](const R& r) { return r.geometry.smooth_transmitter_m; }}},
        {"hsr (m)|Eq (90b)", {rel, [](const R& r) { return r.geometry.smooth_receiver_m; }}},
        {"hstd (m)|Eq (89)",
         {rel, [](const R& r) { return r.geometry.diffraction_transmitter_m; }}},
        {"hsrd (m)|Eq (89)", {rel, [](const R& r) { return r.geometry.diffraction_receiver_m; }}},
        {"htc (m)|Eq (37a)",
         {rel, [](const R& r) { return r.geometry.diffraction_height_transmitter_m(); }}},
        {"hrc (m)|Eq (37b)",
         {rel, [](const R& r) { return r.geometry.diffraction_height_receiver_m(); }}},
        {"hte (m)|Eq (92a)",
         {rel, [](const R& r) { return r.geometry.ducting_height_transmitter_m(); }}},
        {"hre (m)|Eq (92b)",
         {rel, [](const R& r) { return r.geometry.ducting_height_receiver_m(); }}},
        {"hm (m)|Eq (93)", {rel, [](const R& r) { return r.geometry.roughness_m; }}},
        {"Fi|Eq (40)", {rel, [](const R& r) { return r.time_interpolation; }}},
        {"Fj|Eq (57)", {rel, [](const R& r) { return r.angle_interpolation; }}},
        {"Fk|Eq (58)", {rel, [](const R& r) { return r.distance_interpolation; }}},
        {"Lbfs|Eq (8)", {db, [](const R& r) { return r.free_space_db; }}},
        {"Lb0p|Eq (10)", {db, [](const R& r) { return r.los_p_db; }}},
        {"Lb0b|Eq (11)", {db, [](const R& r) { return r.los_beta_db; }}},
        // The set records these three for a_beta, the radius that its runs take up last: Ldb, not
        // Ld50, is their delta-Bullington sum.
        {"Lbulla (dB)|Eq (21)", {db, [](const R& r) { return r.beta.actual_loss_db; }}},
        {"Lbulls (dB)|Eq (21)", {db, [](const R& r) { return r.beta.smooth_loss_db; }}},
        {"Ldsph (dB)|Eq (27)", {db, [](const R& r) { return r.beta.spherical.loss_db; }}},
        {"Ld50 (dB)|Eq (39)", {db, [](const R& r) { return r.median.loss_db; }}},
        {"Ldb (dB)|Eq (39)", {db, [](const R& r) { return r.beta.loss_db; }}},
        {"Ldp (dB)|Eq (41)", {db, [](const R& r) { return r.diffraction_p_db; }}},
        {"Lbd50 (dB)|Eq (42)", {db, [](const R& r) { return r.diffraction_median_basic_db; }}},
        {"Lbd (dB)|Eq (43)", {db, [](const R& r) { return r.diffraction_basic_db; }}},
        {"Lminb0p (dB)|Eq (59)", {db, [](const R& r) { return r.least_los_diffraction_db; }}},
        {"Lba (dB)|Eq (46)", {db, [](const R& r) { return r.ducting.loss_db; }}},
        {"Lminbap (dB)|Eq (60)", {db, [](const R& r) { return r.least_los_ducting_db; }}},
        {"Lbda (dB)|Eq (61)", {db, [](const R& r) { return r.diffraction_ducting_db; }}},
        {"Lbam (dB)|Eq (62)", {db, [](const R& r) { return r.modified_db; }}},
        {"Lbs (dB)|Eq (44)", {db, [](const R& r) { return r.troposcatter_db; }}},
        {"Lbc (dB)|Eq (63)", {db, [](const R& r) { return r.median_places_db; }}},
        {"Lb (dB)|Eq (69)", {db, [](const R& r) { return r.loss_db; }}},
        {"Ep (dBuV/m)|Eq (70)", {db, [](const R& r) { return r.field_strength_dbuv_m; }}},
    };
    return table;
}

// Takes an input out, so that what remains at the end was not understood.
double take(std::map<std::string, double>& inputs, const std::string& name) {
    INFO("input " << name);
    const auto found = inputs.find(name);
    REQUIRE(found != inputs.end());
    const double value = found->second;
    inputs.erase(found);
    return value;
}

double value_of(const Run& run, const std::string& name) {
    const auto row = std::find_if(run.values.begin(), run.values.end(),
                                  [&](const Row& r) { return r.name == name; });
    REQUIRE(row != run.values.end());
    return row->value;
}

// In two runs the set's line for Lbd, equation (43), is not Lb0p + Ldp of the lines above it but
// repeats Lbda, equation (61), which was found from the proper Lbd: the set contradicts itself.
// There the value that the set's own other lines give is expected instead.
bool repeats_lbda(const Run& run, const Row& row) {
    if (row.name != "Lbd (dB)|Eq (43)") {
        return false;
    }
    const double proper = value_of(run, "Lb0p|Eq (10)") + value_of(run, "Ldp (dB)|Eq (41)");
    const double lminbap = value_of(run, "Lminbap (dB)|Eq (60)");
    const double lbda = value_of(run, "Lbda (dB)|Eq (61)");
    const double share = value_of(run, "Fk|Eq (58)");
    // The file has seven decimals, which is enough to tell which Lbd went into Lbda.
    return std::abs(row.value - proper) > 0.001 && row.value == lbda &&
           std::abs(lminbap + (proper - lminbap) * share - lbda) < 2e-7;
}

struct Worst {
    double decibel = 0.0;
    std::string decibel_at;
    double relative = 0.0;
    std::string relative_at;
    int values = 0;
    int repeated_lbda = 0;
};

void check_run(const LoadedProfile& profile, const std::filesystem::path& file, Worst& worst) {
    Run run = load_run(file);
    const std::string run_name = file.stem().stem().string();
    INFO("run " << run_name);
    auto& in = run.inputs;
    P1812Inputs inputs;
    inputs.frequency_mhz = 1000.0 * take(in, "f (GHz)");
    inputs.time_percent = take(in, "p (%)");
    inputs.location_percent = take(in, "pL (%)");
    inputs.location_deviation_db = take(in, "sigmaL (dB)");
    const double polarization = take(in, "pol");
    REQUIRE((polarization == 1.0 || polarization == 2.0));
    inputs.polarization = polarization == 1.0 ? Polarization::horizontal : Polarization::vertical;
    inputs.refractivity.delta_n = take(in, "DN");
    inputs.refractivity.n0 = take(in, "N0");
    inputs.transmitter_coast_km = take(in, "dct (km)");
    inputs.receiver_coast_km = take(in, "dcr (km)");
    const geo::LatLon transmitter{take(in, "phi_t (deg)"), take(in, "lam_t (deg)")};
    const geo::LatLon receiver{take(in, "phi_r (deg)"), take(in, "lam_r (deg)")};
    inputs.path_centre_latitude_deg =
        path_centre_latitude_deg(transmitter, receiver, profile.distance_km.back());
    const AntennaHeights heights{take(in, "htg (m)"), take(in, "hrg (m)")};
    const double transmitter_kw = take(in, "Ptx (kW)");
    // With gains of zero in all runs it does not matter how they would enter.
    REQUIRE(take(in, "Gtx (dBi)") == 0.0);
    REQUIRE(take(in, "Grx (dBi)") == 0.0);
    REQUIRE(take(in, "R2 (m)") == profile.cover_m[1]);
    REQUIRE(take(in, "Rn-1 (m)") == profile.cover_m[profile.cover_m.size() - 2]);
    REQUIRE(in.empty());

    const P1812Result result = p1812(profile.path(), heights, inputs);
    for (Row row : run.values) {
        if (repeats_lbda(run, row)) {
            row.value = value_of(run, "Lb0p|Eq (10)") + value_of(run, "Ldp (dB)|Eq (41)");
            ++worst.repeated_lbda;
        }
        INFO("row " << row.name << ", expected " << row.value);
        double value = 0.0;
        Kind kind = Kind::decibel;
        if (row.name == "Ep w.r.t. transmitter") {
            value = result.field_strength_dbuv_m + 10.0 * std::log10(transmitter_kw);
        } else {
            const auto mapping = mappings().find(row.name);
            REQUIRE(mapping != mappings().end());
            value = mapping->second.value(result);
            kind = mapping->second.kind;
        }
        const double deviation = std::abs(value - row.value);
        ++worst.values;
        if (kind == Kind::decibel) {
            CHECK(deviation <= 0.001);
            if (deviation > worst.decibel) {
                worst.decibel = deviation;
                worst.decibel_at = run_name + " " + row.name;
            }
        } else {
            // A value that is the small difference of large ones, such as F_k far out, is printed
            // with rounding noise; 1e-12 is far below anything it is used for.
            CHECK(deviation <= 1e-4 * std::abs(row.value) + 1e-12);
            const double relative =
                std::max(0.0, deviation - 1e-12) / std::max(std::abs(row.value), 1e-300);
            if (relative > worst.relative) {
                worst.relative = relative;
                worst.relative_at = run_name + " " + row.name;
            }
        }
    }
    // The run must end in the results, or a cut file would pass.
    REQUIRE(run.values.size() == mappings().size() + 1);
}

} // namespace

TEST_CASE("P.1812: every value of the ITU-R validation set is reproduced") {
    const std::filesystem::path folder =
        std::filesystem::path(EARSHOT_SOURCE_DIR) / "tests/reference/p1812";
    std::vector<std::filesystem::path> runs;
    for (const auto& entry : std::filesystem::directory_iterator(folder)) {
        if (entry.path().string().ends_with(".result.csv")) {
            runs.push_back(entry.path());
        }
    }
    std::sort(runs.begin(), runs.end());
    REQUIRE(runs.size() == 30);
    Worst worst;
    for (const auto& file : runs) {
        const std::string run = file.stem().stem().string();
        const std::string name = run.substr(0, run.rfind('_'));
        check_run(load_profile(folder / (name + ".profile.csv")), file, worst);
    }
    CHECK(worst.repeated_lbda == 2);
    if (std::getenv("EARSHOT_PRINT_DEVIATIONS") != nullptr) {
        WARN(runs.size() << " runs, " << worst.values << " values; worst " << worst.decibel
                         << " dB in " << worst.decibel_at << ", " << worst.relative << " in "
                         << worst.relative_at);
    }
}

TEST_CASE("P.1812: the explanation carries the values of the result") {
    const std::filesystem::path folder =
        std::filesystem::path(EARSHOT_SOURCE_DIR) / "tests/reference/p1812";
    const LoadedProfile profile = load_profile(folder / "b2iseac.profile.csv");
    P1812Inputs inputs;
    inputs.frequency_mhz = 95.3;
    inputs.time_percent = 10.0;
    inputs.location_deviation_db = 0.0;
    inputs.polarization = Polarization::horizontal;
    inputs.refractivity = {45.0, 326.079979};
    inputs.transmitter_coast_km = inputs.receiver_coast_km = 500.0;
    inputs.path_centre_latitude_deg = 53.68658428;
    const auto list = explain(p1812(profile.path(), {60.0, 7.0}, inputs));
    // From run b2iseac_1 of the validation set: symbol, equation there.
    const Run run = load_run(folder / "b2iseac_1.result.csv");
    int found = 0;
    for (const Row& row : run.values) {
        const std::string symbol = row.name.substr(0, row.name.find_first_of(" |"));
        const std::string equation = row.name.substr(row.name.find('|') + 1);
        // Lbulla, Lbulls and Ldsph stand once for each radius; the set has the later ones.
        for (auto it = list.rbegin(); it != list.rend(); ++it) {
            const ExplainedValue& value = *it;
            const bool same_equation =
                equation.find(std::string(value.equation)) != std::string::npos ||
                equation.find(std::string("Eqs ") + std::string(value.equation)) !=
                    std::string::npos;
            if (symbol == value.symbol && same_equation) {
                INFO(symbol << " " << equation);
                CHECK(value.value == Approx(row.value).epsilon(1e-4).margin(1e-3));
                ++found;
                break;
            }
        }
    }
    // All but d, hts, hrs, htc and hrc (twice each), w, dtm and dlm, and the last line, whose
    // symbols or references are written otherwise.
    CHECK(found == static_cast<int>(run.values.size()) - 11);
}
