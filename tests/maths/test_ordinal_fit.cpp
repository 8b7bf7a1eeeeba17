#include "earshot/base/error.hpp"
#include "maths/ordinal_fit.hpp"

#include <catch2/catch.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <map>
#include <numbers>
#include <numeric>
#include <random>
#include <sstream>
#include <string>
#include <vector>

namespace earshot::maths {
namespace {

const std::vector<double> limits{-6.0, -3.0, 0.0, 6.0, 16.0};

/// The invented calls that R was given; terms are offset (if asked for), woods and whip.
std::vector<Observation> reference_calls(bool with_offset, bool with_readings) {
    std::ifstream file(EARSHOT_SOURCE_DIR "/tests/reference/ordinal/calls.csv");
    REQUIRE(file);
    std::vector<Observation> calls;
    std::string line;
    while (std::getline(file, line)) {
        if (line.empty() || line.front() == '#' || line.front() == 's') {
            continue;
        }
        std::vector<std::string> cells;
        std::istringstream row(line);
        for (std::string cell; std::getline(row, cell, ',');) {
            cells.push_back(cell);
        }
        Observation call;
        call.group = std::stoul(cells[0]) - 1;
        call.predicted = std::stod(cells[1]);
        if (with_offset) {
            call.x.push_back(1.0);
        }
        call.x.push_back(std::stod(cells[2]));
        call.x.push_back(std::stod(cells[3]));
        if (with_readings && cells.size() > 5) {
            call.reading = std::stod(cells[5]);
        } else {
            call.score = std::stoi(cells[4]);
        }
        calls.push_back(call);
    }
    REQUIRE(calls.size() == 144);
    return calls;
}

/// What R printed: value and standard error of each parameter of a fit.
std::map<std::string, Estimate> printed_by_r(const std::string& fit) {
    std::ifstream file(EARSHOT_SOURCE_DIR "/tests/reference/ordinal/expected.txt");
    REQUIRE(file);
    std::map<std::string, Estimate> values;
    std::string line;
    while (std::getline(file, line)) {
        std::istringstream words(line);
        std::string name;
        std::string parameter;
        std::string value;
        std::string error;
        if (words >> name >> parameter >> value >> error && name == fit) {
            values[parameter] = {std::stod(value), std::stod(error)};
        }
    }
    REQUIRE(!values.empty());
    return values;
}

void check_estimate(const Estimate& ours, const Estimate& theirs, double tolerance = 1e-4) {
    CHECK(ours.value == Approx(theirs.value).epsilon(tolerance));
    CHECK(ours.standard_error == Approx(theirs.standard_error).epsilon(10.0 * tolerance));
}

OrdinalModel model_of(std::vector<FitTerm> terms) {
    OrdinalModel model;
    model.terms = std::move(terms);
    model.limits = limits;
    model.error.typical = 5.0;
    return model;
}

} // namespace

// Against survreg of the R package survival (interval-censored regression).
TEST_CASE("scores with known limits and readings fit as R's interval-censored regression does") {
    const auto shape = GENERATE(ErrorShape::normal, ErrorShape::logistic);
    OrdinalModel model = model_of({{"offset"}, {"woods"}, {"whip"}});
    model.shape = shape;
    const OrdinalFit fit = fit_ordinal(model, reference_calls(true, true));
    const auto r =
        printed_by_r(shape == ErrorShape::normal ? "interval_gaussian" : "interval_logistic");
    CHECK(fit.converged);
    check_estimate(fit.terms[0], r.at("offset"));
    check_estimate(fit.terms[1], r.at("woods"));
    check_estimate(fit.terms[2], r.at("whip"));
    CHECK(std::log(fit.error.value) == Approx(r.at("log_error").value).epsilon(1e-5));
    CHECK(fit.error.standard_error / fit.error.value ==
          Approx(r.at("log_error").standard_error).epsilon(1e-4));
    CHECK(fit.log_likelihood == Approx(r.at("log_likelihood").value).epsilon(1e-8));
}

// Against polr of the R package MASS (proportional odds, ordered probit).
TEST_CASE("free limits fit as R's ordered regression does") {
    const auto shape = GENERATE(ErrorShape::normal, ErrorShape::logistic);
    OrdinalModel model = model_of({{"woods"}, {"whip"}});
    model.shape = shape;
    model.free_limits = true;
    const OrdinalFit fit = fit_ordinal(model, reference_calls(false, false));
    const auto r = printed_by_r(shape == ErrorShape::normal ? "free_probit" : "free_logistic");
    CHECK(fit.converged);
    check_estimate(fit.terms[0], r.at("woods"));
    check_estimate(fit.terms[1], r.at("whip"));
    for (std::size_t k = 0; k < limits.size(); ++k) {
        check_estimate(fit.limits[k], r.at(fmt::format("limit{}", k + 1)));
    }
    check_estimate(fit.error, r.at("error"));
    CHECK(fit.log_likelihood == Approx(r.at("log_likelihood").value).epsilon(1e-8));
}

// Against clmm of the R package ordinal (adaptive quadrature with 25 nodes).
TEST_CASE("effects of stops fit as R's ordered regression with random effects does") {
    const auto shape = GENERATE(ErrorShape::normal, ErrorShape::logistic);
    OrdinalModel model = model_of({{"woods"}, {"whip"}});
    model.shape = shape;
    model.free_limits = true;
    model.group = SpreadPrior{4.0, no_prior};
    const OrdinalFit fit = fit_ordinal(model, reference_calls(false, false));
    const auto r = printed_by_r(shape == ErrorShape::normal ? "stops_probit" : "stops_logit");
    CHECK(fit.converged);
    check_estimate(fit.terms[0], r.at("woods"));
    check_estimate(fit.terms[1], r.at("whip"));
    for (std::size_t k = 0; k < limits.size(); ++k) {
        check_estimate(fit.limits[k], r.at(fmt::format("limit{}", k + 1)));
    }
    check_estimate(fit.error, r.at("error"));
    REQUIRE(fit.group);
    CHECK(std::log(fit.group->value) == Approx(r.at("log_group").value).epsilon(1e-4));
    CHECK(fit.group->standard_error / fit.group->value ==
          Approx(r.at("log_group").standard_error).epsilon(1e-3));
    CHECK(fit.log_likelihood == Approx(r.at("log_likelihood").value).epsilon(1e-7));
}

TEST_CASE("gradient and Hessian are the differences of the value") {
    const auto shape = GENERATE(ErrorShape::normal, ErrorShape::logistic);
    OrdinalModel model = model_of({{"offset", 6.0}, {"woods", 0.5}, {"whip", 3.0}});
    model.shape = shape;
    model.error = {4.0, 0.5};
    model.group = SpreadPrior{8.0, 0.5};
    model.free_limits = true;
    model.limit_prior_deviation = 2.0;
    std::vector<Observation> calls = reference_calls(true, true);
    if (shape == ErrorShape::normal) {
        for (Observation& call : calls) {
            call.reading_deviation = 2.5;
        }
    }
    std::vector<double> at{-2.0, -0.3, 1.0, std::log(3.0), std::log(4.0),
                           -5.0, -3.5, 0.5, 5.0,           15.0};
    const FitEvaluation here = evaluate_fit(model, calls, at);
    constexpr double step = 1e-4;
    // The second differences carry the error of the quadrature, whose nodes move with the modes.
    for (std::size_t i = 0; i < at.size(); ++i) {
        const double kept = at[i];
        at[i] = kept + step;
        const FitEvaluation above = evaluate_fit(model, calls, at);
        at[i] = kept - step;
        const FitEvaluation below = evaluate_fit(model, calls, at);
        at[i] = kept;
        CHECK(here.gradient[i] == Approx((above.log_posterior - below.log_posterior) / (2.0 * step))
                                      .epsilon(1e-5)
                                      .margin(1e-5));
        for (std::size_t j = 0; j < at.size(); ++j) {
            CHECK(here.hessian[i * at.size() + j] ==
                  Approx((above.gradient[j] - below.gradient[j]) / (2.0 * step))
                      .epsilon(1e-3)
                      .margin(1e-3));
        }
    }
}

// With readings only, the model is linear and has a closed form: the mean of a group's readings is
// normal with variance tau^2 + (sigma^2 + r^2)/n, and the deviations from it have sigma^2 + r^2.
TEST_CASE("readings alone give the likelihood of a variance components model") {
    OrdinalModel model = model_of({{"offset"}});
    model.group = SpreadPrior{1.0, no_prior};
    constexpr double offset = 1.5;
    constexpr double sigma = 2.0;
    constexpr double tau = 6.0;
    constexpr double own = 1.5;
    const std::vector<std::vector<double>> readings{{3.0, 5.0, 1.0}, {-8.0, -4.5}, {12.0}};
    std::vector<Observation> observations;
    double expected = 0.0;
    for (std::size_t g = 0; g < readings.size(); ++g) {
        const auto n = static_cast<double>(readings[g].size());
        const double mean = std::accumulate(readings[g].begin(), readings[g].end(), 0.0) / n;
        const double within = sigma * sigma + own * own;
        double squares =
            n * (mean - 10.0 - offset) * (mean - 10.0 - offset) / (within + n * tau * tau);
        for (const double reading : readings[g]) {
            squares += (reading - mean) * (reading - mean) / within;
            observations.push_back({10.0, {1.0}, std::nullopt, reading, own, g});
        }
        expected -= 0.5 * (n * std::log(2.0 * std::numbers::pi) + (n - 1.0) * std::log(within) +
                           std::log(within + n * tau * tau) + squares);
    }
    const std::vector<double> at{offset, std::log(sigma), std::log(tau)};
    CHECK(evaluate_fit(model, observations, at).log_likelihood == Approx(expected).epsilon(1e-10));
}

TEST_CASE("scores far from their prediction are finite") {
    OrdinalModel model = model_of({{"offset", 6.0}});
    model.shape = GENERATE(ErrorShape::normal, ErrorShape::logistic);
    const double predicted = GENERATE(-500.0, -60.0, 60.0, 500.0);
    const std::vector<double> at{0.0, std::log(1.0)};
    for (int score = 0; score <= 5; ++score) {
        const std::vector<Observation> one{{predicted, {1.0}, score, std::nullopt, 0.0, 0}};
        const FitEvaluation there = evaluate_fit(model, one, at);
        CHECK(std::isfinite(there.log_likelihood));
        CHECK(std::isfinite(there.gradient[0]));
        CHECK(std::isfinite(there.hessian[3]));
        // The likelihood is log-concave in the offset: its curvature cannot be upward.
        CHECK(there.hessian[0] <= 0.0);
    }
}

// Mills' ratio: Phi(-x) = phi(x)/x (1 - 1/x^2 + 3/x^4 - ...) (Abramowitz and Stegun 26.2.12).
TEST_CASE("tails keep their digits") {
    OrdinalModel model = model_of({});
    model.limits = {0.0};
    for (const double x : {25.0, 29.9, 30.1, 38.0, 60.0}) {
        const std::vector<Observation> below{{x, {}, 0, std::nullopt, 0.0, 0}};
        const std::vector<Observation> above{{-x, {}, 1, std::nullopt, 0.0, 0}};
        const double r = 1.0 / (x * x);
        const double expected =
            -0.5 * x * x - std::log(x) - 0.5 * std::log(2.0 * std::numbers::pi) +
            std::log(1.0 - r + 3.0 * r * r - 15.0 * r * r * r + 105.0 * r * r * r * r);
        const std::vector<double> at{0.0};
        CHECK(evaluate_fit(model, below, at).log_likelihood == Approx(expected).epsilon(1e-12));
        CHECK(evaluate_fit(model, above, at).log_likelihood == Approx(expected).epsilon(1e-12));
    }
}

TEST_CASE("a fit that has no maximum is not called one") {
    OrdinalModel model = model_of({{"offset"}});
    const std::vector<Observation> all_lowest(10, {5.0, {1.0}, 0, std::nullopt, 0.0, 0});
    CHECK_FALSE(fit_ordinal(model, all_lowest).converged);
    model.terms.front().prior_deviation = 6.0;
    model.error.log_deviation = 0.5;
    const OrdinalFit held = fit_ordinal(model, all_lowest);
    CHECK(held.converged);
    CHECK(held.terms.front().value < 0.0);
}

TEST_CASE("probabilities of scores add up to 1 and follow the limits") {
    OrdinalModel model = model_of({{"offset"}});
    model.shape = GENERATE(ErrorShape::normal, ErrorShape::logistic);
    model.group = SpreadPrior{5.0, no_prior};
    OrdinalFit fit;
    fit.terms = {{2.0, 0.0}};
    for (const double limit : limits) {
        fit.limits.push_back({limit, 0.0});
    }
    fit.error = {3.0, 0.0};
    fit.group = Estimate{4.0, 0.0};
    const std::vector<double> one{1.0};
    const std::vector<double> p = score_probabilities(model, fit, -2.0, one);
    REQUIRE(p.size() == 6);
    CHECK(std::accumulate(p.begin(), p.end(), 0.0) == Approx(1.0));
    // The middle of the distribution is at 0 dB, where score 3 begins.
    CHECK(p[0] + p[1] + p[2] == Approx(0.5));
    if (model.shape == ErrorShape::normal) {
        CHECK(total_deviation(model, fit) == Approx(5.0));
        CHECK(p[3] == Approx(0.5 * std::erf(6.0 / 5.0 / std::sqrt(2.0)))); // 0 to 6 dB
    }
}

TEST_CASE("the fit refuses what does not fit together") {
    const OrdinalModel model = model_of({{"offset"}});
    CHECK_THROWS_AS(fit_ordinal(model, {}), Error);
    CHECK_THROWS_AS(fit_ordinal(model, std::vector<Observation>{{0.0, {}, 3, {}, 0.0, 0}}), Error);
    CHECK_THROWS_AS(fit_ordinal(model, std::vector<Observation>{{0.0, {1.0}, 6, {}, 0.0, 0}}),
                    Error);
    CHECK_THROWS_AS(fit_ordinal(model, std::vector<Observation>{{0.0, {1.0}, 3, 1.0, 0.0, 0}}),
                    Error);
}

} // namespace earshot::maths
