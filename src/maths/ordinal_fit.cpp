#include "maths/ordinal_fit.hpp"

#include "earshot/base/error.hpp"

#include <Eigen/Dense>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace earshot::maths {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double infinity = std::numeric_limits<double>::infinity();
const double log_sqrt_two_pi = 0.5 * std::log(2.0 * std::numbers::pi);

/// log Phi(x), with all its digits however small Phi is.
double log_normal_probability(double x) {
    // Below, erfc loses digits and then underflows; the series (Abramowitz and Stegun 26.2.12) is
    // exact to 1e-12 there.
    constexpr double series_below = -30.0;
    if (x > series_below) {
        return std::log(0.5 * std::erfc(-x / std::numbers::sqrt2));
    }
    const double r = 1.0 / (x * x);
    return -0.5 * x * x - std::log(-x) - log_sqrt_two_pi +
           std::log1p(-r * (1.0 - 3.0 * r * (1.0 - 5.0 * r)));
}

double log_logistic_probability(double x) {
    return x > 0.0 ? -std::log1p(std::exp(-x)) : x - std::log1p(std::exp(x));
}

double log_density(ErrorShape shape, double z) {
    if (shape == ErrorShape::normal) {
        return -0.5 * z * z - log_sqrt_two_pi;
    }
    const double away = std::abs(z);
    return -away - 2.0 * std::log1p(std::exp(-away));
}

/// Derivative of the logarithm of the density.
double score_of_density(ErrorShape shape, double z) {
    return shape == ErrorShape::normal ? -z : -std::tanh(0.5 * z);
}

double second_of_density(ErrorShape shape, double z) {
    if (shape == ErrorShape::normal) {
        return -1.0;
    }
    const double t = std::tanh(0.5 * z);
    return -0.5 * (1.0 - t * t);
}

/// log(F(upper) - F(lower)) for lower < upper.
double log_between(ErrorShape shape, double lower, double upper) {
    if (shape == ErrorShape::logistic) {
        // F(u) - F(l) = F(u) (1 - F(l)) (1 - exp(l - u))
        const double gap =
            std::isinf(upper) || std::isinf(lower) ? 0.0 : std::log(-std::expm1(lower - upper));
        return (std::isinf(upper) ? 0.0 : log_logistic_probability(upper)) +
               (std::isinf(lower) ? 0.0 : log_logistic_probability(-lower)) + gap;
    }
    if (lower > 0.0) { // in the upper tail the small numbers are on the other side
        std::swap(lower, upper);
        lower = -lower;
        upper = -upper;
    }
    const double most = std::isinf(upper) ? 0.0 : log_normal_probability(upper);
    return std::isinf(lower) ? most
                             : most + std::log1p(-std::exp(log_normal_probability(lower) - most));
}

/// The logarithm of an observation's likelihood and its derivatives by the standardised limits
/// (z_upper, z_lower), or by z alone (in the place of the upper) for a reading.
struct Contribution {
    double value = 0.0;
    double by_upper = 0.0, by_lower = 0.0;
    double upper_upper = 0.0, lower_lower = 0.0, upper_lower = 0.0;
};

Contribution of_interval(ErrorShape shape, double lower, double upper) {
    Contribution c;
    if (!(lower < upper)) {
        c.value = -infinity;
        return c;
    }
    c.value = log_between(shape, lower, upper);
    if (!std::isinf(upper)) {
        c.by_upper = std::exp(log_density(shape, upper) - c.value);
        c.upper_upper = c.by_upper * (score_of_density(shape, upper) - c.by_upper);
    }
    if (!std::isinf(lower)) {
        c.by_lower = -std::exp(log_density(shape, lower) - c.value);
        c.lower_lower = c.by_lower * (score_of_density(shape, lower) - c.by_lower);
    }
    c.upper_lower = -c.by_upper * c.by_lower;
    return c;
}

Contribution of_reading(ErrorShape shape, double z) {
    Contribution c;
    c.value = log_density(shape, z);
    c.by_upper = score_of_density(shape, z);
    c.upper_upper = second_of_density(shape, z);
    return c;
}

/// Where each parameter stands.
struct Layout {
    Eigen::Index terms = 0, error = 0, group = -1, limits = -1, size = 0;

