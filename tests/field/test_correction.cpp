#include "coverage/ground.hpp"
#include "earshot/base/error.hpp"
#include "earshot/link/budget.hpp"
#include "field/correction_fit.hpp"
#include "link/quality.hpp"
#include "maths/statistics.hpp"
#include "report/say/field_words.hpp"
#include "scenario/correction.hpp"
#include "scenario/scenario.hpp"
#include "scenario/scenario_keys.hpp"

#include <catch2/catch.hpp>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <limits>
#include <random>
#include <set>
#include <string>
#include <vector>

namespace earshot::field {

using namespace scenario;

namespace {

using Catch::Contains;

/// What is true of an invented log.
struct Truth {
    double offset_db = 0.0;
    double woodland_factor = 1.0;
    double whip_db = 0.0;
    double within_db = 3.0;
    double among_db = 5.0;
};

/// Calls at invented stops, every other one in woods, with two antennas in turn.
std::vector<MeasuredCall> invent_calls(const Truth& truth, std::mt19937& random,
                                       std::size_t stops = 12, int each = 6) {
    std::normal_distribution<double> normal;
    std::uniform_real_distribution<double> uniform;
    std::vector<MeasuredCall> calls;
    for (std::size_t stop = 0; stop < stops; ++stop) {
        const double open_db = -12.0 + 30.0 * uniform(random);
        const double woods_db = stop % 2 == 1 ? 3.0 + 12.0 * uniform(random) : 0.0;
        const double of_stop_db = truth.among_db * normal(random);
        for (int k = 0; k < each; ++k) {
            const bool whip = k % 2 == 1;
            MeasuredCall call;
            call.stop = fmt::format("stop {}", stop);
            call.antennas = {"base dipole", whip ? "whip" : "stock"};
            call.woodland_db = woods_db;
            call.predicted_db = open_db - woods_db + (whip ? 5.0 : 0.0) + k / 2;
            call.spread_db = 5.0;
            const double margin_db =
                call.predicted_db + truth.offset_db - (truth.woodland_factor - 1.0) * woods_db +
                (whip ? truth.whip_db : 0.0) + of_stop_db + truth.within_db * normal(random);
            call.score = static_cast<int>(link::readability(margin_db).readability);
            calls.push_back(call);
        }
    }
    return calls;
}

CorrectionRequest quick() {
    CorrectionRequest request;
    request.leave_stops_out = false;
    return request;
}

std::string refusal(std::span<const MeasuredCall> calls) {
    try {
        (void)fit_correction(calls, quick());
    } catch (const Error& error) {
        CHECK(error.fault() == Fault::input);
        return error.what();
    }
    return "no refusal";
}

std::string reason_of(const CorrectionFit& fit, const std::string& term) {
    for (const RefusedTerm& refused : fit.refused) {
        if (report::term_words(refused) == term) {
            return report::refusal_words(refused, fit);
        }
    }
    return "not refused";
}

/// A file in a folder of its own, gone afterwards.
class TemporaryFile {
public:
    explicit TemporaryFile(const std::string& content, const std::string& name = "walk.toml") {
        std::string folder =
            (std::filesystem::temp_directory_path() / "earshot-correction-XXXXXX").string();
        REQUIRE(mkdtemp(folder.data()) != nullptr);
        path_ = std::filesystem::path(folder) / name;
        std::ofstream(path_) << content;
    }
    ~TemporaryFile() {
        std::error_code ignored;
        std::filesystem::remove_all(path_.parent_path(), ignored);
    }
    TemporaryFile(const TemporaryFile&) = delete;
    TemporaryFile& operator=(const TemporaryFile&) = delete;
    [[nodiscard]] const std::filesystem::path& path() const { return path_; }

private:
    std::filesystem::path path_;
};

Correction invented_correction() {
    Correction correction;
    correction.file = "walk.toml";
    correction.offset_db = {-3.25, 1.5};
    correction.woodland_factor = maths::Estimate{1.4, 0.2};
    correction.antennas = {{"half-wave", {1.75, 0.5}}, {"a \"b\"", {-2.0, 0.75}}};
    correction.prediction_deviation_db = 5.5;
    correction.source = {
        "walk.csv",           "2026-05-14",  true, 146.52, propagation::Method::p1812,
        "one kind: woodland", {36.6, -84.2}, 2.5,  72,     12,
        "normal errors"};
    correction.before = {1.8, 30.0, 1.25, 9.5};
    correction.after = {1.5, 45.5, 0.75, 6.25};
    return correction;
}

std::string refusal_of_file(const std::string& content) {
    const TemporaryFile file(content);
    try {
        (void)read_correction(file.path());
    } catch (const Error& error) {
        CHECK(error.fault() == Fault::input);
        return error.what();
    }
    return "no refusal";
}

std::string replaced(std::string text, const std::string& from, const std::string& to) {
    const std::size_t at = text.find(from);
    REQUIRE(at != std::string::npos);
    return text.replace(at, from.size(), to);
}

} // namespace

// By simulation: truths are drawn from the priors that docs/correction.md states, logs from the
// truths. Intervals of 95 % must hold the truth 92 to 98 times of 100; over 500 logs three standard
// errors of that count are 3 %.
TEST_CASE("intervals of the fit hold the truth as often as they say") {
    std::mt19937 random(20260514);
    std::normal_distribution<double> normal;
    constexpr int logs = 500;
    int fitted = 0;
    int offset_held = 0;
    int antenna_held = 0;
    int woods_held = 0;
    int woods_fitted = 0;
    for (int log = 0; log < logs; ++log) {
        Truth truth;
        truth.offset_db = offset_prior_db * normal(random);
        truth.woodland_factor = std::max(0.0, 1.0 + woodland_prior * normal(random));
        truth.whip_db = antenna_prior_db * normal(random);
        truth.within_db = 4.0 * std::exp(0.5 * normal(random));
        truth.among_db = 8.0 * std::exp(0.5 * normal(random));
        CorrectionFit fit;
        try {
            fit = fit_correction(invent_calls(truth, random, 16), quick());
        } catch (const Error&) { // a truth that leaves nothing to be heard
            continue;
        }
        const Correction& found = fit.correction;
        if (found.antennas.empty() || !found.woodland_factor) {
            continue;
        }
        ++fitted;
        const auto holds = [&](const maths::Estimate& estimate, double true_value) {
            return std::abs(estimate.value - true_value) <=
                           maths::student_factor(fit.stops) * estimate.standard_error
                       ? 1
                       : 0;
        };
        // Both antennas were used as often; what the reference is off by is in the offset.
        const bool whip = found.antennas.front().antenna == "whip";
        offset_held += holds(found.offset_db, truth.offset_db + (whip ? 0.0 : truth.whip_db));
        antenna_held +=
            holds(found.antennas.front().gain_db, whip ? truth.whip_db : -truth.whip_db);
        if (found.woodland_factor->value > 0.0) {
            ++woods_fitted;
            woods_held += holds(*found.woodland_factor, truth.woodland_factor);
        }
    }
    REQUIRE(fitted > 300);
    const auto percent = [](int held, int of) { return 100.0 * held / of; };
    CHECK(percent(offset_held, fitted) == Approx(95.0).margin(3.0));
    CHECK(percent(antenna_held, fitted) == Approx(95.0).margin(3.0));
    CHECK(percent(woods_held, woods_fitted) == Approx(95.0).margin(3.0));
}

TEST_CASE("a long log leads to the truth") {
    std::mt19937 random(1);
    const Truth truth{-6.0, 1.6, 2.0, 3.0, 5.0};
    const CorrectionFit fit = fit_correction(invent_calls(truth, random, 300), quick());
    CHECK(fit.correction.offset_db.value == Approx(-6.0).margin(1.5)); // of the other antenna
    REQUIRE(fit.correction.woodland_factor);
    CHECK(fit.correction.woodland_factor->value == Approx(1.6).margin(0.15));
    REQUIRE(fit.correction.antennas.size() == 1);
    CHECK(std::abs(fit.correction.antennas.front().gain_db.value) == Approx(2.0).margin(0.5));
    CHECK(fit.within_stop_db.value == Approx(3.0).margin(0.3));
    REQUIRE(fit.among_stops_db);
    CHECK(fit.among_stops_db->value == Approx(5.0).margin(0.8));
    CHECK(fit.in_the_offset.front() == "base dipole");
}

TEST_CASE("a correction foretells stops it does not know better, where there is one to be found") {
    std::mt19937 random(2);
    const Truth off{-9.0, 1.0, 0.0, 3.0, 4.0};
    CorrectionRequest request;
    const CorrectionFit fit = fit_correction(invent_calls(off, random), request);
    CHECK(fit.helps());
    CHECK(fit.correction.after.hit_percent > fit.correction.before.hit_percent);
    CHECK(fit.correction.after.class_error < fit.correction.before.class_error);
    CHECK(fit.correction.after.deviation_db < fit.correction.before.deviation_db);
    // What is left of the spread is less than that of the standard, but never nothing.
    CHECK(fit.correction.prediction_deviation_db < 8.0);
    CHECK(fit.correction.prediction_deviation_db >= 3.0);
}

// By simulation: predictions that are as good as they are taken to be (8 dB from stop to stop, 5 dB
// from call to call, nothing in common) need no correction; most such logs are to say so.
TEST_CASE("where there is nothing to correct, most logs say that a correction is no better") {
    std::mt19937 random(8);
    int without = 0;
    int with = 0;
    constexpr int logs = 40;
    for (int k = 0; k < logs; ++k) {
        without += fit_correction(invent_calls({0.0, 1.0, 0.0, 5.0, 8.0}, random), {}).helps();
        with += fit_correction(invent_calls({-12.0, 1.0, 0.0, 5.0, 8.0}, random), {}).helps();
    }
    CAPTURE(without, with);
    CHECK(2 * without < logs);
    CHECK(10 * with >= 9 * logs);
}

TEST_CASE("out-of-sample errors of the standard are what its own formula gives") {
    std::mt19937 random(3);
    const std::vector<MeasuredCall> calls = invent_calls({}, random);
    const CorrectionFit fit = fit_correction(calls, {});
    double log_loss = 0.0;
    double hits = 0.0;
    double off = 0.0;
    for (const MeasuredCall& call : calls) {
        const auto classes = link::readability_classes();
        const auto score = static_cast<std::size_t>(*call.score);
        const auto below = [&](std::size_t k) {
            return k >= classes.size() ? 1.0
                                       : maths::normal_probability(
                                             (classes[k].least_margin_db - call.predicted_db) /
                                             std::hypot(8.0, call.spread_db));
        };
        log_loss -= std::log(below(score + 1) - below(score));
        const int foretold = static_cast<int>(link::readability(call.predicted_db).readability);
        hits += foretold == *call.score ? 1.0 : 0.0;
        off += std::abs(foretold - *call.score);
    }
    const auto n = static_cast<double>(calls.size());
    CHECK(fit.correction.before.log_loss == Approx(log_loss / n));
    CHECK(fit.correction.before.hit_percent == Approx(100.0 * hits / n));
    CHECK(fit.correction.before.class_error == Approx(off / n));
}

TEST_CASE("levels that were read say more than scores") {
    std::mt19937 random(4);
    std::vector<MeasuredCall> calls = invent_calls({-4.0, 1.0, 0.0, 2.0, 4.0}, random);
    const CorrectionFit scored = fit_correction(calls, quick());
    for (MeasuredCall& call : calls) {
        call.margin_db = call.predicted_db - 4.0;
        call.score.reset();
    }
    const CorrectionFit read = fit_correction(calls, quick());
    CHECK(read.readings == calls.size());
    CHECK(read.correction.offset_db.standard_error < scored.correction.offset_db.standard_error);
    CHECK(read.correction.offset_db.value == Approx(-4.0).margin(0.6)); // drawn to 0 by the prior
}

TEST_CASE("what a log cannot tell is refused, with the reason") {
    std::mt19937 random(5);
    const std::vector<MeasuredCall> calls = invent_calls({}, random);

    CHECK_THAT(refusal(std::span(calls).first(9)), Contains("9 calls at 2 stops"));
    CHECK_THAT(refusal(std::span(calls).first(24)), Contains("24 calls at 4 stops"));
    CHECK_THAT(refusal({}), Contains("no call"));

    std::vector<MeasuredCall> silent = calls;
    std::vector<MeasuredCall> loud = calls;
    std::vector<MeasuredCall> open = calls;
    std::vector<MeasuredCall> wooded = calls;
    std::vector<MeasuredCall> tied = calls;
    std::vector<MeasuredCall> rare = calls;
    for (std::size_t k = 0; k < calls.size(); ++k) {
        silent[k].score = 0;
        loud[k].score = 5;
        open[k].woodland_db = 0.0;
        wooded[k].woodland_db = 9.0 + 0.01 * static_cast<double>(k);
        // The whip in woods only: which of both was it?
        tied[k].woodland_db = calls[k].woodland_db > 0.0 ? 8.0 : 0.0;
        tied[k].antennas = {calls[k].woodland_db > 0.0 ? "whip" : "stock"};
        rare[k].antennas = {k == 7 ? "whip" : "stock"};
    }
    CHECK_THAT(refusal(silent), Contains("scored 0") && Contains("test nearer"));
    CHECK_THAT(refusal(loud), Contains("scored 5") && Contains("farther out"));
    CHECK_THAT(reason_of(fit_correction(open, quick()), "losses in woods"),
               Contains("no stop is in woods"));
    CHECK_THAT(reason_of(fit_correction(wooded, quick()), "losses in woods"),
               Contains("nearly alike") && Contains("test in the open too"));
    const CorrectionFit tied_fit = fit_correction(tied, quick());
    REQUIRE(tied_fit.correction.antennas.empty());
    CHECK_THAT(report::refusal_words(tied_fit.refused.back(), tied_fit),
               Contains("cannot be told apart"));
    CHECK_THAT(reason_of(fit_correction(rare, quick()), "antenna whip"),
               Contains("only 1 calls at 1 stops"));

    // Woods at two stops are too few, whatever the losses.
    std::vector<MeasuredCall> two = calls;
    for (MeasuredCall& call : two) {
        if (call.stop != "stop 1" && call.stop != "stop 3") {
            call.woodland_db = 0.0;
        }
    }
    CHECK_THAT(reason_of(fit_correction(two, quick()), "losses in woods"),
               Contains("only 2 of 12 stops"));
}

TEST_CASE("a term of which the log gives less than half is refused") {
    std::mt19937 random(6);
    // Stops so different from one another that their woods are lost in it.
    const CorrectionFit fit =
        fit_correction(invent_calls({0.0, 1.0, 0.0, 6.0, 14.0}, random, 7, 3), quick());
    CHECK_FALSE(fit.correction.woodland_factor);
    CHECK_THAT(reason_of(fit, "losses in woods"), Contains("% of what would be known of it"));
}

TEST_CASE("one call at each stop leaves one spread") {
    std::mt19937 random(7);
    const CorrectionFit fit = fit_correction(invent_calls({}, random, 40, 1), quick());
    CHECK_FALSE(fit.among_stops_db);
}

TEST_CASE("a correction is read as it was written") {
    Correction written = invented_correction();
    written.source.places = {{36.6, -84.2}, {36.61, -84.21}};
    written.source.spread_km = 0.45;
    written.source.ground.relief_m = 80.0;
    const TemporaryFile file(correction_toml(written));
    const Correction read = read_correction(file.path());
    CHECK(read.file == "walk.toml");
    CHECK(correction_toml(read) == correction_toml(written));
    CHECK(read.offset_db.value == -3.25);
    REQUIRE(read.woodland_factor);
    CHECK(read.woodland_factor->value == 1.4);
    REQUIRE(read.antennas.size() == 2);
    CHECK(read.antennas[1].antenna == "a \"b\"");
    CHECK(read.source.invented);
    CHECK(read.source.calls == 72);
    REQUIRE(read.source.places.size() == 2);
    CHECK(read.source.places[1].lon_deg == -84.21);
    CHECK(read.source.spread_km == 0.45);
    CHECK(read.source.ground.relief_m == 80.0);
    CHECK_FALSE(read.source.ground.woodland_percent);
    CHECK(read.after.hit_percent == 45.5);
}

TEST_CASE("a correction file that is not one is refused where it is wrong") {
    const std::string good = correction_toml(invented_correction());
    CHECK_THAT(refusal_of_file(replaced(good, "offset_db", "ofset_db")),
               Contains("line 6") && Contains("'ofset_db'") && Contains("did you mean"));
    CHECK_THAT(refusal_of_file(replaced(good, "offset_db = -3.25", "offset_db = -325")),
               Contains("out of range"));
    CHECK_THAT(refusal_of_file(replaced(good, "offset_db = -3.25", "offset_db = \"-3\"")),
               Contains("without quotes"));
    CHECK_THAT(refusal_of_file(replaced(good, "woodland_factor_error = 0.200\n", "")),
               Contains("go together"));
    CHECK_THAT(refusal_of_file(replaced(good, "name = \"half-wave\"", "name = \"a \\\"b\\\"\"")),
               Contains("is there already"));
    CHECK_THAT(refusal_of_file(replaced(good, "[check]", "[cheque]")),
               Contains("'cheque' is not known"));
    CHECK_THAT(refusal_of_file(replaced(good, "offset_error_db = 1.50\n", "")),
               Contains("offset_error_db"));
}

TEST_CASE("a correction is whole on a path, whichever radios it joins") {
    const Correction correction = invented_correction();
    link::Radio half_wave;
    half_wave.antenna = "Half wave"; // as a log may spell it
    link::Radio unknown;
    apply(correction, half_wave);
    apply(correction, unknown);
    link::Radio plain;
    // The offset is one of the path, the terms are those of the antennas.
    propagation::Conditions settings;
    settings.method = propagation::Method::p1812;
    apply(correction, settings);
    const double offset_db = settings.field_offset_db;
    const auto received_dbm = [&](const link::Radio& from, const link::Radio& to) {
        return link::link_budget(from, to, 0.0, 0.0, 0.0, 0.0, 0.0, offset_db).received_dbm;
    };
    const double before_db = link::received_without_path_dbm(plain, plain);
    CHECK(received_dbm(unknown, unknown) == Approx(before_db - 3.25));
    CHECK(received_dbm(half_wave, unknown) == Approx(before_db - 3.25 + 1.75));
    CHECK(received_dbm(half_wave, half_wave) == Approx(before_db - 3.25 + 3.5));
    apply(correction, half_wave); // once more changes nothing
    CHECK(half_wave.field_correction_db == Approx(1.75));

    // The lines of the budget add up to what is received.
    const link::LinkBudget budget =
        link::link_budget(half_wave, unknown, 120.0, 3.0, 1.0, 0.0, 0.0, offset_db);
    const std::vector<link::BudgetLine> lines = link::budget_lines(budget);
    double sum = 0.0;
    bool said = false;
    for (const link::BudgetLine& line : lines) {
        if (line.label == "received power") {
            CHECK(sum == Approx(line.value));
            break;
        }
        sum += line.value;
        said = said || line.label == "field correction";
    }
    CHECK(said);
}

TEST_CASE("a correction of another frequency or method is refused") {
    const Correction correction = invented_correction();
    propagation::Conditions settings;
    settings.method = propagation::Method::p1812;
    settings.frequency_mhz = 150.0;
    apply(correction, settings);
    CHECK(settings.woodland_factor == 1.4);
    CHECK(settings.prediction_deviation_db == 5.5);
    settings.frequency_mhz = 446.0;
    CHECK_THROWS_WITH(apply(correction, settings), Contains("146.52 MHz") && Contains("446 MHz"));
    settings.frequency_mhz = 146.0;
    settings.method = propagation::Method::bullington;
    CHECK_THROWS_WITH(apply(correction, settings), Contains("method p1812"));
}

TEST_CASE("the words of a correction name file, date and every term") {
    const std::string words = correction_words(invented_correction());
    for (const char* part : {"field correction", "walk.toml", "2026-05-14", "invented", "-3.2 dB",
                             "x 1.40", "half-wave +1.8 dB"}) {
        CHECK_THAT(words, Contains(part));
    }
}

// exp(-(d / 10 km)^2) by hand: 36.8 % at 10 km, 1.8 % at 20 km; a degree of latitude is 110.6 km at
// the equator (WGS 84), 0.6 % less than on the mean sphere.
TEST_CASE("a correction is whole among its calls and fades with distance from them") {
    const link::FieldReach reach({{0.0, 10.0}, {0.02, 10.0}}, 500.0, 8.0);
    const geo::LatLon among{0.01, 10.0};
    const auto north = [](double km) {
        return geo::geodesic_destination({0.02, 10.0}, 0.0, 1e3 * km);
    };
    CHECK(reach.share({0.0, 10.0}, {0.02, 10.0}) == 1.0);
    CHECK(reach.share(among, among) > 0.99);
    CHECK(reach.share(among, north(10.5)) == Approx(0.368).margin(0.01));
    CHECK(reach.share(north(20.5), among) == Approx(0.018).margin(0.002)); // the farther end counts
    CHECK(reach.share(among, north(60.0)) < 1e-12);
    double before = 1.0;
    for (double km = 0.0; km < 40.0; km += 0.05) { // no step anywhere, and never up
        const double share = reach.share(among, north(km));
        CHECK(share <= before + 1e-12);
        CHECK(before - share < 0.005);
        before = share;
    }
    propagation::Conditions whole;
    whole.field_offset_db = -6.0;
    whole.woodland_factor = 1.5;
    whole.prediction_deviation_db = 4.0;
    const propagation::Conditions half = reach.faded(whole, 0.5);
    CHECK(half.field_offset_db == Approx(-3.0));
    CHECK(half.woodland_factor == Approx(1.25));
    CHECK(*half.prediction_deviation_db == Approx(std::sqrt((16.0 + 64.0) / 2.0)));
    CHECK(*reach.faded(whole, 0.0).prediction_deviation_db == Approx(8.0));
    // Where nobody says another, it goes over to that by the path.
    const link::FieldReach by_path({{0.0, 10.0}}, 0.0, std::nullopt);
    const link::Doubt doubt{5.0, 0.0, 10000.0, 140.0, 140.0};
    const double alone_db = link::prediction_deviation_db({}, doubt);
    CHECK(link::prediction_deviation_db(by_path.faded(whole, 0.0), doubt) == Approx(alone_db));
    CHECK(link::prediction_deviation_db(by_path.faded(whole, 1.0), doubt) == Approx(4.0));
    CHECK(link::prediction_deviation_db(by_path.faded(whole, 0.5), doubt) ==
          Approx(std::sqrt((16.0 + alone_db * alone_db) / 2.0)));
}

TEST_CASE("a dozen places stand for all calls") {
    std::vector<geo::LatLon> calls;
    for (int k = 0; k < 400; ++k) { // 20 km along a valley, four calls at each stop
        calls.push_back({46.0 + 0.0018 * (k / 4), 14.0});
    }
    const Thinned along = thinned(calls);
    CHECK(along.places.size() == 12);
    CHECK(along.places.front().lat_deg == 46.0);
    CHECK(along.spread_km < 2.0);
    for (const geo::LatLon call : calls) {
        double nearest_m = 1e9;
        for (const geo::LatLon place : along.places) {
            nearest_m = std::min(nearest_m, geo::geodesic_between(call, place).distance_m);
        }
        CHECK(nearest_m <= 1000.0 * along.spread_km + 0.1);
    }
    CHECK(thinned(std::span(calls).first(4)).places.size() == 1);
    CHECK(thinned({}).places.empty());
}

TEST_CASE("a correction tells how far it reaches and on what ground") {
    Correction correction = invented_correction();
    const GroundFacts unknown;
    const std::vector<geo::LatLon> near{{36.605, -84.2}};
    const std::vector<geo::LatLon> wide{{36.6, -84.2}, {36.7, -84.2}};
    const std::vector<geo::LatLon> far{{38.6, -84.2}};
    // An older file: anywhere in its circle.
    REQUIRE(reach_notes(correction, near, unknown).size() == 1);
    CHECK_THAT(reach_notes(correction, near, unknown).front(),
               Contains("older file") && Contains("within 2.5 km of 36.6"));
    correction.source.places = {{36.6, -84.2}};
    correction.source.spread_km = 0.4;
    CHECK(reach_notes(correction, near, unknown).empty());
    CHECK_THAT(reach_notes(correction, wide, unknown).front(),
               Contains("fades away") && Contains("11 km") && Contains("% of it is left"));
    CHECK_THAT(reach_notes(correction, far, unknown).front(),
               Contains("next to nothing") && Contains("222 km"));
    correction.source.ground = {120.0, 5.0};
    CHECK(reach_notes(correction, near, {100.0, 20.0}).empty());
    CHECK_THAT(reach_notes(correction, near, {12.0, 80.0}).front(),
               Contains("unlike") && Contains("differ by 12 m") && Contains("there by 120 m") &&
                   Contains("woods cover 80 %, there 5 %"));
    CHECK(reach_notes(correction, near, unknown).empty());
}

// A plane that rises by 1 in 10 to the north: 1 km to the north is 100 m up, 1 km to the east 0.
TEST_CASE("relief is what heights 1 km apart differ by") {
    terrain::HeightGrid ground = test::rough_ground(200, 200, 0.0);
    for (int row = 0; row < ground.rows; ++row) {
        for (int column = 0; column < ground.columns; ++column) {
            const geo::LatLon here = ground.georeference.position_of(
                {static_cast<double>(column), static_cast<double>(row)});
            ground.height_m[ground.index(column, row)] = static_cast<float>(
                0.1 * geo::geodesic_between({here.lat_deg, 0.0}, {0.0, 0.0}).distance_m);
        }
    }
    const GroundFacts facts = ground_facts(ground, {});
    REQUIRE(facts.relief_m);
    CHECK(*facts.relief_m == Approx(50.0).margin(2.0));
    CHECK_FALSE(facts.woodland_percent);
    const terrain::GroundCover woods =
        terrain::GroundCover::uniform(terrain::cover_kind("woodland"));
    CHECK(ground_facts(ground, {&woods, nullptr}).woodland_percent == 100.0);
    ground.height_m.assign(ground.height_m.size(), std::numeric_limits<float>::quiet_NaN());
    CHECK_FALSE(ground_facts(ground, {}).relief_m);
}

// The woodland factor multiplies the loss of ITU-R P.833-10 equation (1) and nothing else.
TEST_CASE("the factor of woodland multiplies the losses at the ends") {
    terrain::Profile profile;
    for (int k = 0; k <= 40; ++k) {
        profile.distance_km.push_back(0.05 * k);
        profile.ground_m.push_back(100.0);
        profile.cover_m.push_back(15.0);
        profile.woodland.push_back(1);
    }
    propagation::Conditions settings;
    const propagation::PathLoss standard = propagation::path_loss(profile, {1.5, 1.5}, settings);
    settings.woodland_factor = 1.5;
    const propagation::PathLoss corrected = propagation::path_loss(profile, {1.5, 1.5}, settings);
    REQUIRE(standard.tx_woodland_db > 1.0);
    CHECK(corrected.tx_woodland_db == Approx(1.5 * standard.tx_woodland_db));
    CHECK(corrected.rx_woodland_db == Approx(1.5 * standard.rx_woodland_db));
    CHECK(corrected.basic_loss_db == standard.basic_loss_db);
}

TEST_CASE("the schema of corrections has the keys that the reader takes, and no others") {
    std::ifstream file(EARSHOT_SOURCE_DIR "/docs/correction.schema.json");
    const nlohmann::json root = nlohmann::json::parse(file);
    std::ifstream page_file(EARSHOT_SOURCE_DIR "/docs/correction.md");
    const std::string page{std::istreambuf_iterator<char>(page_file), {}};
    for (const Section& section : correction_sections().subspan(1)) {
        INFO(section.name);
        const nlohmann::json& described = root.at("properties").at(std::string(section.name));
        const nlohmann::json& part = section.list ? described.at("items") : described;
        CHECK(part.at("additionalProperties") == false);
        std::set<std::string> required;
        std::set<std::string> known;
        for (const Key& key : section.keys) {
            INFO(key.name);
            known.emplace(key.name);
            if (key.required) {
                required.emplace(key.name);
            }
            const nlohmann::json& entry = part.at("properties").at(std::string(key.name));
            if (key.kind == KeyKind::number) {
                CHECK(entry.at("minimum") == key.low);
                CHECK(entry.at("maximum") == key.high);
            } else {
                CHECK(entry.at("type") == "string");
            }
            CHECK_THAT(page, Contains(fmt::format("`{}`", key.name)));
        }
        std::set<std::string> in_schema;
        for (const auto& [name, value] : part.at("properties").items()) {
            in_schema.insert(name);
        }
        CHECK(in_schema == known);
        CHECK(std::set<std::string>(part.at("required").begin(), part.at("required").end()) ==
              required);
    }
}

} // namespace earshot::field
