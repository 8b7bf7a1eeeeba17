#pragma once

#include <cstddef>
#include <cstdint>
#include <limits>
#include <optional>
#include <span>
#include <string>
#include <vector>

/// Regression of ordered scores and exact readings on predictions. Statistics only: nothing in it
/// knows of radio, and units are those of the predictions.
///
/// Behind each observation stands a value that is not seen,
///     y = predicted + sum of x_t beta_t + tau v_group + sigma e,
/// where v is normal with mean 0 and deviation 1, the same for all observations of a group, and e
/// is drawn anew for each. A reading is y itself; a score says between which limits y lies (the
/// lowest that it is at most the first limit, the highest at least the last). With known limits and
/// without groups this is the interval-censored regression
/// (J. D. Kalbfleisch and R. L. Prentice, "The statistical analysis of failure time data", 2002,
/// section 3.1); with free limits it is the cumulative model of P. McCullagh, "Regression models
/// for ordinal data", J. R. Stat. Soc. B 42, 109-142, 1980.

namespace earshot::maths {

/// Distribution of e.
enum class ErrorShape : std::uint8_t {
    normal,   ///< deviation 1
    logistic, ///< F(e) = 1/(1 + exp(-e)), deviation pi/sqrt(3)
};

inline constexpr double no_prior = std::numeric_limits<double>::infinity();

/// One beta, with a normal prior of mean 0.
struct FitTerm {
    std::string name;
    double prior_deviation = no_prior; ///< > 0; no_prior leaves the term to the data alone
};

/// Prior of a spread that is known to be positive: its logarithm is normal.
struct SpreadPrior {
    double typical = 1.0;            ///< median, > 0; where the search starts if there is no prior
    double log_deviation = no_prior; ///< of the natural logarithm, > 0
};

struct OrdinalModel {
    std::vector<FitTerm> terms;
    /// Ascending: score k lies in [limits[k - 1], limits[k]).
    std::vector<double> limits;
    /// Limits are found from the scores too, starting from `limits`. A term whose x is 1 throughout
    /// says the same as they do and must have a prior or be left out.
    bool free_limits = false;
    double limit_prior_deviation = no_prior; ///< of free limits, about `limits`
    ErrorShape shape = ErrorShape::normal;
    SpreadPrior error;                ///< sigma
    std::optional<SpreadPrior> group; ///< tau; unset: no effect of groups
};

/// Exactly one of score and reading is there.
struct Observation {
    double predicted = 0.0;
    std::vector<double> x; ///< one for each term
    std::optional<int> score;
    std::optional<double> reading;
    /// Of the reading itself, >= 0; known, and on top of sigma. Must be 0 with logistic errors.
    double reading_deviation = 0.0;
    std::size_t group = 0; ///< 0, 1, 2 ...
};

struct Estimate {
    double value = 0.0;
    double standard_error = 0.0;
};

struct OrdinalFit {
    std::vector<Estimate> terms;
    std::vector<Estimate> limits;  ///< the known ones with an error of 0
    Estimate error;                ///< sigma; of the logistic distribution its scale
    std::optional<Estimate> group; ///< tau
    double log_likelihood = 0.0;   ///< without the priors
    bool converged = false;
};

/// What is maximised, with its derivatives. The parameters are, in this order: the terms, log
/// sigma, log tau if there are groups, the limits if they are free.
struct FitEvaluation {
    double log_likelihood = 0.0;
    double log_posterior = 0.0;   ///< with the priors, up to a constant
    std::vector<double> gradient; ///< of log_posterior
    std::vector<double> hessian;  ///< row by row
};

/// Throws Error(Fault::usage) for a model or observations that do not fit together.
[[nodiscard]] FitEvaluation evaluate_fit(const OrdinalModel& model,
                                         std::span<const Observation> observations,
                                         std::span<const double> parameters);

/// Finds the most probable parameters: Newton's method with analytic gradient and Hessian, damped
/// where the Hessian is not negative definite. The effect of a group is integrated out by the
/// trapezoidal rule (L. N. Trefethen and J. A. C. Weideman, "The exponentially convergent
/// trapezoidal rule", SIAM Review 56, 385-458, 2014) about its own mode. Standard errors are from
/// the inverse of the negative Hessian there. `converged` is false if there is no maximum to be
/// found, as without priors when the scores part perfectly. Throws Error(Fault::usage) as
/// evaluate_fit() does.
[[nodiscard]] OrdinalFit fit_ordinal(const OrdinalModel& model,
                                     std::span<const Observation> observations);

/// Probability of each score, 0 first, for an observation of a group of its own.
[[nodiscard]] std::vector<double> score_probabilities(const OrdinalModel& model,
                                                      const OrdinalFit& fit, double predicted,
                                                      std::span<const double> x);

/// Deviation of a single observation of a new group about its prediction.
[[nodiscard]] double total_deviation(const OrdinalModel& model, const OrdinalFit& fit);

} // namespace earshot::maths