    explicit Layout(const OrdinalModel& model) {
        terms = static_cast<Eigen::Index>(model.terms.size());
        error = terms;
        size = terms + 1;
        if (model.group) {
            group = size++;
        }
        if (model.free_limits) {
            limits = size;
            size += static_cast<Eigen::Index>(model.limits.size());
        }
    }
};

void require(bool fits, const std::string& what) {
    if (!fits) {
        throw_usage("the fit of scores: " + what);
    }
}

void check(const OrdinalModel& model, std::span<const Observation> observations) {
    require(!observations.empty(), "there are no observations");
    require(std::is_sorted(model.limits.begin(), model.limits.end()), "the limits must ascend");
    require(model.error.typical > 0.0 && (!model.group || model.group->typical > 0.0),
            "a typical spread must be more than 0");
    for (const Observation& o : observations) {
        require(o.x.size() == model.terms.size(), "each observation needs an x for each term");
        require(o.score.has_value() != o.reading.has_value(),
                "an observation has either a score or a reading");
        require(!o.score ||
                    (*o.score >= 0 && static_cast<std::size_t>(*o.score) <= model.limits.size()),
                "a score is outside the limits");
        require(std::isfinite(o.predicted), "a prediction is not known");
        require(o.reading_deviation >= 0.0 &&
                    (o.reading_deviation == 0.0 || model.shape == ErrorShape::normal),
                "a reading's own deviation is 0 or more, and 0 with logistic errors");
    }
}

/// Value, gradient and Hessian that are added up.
struct Sum {
    double value = 0.0;
    VectorXd gradient;
    MatrixXd hessian;

    explicit Sum(Eigen::Index size)
        : gradient(VectorXd::Zero(size)), hessian(MatrixXd::Zero(size, size)) {}
    void clear() {
        value = 0.0;
        gradient.setZero();
        hessian.setZero();
    }
};

// The integral over a group's effect is a sum over nodes at even distances, which converges
// exponentially for smooth integrands that vanish on both sides.
constexpr double negligible_log = -28.0;
constexpr int most_nodes_of_a_side = 500;

/// Distance of the nodes for an integrand whose peak has this deviation and whose edges, where
/// scores begin, have that one: then less than a part in 1e10 is lost.
double spacing_of(double peak, double edge) {
    constexpr double least = 0.01; // an effect has deviation 1: sharper edges do not matter
    return std::max(least, std::min(0.7 * peak, 0.8 * edge));
}

class Likelihood {
public:
    Likelihood(const OrdinalModel& model, std::span<const Observation> observations)
        : model_(model), observations_(observations), layout_(model), middle_(layout_.size),
          node_(layout_.size), mean_(layout_.size), by_upper_(layout_.size),
          by_lower_(layout_.size), second_(layout_.size, layout_.size) {
        check(model, observations);
        for (const Observation& o : observations) {
            groups_.resize(std::max(groups_.size(), o.group + 1));
            groups_[o.group].push_back(&o);
        }
        mode_.assign(groups_.size(), 0.0);
    }

    [[nodiscard]] const Layout& layout() const { return layout_; }

    [[nodiscard]] VectorXd start() const {
        VectorXd p = VectorXd::Zero(layout_.size);
        p(layout_.error) = std::log(model_.error.typical);
        if (model_.group) {
            p(layout_.group) = std::log(model_.group->typical);
        }
        if (model_.free_limits) {
            for (std::size_t k = 0; k < model_.limits.size(); ++k) {
                p(layout_.limits + static_cast<Eigen::Index>(k)) = model_.limits[k];
            }
        }
        return p;
    }

    /// The logarithm of the likelihood.
    [[nodiscard]] Sum operator()(const VectorXd& p) {
        set(p);
        Sum sum(layout_.size);
        if (!model_.group) {
            for (const Observation& o : observations_) {
                add(o, 0.0, sum);
            }
            return sum;
        }
        for (std::size_t g = 0; g < groups_.size(); ++g) {
            if (!groups_[g].empty()) {
                add_group(g, sum);
            }
        }
        return sum;
    }

