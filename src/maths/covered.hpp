#pragma once

#include "maths/cover.hpp"

/// What both ways to choose sites need.

namespace earshot::maths {

/// What has been covered so far, and what a site would add.
class Covered {
public:
    explicit Covered(const CoverProblem& problem)
        : serves_(*problem.serves), weight_(problem.weight),
          bits_((problem.serves->columns() + 63) / 64, 0) {
        uniform_ = !weight_.empty() && std::all_of(weight_.begin(), weight_.end(),
                                                   [&](double w) { return w == weight_.front(); });
    }
    [[nodiscard]] double gain(std::size_t site) const {
        const auto row = serves_.row(site);
        if (uniform_) {
            std::size_t count = 0;
            for (std::size_t w = 0; w < row.size(); ++w) {
                count += static_cast<std::size_t>(std::popcount(row[w] & ~bits_[w]));
            }
            return static_cast<double>(count) * weight_.front();
        }
        double gain = 0.0;
        for (std::size_t w = 0; w < row.size(); ++w) {
            for (std::uint64_t word = row[w] & ~bits_[w]; word != 0; word &= word - 1) {
                gain += weight_[w * 64 + static_cast<std::size_t>(std::countr_zero(word))];
            }
        }
        return gain;
    }
    double add(std::size_t site) {
        const double gained = gain(site);
        const auto row = serves_.row(site);
        for (std::size_t w = 0; w < row.size(); ++w) {
            bits_[w] |= row[w];
        }
        total_ += gained;
        return gained;
    }
    [[nodiscard]] double total() const { return total_; }

private:
    const BitRows& serves_;
    const std::vector<double>& weight_;
    std::vector<std::uint64_t> bits_;
    bool uniform_ = false;
    double total_ = 0.0;
};

[[nodiscard]] double covered_by(const CoverProblem& problem, std::span<const std::size_t> chosen);

[[nodiscard]] inline double merit_of(const CoverProblem& problem, std::size_t site) {
    return problem.merit.empty() ? 0.0 : problem.merit[site];
}

/// Weight is summed in different orders in different places; this much is rounding.
[[nodiscard]] inline double rounding(double weight) {
    return 1e-9 * std::max(1.0, weight);
}

/// A choice by gain alone and its bound: what choose_greedily() gives, before settle().
[[nodiscard]] CoverAnswer greedy_choice(const CoverProblem& problem, Task& task);

/// Makes of a choice and its bound an answer: says what is proven, puts the chosen in order.
void settle(const CoverProblem& problem, CoverAnswer& answer, const Task& task);

} // namespace earshot::maths