    void add_priors(const VectorXd& p, Sum& sum) const {
        const auto normal = [&](Eigen::Index k, double mean, double deviation) {
            if (std::isinf(deviation)) {
                return;
            }
            const double weight = 1.0 / (deviation * deviation);
            sum.value -= 0.5 * weight * (p(k) - mean) * (p(k) - mean);
            sum.gradient(k) -= weight * (p(k) - mean);
            sum.hessian(k, k) -= weight;
        };
        for (Eigen::Index t = 0; t < layout_.terms; ++t) {
            normal(t, 0.0, model_.terms[static_cast<std::size_t>(t)].prior_deviation);
        }
        normal(layout_.error, std::log(model_.error.typical), model_.error.log_deviation);
        if (model_.group) {
            normal(layout_.group, std::log(model_.group->typical), model_.group->log_deviation);
        }
        if (model_.free_limits) {
            for (std::size_t k = 0; k < model_.limits.size(); ++k) {
                normal(layout_.limits + static_cast<Eigen::Index>(k), model_.limits[k],
                       model_.limit_prior_deviation);
            }
        }
    }

private:
    void set(const VectorXd& p) {
        parameters_ = &p;
        sigma_ = std::exp(p(layout_.error));
        tau_ = model_.group ? std::exp(p(layout_.group)) : 0.0;
    }

    [[nodiscard]] double limit(int k) const {
        if (k < 0) {
            return -infinity;
        }
        if (static_cast<std::size_t>(k) >= model_.limits.size()) {
            return infinity;
        }
        return model_.free_limits ? (*parameters_)(layout_.limits + k)
                                  : model_.limits[static_cast<std::size_t>(k)];
    }

    [[nodiscard]] double centre(const Observation& o) const {
        double eta = o.predicted;
        for (std::size_t t = 0; t < o.x.size(); ++t) {
            eta += o.x[t] * (*parameters_)(static_cast<Eigen::Index>(t));
        }
        return eta;
    }

    /// Deviation of a reading, and which share of its variance is sigma's.
    [[nodiscard]] double reading_spread(const Observation& o) const {
        return std::hypot(sigma_, o.reading_deviation);
    }

    [[nodiscard]] Contribution contribution(const Observation& o, double eta) const {
        if (o.reading) {
            const double spread = reading_spread(o);
            Contribution c = of_reading(model_.shape, (*o.reading - eta) / spread);
            c.value -= std::log(spread);
            return c;
        }
        return of_interval(model_.shape, (limit(*o.score - 1) - eta) / sigma_,
                           (limit(*o.score) - eta) / sigma_);
    }

    /// Adds what one observation says when its group's effect is `v`.
    void add(const Observation& o, double v, Sum& sum) {
        const double eta = centre(o) + tau_ * v;
        const Contribution c = contribution(o, eta);
        sum.value += c.value;
        if (o.reading) {
            add_reading(o, eta, v, c, sum);
        } else {
            add_score(o, eta, v, c, sum);
        }
    }

    /// Derivatives of z = (limit - eta) / spread. `share` is that of sigma in the variance of the
    /// spread: 1 for scores.
    void slopes(const Observation& o, double z, double v, double spread, double share,
                VectorXd& by) const {
        by.setZero();
        for (std::size_t t = 0; t < o.x.size(); ++t) {
            by(static_cast<Eigen::Index>(t)) = -o.x[t] / spread;
        }
        by(layout_.error) = -z * share;
        if (model_.group) {
            by(layout_.group) = -tau_ * v / spread;
        }
    }

    /// Adds `weight` times the second derivatives of z.
    void add_bends(const Observation& o, double z, double v, double spread, double share,
                   double weight, int limit_index, MatrixXd& hessian) const {
        const auto both = [&](Eigen::Index i, double value) {
            hessian(i, layout_.error) += weight * value;
            hessian(layout_.error, i) += weight * value;
        };
        for (std::size_t t = 0; t < o.x.size(); ++t) {
            both(static_cast<Eigen::Index>(t), share * o.x[t] / spread);
        }
        hessian(layout_.error, layout_.error) +=
            weight * z * (share * share - 2.0 * share * (1.0 - share));
        if (model_.group) {
            both(layout_.group, share * tau_ * v / spread);
            hessian(layout_.group, layout_.group) -= weight * tau_ * v / spread;
        }
        if (limit_index >= 0) {
            both(layout_.limits + limit_index, -share / spread);
        }
    }

    void add_reading(const Observation& o, double eta, double v, const Contribution& c, Sum& sum) {
        const double spread = reading_spread(o);
        const double share = (sigma_ / spread) * (sigma_ / spread);
        const double z = (*o.reading - eta) / spread;
        slopes(o, z, v, spread, share, by_upper_);
        sum.gradient += c.by_upper * by_upper_;
        sum.hessian.noalias() += (c.upper_upper * by_upper_) * by_upper_.transpose();
        add_bends(o, z, v, spread, share, c.by_upper, -1, sum.hessian);
        // What the spread itself does to the density.
        sum.gradient(layout_.error) -= share;
        sum.hessian(layout_.error, layout_.error) -= 2.0 * share * (1.0 - share);
    }

    void add_score(const Observation& o, double eta, double v, const Contribution& c, Sum& sum) {
        const auto one_side = [&](int k, VectorXd& by, double first, double second) {
            if (std::isinf(limit(k))) {
                by.setZero();
                return;
            }
            const double z = (limit(k) - eta) / sigma_;
            slopes(o, z, v, sigma_, 1.0, by);
            if (model_.free_limits) {
                by(layout_.limits + k) = 1.0 / sigma_;
            }
            sum.gradient += first * by;
            sum.hessian.noalias() += (second * by) * by.transpose();
            add_bends(o, z, v, sigma_, 1.0, first, model_.free_limits ? k : -1, sum.hessian);
        };
        one_side(*o.score, by_upper_, c.by_upper, c.upper_upper);
        one_side(*o.score - 1, by_lower_, c.by_lower, c.lower_lower);
        if (c.upper_lower != 0.0) {
            sum.hessian.noalias() += (c.upper_lower * by_upper_) * by_lower_.transpose();
            sum.hessian.noalias() += (c.upper_lower * by_lower_) * by_upper_.transpose();
        }
    }

    /// First and second derivative, by v, of what a group says together with the density of v.
    [[nodiscard]] std::pair<double, double> slope_by_effect(std::size_t g, double v) const {
        double first = -v;
        double second = -1.0;
        for (std::size_t k = 0; k < groups_[g].size(); ++k) {
            const Observation& o = *groups_[g][k];
            const Contribution c = contribution(o, centres_[k] + tau_ * v);
            const double by = -tau_ / (o.reading ? reading_spread(o) : sigma_);
            first += by * (c.by_upper + c.by_lower);
            second += by * by * (c.upper_upper + c.lower_lower + 2.0 * c.upper_lower);
        }
        return {first, second};
    }

    /// Integrates over the effect of a group: log of the integral of exp(h(v)), from the mode
    /// outward on both sides. Its derivatives are means over the density that exp(h) is
    /// proportional to.
    void add_group(std::size_t g, Sum& sum) {
        centres_.clear();
        for (const Observation* o : groups_[g]) {
            centres_.push_back(centre(*o));
        }
        const double width = find_mode(g);
        const double spacing = spacing_of(width, sigma_ / tau_);
        node_at(g, mode_[g], middle_);
        if (!std::isfinite(middle_.value)) {
            sum.value = -infinity;
            return;
        }
        double total = 0.0;
        mean_.setZero();
        second_.setZero();
        const auto take = [&](const Sum& node) {
            const double weight = std::exp(node.value - middle_.value);
            total += weight;
            mean_ += weight * node.gradient;
            second_.noalias() += weight * node.hessian;
            second_.noalias() += (weight * node.gradient) * node.gradient.transpose();
        };
        take(middle_);
        for (const double side : {-spacing, spacing}) {
            for (int k = 1; k <= most_nodes_of_a_side; ++k) {
                node_at(g, mode_[g] + k * side, node_);
                if (!(node_.value - middle_.value > negligible_log)) {
                    break;
                }
                take(node_);
            }
        }
        mean_ /= total;
        sum.value += middle_.value + std::log(total * spacing) - log_sqrt_two_pi;
        sum.gradient += mean_;
        sum.hessian += second_ / total - mean_ * mean_.transpose();
    }

    /// What a group says together with the density of its effect, at one effect.
    void node_at(std::size_t g, double v, Sum& node) {
        node.clear();
        for (const Observation* o : groups_[g]) {
            add(*o, v, node);
        }
        node.value -= 0.5 * v * v;
    }

    /// Moves mode_[g] to the most probable effect and returns the deviation around it. The
    /// logarithm is concave, so Newton's method with shortened steps cannot miss.
    double find_mode(std::size_t g) {
        double& v = mode_[g];
        constexpr int most_steps = 50;
        constexpr double longest_step = 3.0; // of a variable whose deviation is 1
        double second = -1.0;
        for (int step = 0; step < most_steps; ++step) {
            const auto [slope, bend] = slope_by_effect(g, v);
            if (!std::isfinite(slope) || !std::isfinite(bend)) {
                v = 0.0;
                return 1.0;
            }
            second = bend;
            const double move = std::clamp(-slope / bend, -longest_step, longest_step);
            v += move;
            if (std::abs(move) < 1e-4) { // the middle need only be near the mode
                break;
            }
        }
        return 1.0 / std::sqrt(-second);
    }

    const OrdinalModel& model_;
    std::span<const Observation> observations_;
    Layout layout_;
    std::vector<std::vector<const Observation*>> groups_;
    std::vector<double> mode_; ///< of each group's effect, found last
    const VectorXd* parameters_ = nullptr;
    double sigma_ = 1.0, tau_ = 0.0;
    std::vector<double> centres_;
    Sum middle_, node_;
    VectorXd mean_, by_upper_, by_lower_;
    MatrixXd second_;
};

struct Maximum {
    VectorXd at;
    MatrixXd covariance;
    double log_likelihood = 0.0;
    bool converged = false;
};

/// The step that leads to a maximum of the quadratic form, damped by `damping` of the Hessian's own
/// diagonal. Empty if the damped form has no maximum.
std::optional<VectorXd> newton_step(const Sum& at, double damping) {
    MatrixXd form = -at.hessian;
    for (Eigen::Index k = 0; k < form.rows(); ++k) {
        form(k, k) += damping * (std::abs(form(k, k)) + 1e-6);
    }
    const Eigen::LLT<MatrixXd> solved(form);
    if (solved.info() != Eigen::Success) {
        return std::nullopt;
    }
    return VectorXd(solved.solve(at.gradient));
}

Maximum maximise(Likelihood& likelihood) {
    Maximum result;
    result.at = likelihood.start();
    const auto evaluate = [&](const VectorXd& p) {
        Sum sum = likelihood(p);
        result.log_likelihood = sum.value;
        likelihood.add_priors(p, sum);
        return sum;
    };
    Sum here = evaluate(result.at);
    double log_likelihood = result.log_likelihood;
    double damping = 0.0;
    constexpr int most_iterations = 200;
    constexpr double least_damping = 1e-4;
    constexpr double nearly_undamped = 1e-3;
    constexpr double most_damping = 1e12;
    // Gains of the log posterior below this move no parameter by more than a few thousandths of its
    // standard error.
    constexpr double least_gain = 1e-6;
    for (int iteration = 0; iteration < most_iterations; ++iteration) {
        const auto step = newton_step(here, damping);
        // Twice the gain that is still to be had, if the form were exact.
        const double promised = step ? here.gradient.dot(*step) : infinity;
        if (step && damping <= nearly_undamped && promised < least_gain) {
            result.at += *step;
            result.converged = true;
            break;
        }
        if (step) {
            const VectorXd there = result.at + *step;
            const Sum next = evaluate(there);
            // Rounding hides gains of the last steps.
            const double hidden = 1e-9 * (1.0 + std::abs(here.value));
            if (std::isfinite(next.value) && next.value >= here.value - hidden) {
                result.at = there;
                here = next;
                log_likelihood = result.log_likelihood;
                damping = damping <= least_damping ? 0.0 : 0.1 * damping;
                continue;
            }
        }
        damping = std::max(least_damping, 10.0 * damping);
        if (damping > most_damping) {
            break;
        }
    }
    result.log_likelihood = log_likelihood;
    const Eigen::LLT<MatrixXd> solved(-here.hessian);
    result.converged = result.converged && solved.info() == Eigen::Success;
    result.covariance = solved.solve(MatrixXd::Identity(here.hessian.rows(), here.hessian.cols()));
    return result;
}

std::vector<double> row_by_row(const MatrixXd& matrix) {
    std::vector<double> values;
    for (Eigen::Index i = 0; i < matrix.rows(); ++i) {
        for (Eigen::Index j = 0; j < matrix.cols(); ++j) {
            values.push_back(matrix(i, j));
        }
    }
    return values;
}

/// The mean of a function of a group's effect that changes over `sharpness` inverse deviations.
template <typename Function>
double mean_over_effect(double sharpness, Function&& function) {
    const double spacing = spacing_of(1.0, sharpness > 0.0 ? 1.0 / sharpness : 1.0);
    const int nodes = static_cast<int>(std::sqrt(-2.0 * negligible_log) / spacing);
    double sum = 0.0;
    for (int k = -nodes; k <= nodes; ++k) {
        const double v = k * spacing;
        sum += std::exp(-0.5 * v * v - log_sqrt_two_pi) * spacing * function(v);
    }
    return sum;
}

double probability_below(ErrorShape shape, double z) {
    return std::exp(shape == ErrorShape::normal ? log_normal_probability(z)
                                                : log_logistic_probability(z));
}

} // namespace

FitEvaluation evaluate_fit(const OrdinalModel& model, std::span<const Observation> observations,
                           std::span<const double> parameters) {
    Likelihood likelihood(model, observations);
    require(parameters.size() == static_cast<std::size_t>(likelihood.layout().size),
            "the number of parameters is wrong");
    const VectorXd p =
        Eigen::Map<const VectorXd>(parameters.data(), static_cast<Eigen::Index>(parameters.size()));
    Sum sum = likelihood(p);
    FitEvaluation result;
    result.log_likelihood = sum.value;
    likelihood.add_priors(p, sum);
    result.log_posterior = sum.value;
    result.gradient.assign(sum.gradient.begin(), sum.gradient.end());
    result.hessian = row_by_row(sum.hessian);
    return result;
}

OrdinalFit fit_ordinal(const OrdinalModel& model, std::span<const Observation> observations) {
    Likelihood likelihood(model, observations);
    const Layout& layout = likelihood.layout();
    const Maximum maximum = maximise(likelihood);
    const auto estimate = [&](Eigen::Index k) {
        return Estimate{maximum.at(k), std::sqrt(maximum.covariance(k, k))};
    };
    // A spread from its logarithm.
    const auto spread = [&](Eigen::Index k) {
        const double value = std::exp(maximum.at(k));
        return Estimate{value, value * estimate(k).standard_error};
    };
    OrdinalFit fit;
    for (Eigen::Index t = 0; t < layout.terms; ++t) {
        fit.terms.push_back(estimate(t));
    }
    for (std::size_t k = 0; k < model.limits.size(); ++k) {
        fit.limits.push_back(model.free_limits
                                 ? estimate(layout.limits + static_cast<Eigen::Index>(k))
                                 : Estimate{model.limits[k], 0.0});
    }
    fit.error = spread(layout.error);
    if (model.group) {
        fit.group = spread(layout.group);
    }
    fit.log_likelihood = maximum.log_likelihood;

    fit.converged = maximum.converged;

    return fit;
}

std::vector<double> score_probabilities(const OrdinalModel& model, const OrdinalFit& fit,
                                        double predicted, std::span<const double> x) {
    double eta = predicted;
    for (std::size_t t = 0; t < x.size(); ++t) {
        eta += x[t] * fit.terms[t].value;
    }
    const double tau = fit.group ? fit.group->value : 0.0;
    std::vector<double> probabilities;
    double below_last = 0.0;
    for (const Estimate& limit : fit.limits) {
        double below = 0.0;
        if (model.shape == ErrorShape::normal) { // a sum of normal variables is one
            below = probability_below(model.shape,
                                      (limit.value - eta) / std::hypot(fit.error.value, tau));
        } else {
            below = mean_over_effect(tau / fit.error.value, [&](double v) {
                return probability_below(model.shape,
                                         (limit.value - eta - tau * v) / fit.error.value);
            });
        }
        probabilities.push_back(below - below_last);
        below_last = below;
    }
    probabilities.push_back(1.0 - below_last);
    return probabilities;
}

double total_deviation(const OrdinalModel& model, const OrdinalFit& fit) {
    const double unit =
        model.shape == ErrorShape::normal ? 1.0 : std::numbers::pi / std::numbers::sqrt3;
    return std::hypot(unit * fit.error.value, fit.group ? fit.group->value : 0.0);
}

} // namespace earshot::maths
