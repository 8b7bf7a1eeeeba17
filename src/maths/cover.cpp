#include "maths/cover.hpp"

#include "base/require.hpp"
#include "maths/covered.hpp"

#include <functional>
#include <numeric>
#include <optional>
#include <queue>
#include <utility>

namespace earshot::maths {
namespace {

bool complete(const CoverProblem& problem, const Covered& covered, double coverable,
              std::size_t count) {
    return covered.total() >= coverable - rounding(coverable) ||
           (!problem.fewest && count >= problem.sites);
}

/// No choice of `sites` covers more than what is covered plus the largest gains that remain.
double bound_from(const std::vector<double>& gains, double covered, std::size_t sites) {
    std::vector<double> sorted = gains;
    const std::size_t k = std::min(sites, sorted.size());
    std::partial_sort(sorted.begin(), sorted.begin() + static_cast<std::ptrdiff_t>(k), sorted.end(),
                      std::greater<>());
    return std::accumulate(sorted.begin(), sorted.begin() + static_cast<std::ptrdiff_t>(k),
                           covered);
}

/// Items no two of which one site covers both: each needs a site of its own.
double disjoint_items(const CoverProblem& problem) {
    const BitRows& serves = *problem.serves;
    std::vector<std::vector<std::size_t>> sites_of(serves.columns());
    for (std::size_t site = 0; site < serves.rows(); ++site) {
        for_each_bit(serves.row(site), [&](std::size_t item) {
            if (problem.weight[item] > 0.0) {
                sites_of[item].push_back(site);
            }
        });
    }
    std::vector<std::size_t> order(serves.columns());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
        return sites_of[a].size() < sites_of[b].size();
    });
    std::vector<bool> used(serves.rows(), false);
    double count = 0.0;
    for (const std::size_t item : order) {
        if (sites_of[item].empty() || std::any_of(sites_of[item].begin(), sites_of[item].end(),
                                                  [&](std::size_t site) { return used[site]; })) {
            continue;
        }
        for (const std::size_t site : sites_of[item]) {
            used[site] = true;
        }
        count += 1.0;
    }
    return count;
}

std::vector<double> gains_of(const CoverProblem& problem, const Covered& covered) {
    std::vector<double> gains(problem.serves->rows());
    for (std::size_t site = 0; site < gains.size(); ++site) {
        gains[site] = covered.gain(site);
    }
    return gains;
}

/// Gives sites in the order in which each adds the most. Gains only ever shrink, so an old gain
/// bounds the new one and few need to be worked out again.
class BestFirst {
public:
    BestFirst(const CoverProblem& problem, std::vector<double> gains) : gains_(std::move(gains)) {
        for (std::size_t site = 0; site < gains_.size(); ++site) {
            if (gains_[site] > 0.0) {
                queue_.push({{gains_[site], merit_of(problem, site)}, site});
            }
        }
    }

    /// The site that adds the most to what is covered; none if no site adds anything.
    std::optional<std::size_t> take(const Covered& covered) {
        while (!queue_.empty()) {
            const auto [worth, site] = queue_.top();
            queue_.pop();
            gains_[site] = covered.gain(site);
            if (gains_[site] >= worth.first) {
                gains_[site] = 0.0;
                return site;
            }
            if (gains_[site] > 0.0) {
                queue_.push({{gains_[site], worth.second}, site});
            }
        }
        return std::nullopt;
    }
    /// What each site adds at most.
    [[nodiscard]] const std::vector<double>& gains() const { return gains_; }

private:
    std::vector<double> gains_;
    std::priority_queue<std::pair<std::pair<double, double>, std::size_t>> queue_;
};

CoverAnswer greedy(const CoverProblem& problem, double coverable, Task& task) {
    CoverAnswer answer;
    answer.coverable = coverable;
    Covered covered(problem);
    BestFirst sites(problem, gains_of(problem, covered));
    answer.bound = std::min(coverable, bound_from(sites.gains(), 0.0, problem.sites));
    while (!complete(problem, covered, coverable, answer.chosen.size())) {
        if (task.stop_requested() && !answer.chosen.empty()) {
            answer.stopped = true;
            break;
        }
        const std::optional<std::size_t> site = sites.take(covered);
        if (!site) {
            break;
        }
        covered.add(*site);
        answer.chosen.push_back(*site);
        task.advance(1);
        if (!problem.fewest) {
            answer.bound =
                std::min(answer.bound, bound_from(sites.gains(), covered.total(), problem.sites));
        }
    }
    // The last bound with every gain up to date.
    answer.bound = problem.fewest
                       ? disjoint_items(problem)
                       : std::min(answer.bound, bound_from(gains_of(problem, covered),
                                                           covered.total(), problem.sites));
    answer.covered = covered.total();
    return answer;
}

/// Greedy choice of sites that hang together: each step takes the linked site that adds the most,
/// or a linked pair of sites if that adds more for each.
class LinkedGreedy {
public:
    LinkedGreedy(const CoverProblem& problem, double coverable, Task& task)
        : problem_(problem), coverable_(coverable), task_(task) {}

    [[nodiscard]] std::vector<std::size_t> run() {
        if (problem_.links->has_base()) {
            return grow({});
        }
        // Without a base the first site decides much: try the strongest few.
        constexpr std::size_t starts = 8;
        const std::vector<double> gains = gains_of(problem_, Covered(problem_));
        std::vector<std::size_t> order(gains.size());
        std::iota(order.begin(), order.end(), std::size_t{0});
        std::stable_sort(order.begin(), order.end(),
                         [&](std::size_t a, std::size_t b) { return gains[a] > gains[b]; });
        std::vector<std::size_t> best;
        for (std::size_t k = 0; k < std::min(starts, order.size()); ++k) {
            std::vector<std::size_t> chosen = grow({order[k]});
            if (best.empty() || better(chosen, best)) {
                best = std::move(chosen);
            }
            if (task_.stop_requested()) {
                break;
            }
        }
        return best;
    }

private:
    [[nodiscard]] bool better(const std::vector<std::size_t>& a,
                              const std::vector<std::size_t>& b) const {
        const double covers_a = covered_by(problem_, a);
        const double covers_b = covered_by(problem_, b);
        return covers_a > covers_b + rounding(covers_b) ||
               (covers_a >= covers_b - rounding(covers_b) && a.size() < b.size());
    }

    [[nodiscard]] std::vector<std::size_t> grow(std::vector<std::size_t> chosen) const {
        SiteLinks& links = *problem_.links;
        const std::size_t count = problem_.serves->rows();
        Covered covered(problem_);
        std::vector<bool> linked(count, false);
        std::vector<bool> taken(count, false);
        const auto take = [&](std::size_t site) {
            covered.add(site);
            taken[site] = true;
            for (const std::size_t other : links.neighbours(site)) {
                linked[other] = true;
            }
        };
        for (std::size_t site = 0; links.has_base() && site < count; ++site) {
            linked[site] = links.at_base(site);
        }
        for (const std::size_t site : chosen) {
            take(site);
        }
        while (!complete(problem_, covered, coverable_, chosen.size()) && !task_.stop_requested()) {
            const std::vector<std::size_t> next = best_step(
                covered, linked, taken, problem_.fewest ? 2 : problem_.sites - chosen.size());
            if (next.empty()) {
                break;
            }
            for (const std::size_t site : next) {
                take(site);
                chosen.push_back(site);
            }
        }
        return chosen;
    }

    [[nodiscard]] std::vector<std::size_t> best_step(const Covered& covered,
                                                     const std::vector<bool>& linked,
                                                     const std::vector<bool>& taken,
                                                     std::size_t room) const {
        std::vector<std::pair<double, std::size_t>> near;
        for (std::size_t site = 0; site < linked.size(); ++site) {
            if (linked[site] && !taken[site]) {
                near.emplace_back(-(covered.gain(site) + 1e-9 * merit_of(problem_, site)), site);
            }
        }
        std::sort(near.begin(), near.end());
        double best_each = 0.0;
        std::vector<std::size_t> best;
        if (!near.empty() && covered.gain(near.front().second) > 0.0) {
            best = {near.front().second};
            best_each = covered.gain(near.front().second);
        }
        // Each bridge asks for its links, which cost predictions: only the likeliest.
        constexpr std::size_t bridges = 24;
        for (std::size_t k = 0; room >= 2 && k < std::min(bridges, near.size()); ++k) {
            const std::size_t bridge = near[k].second;
            Covered with = covered;
            const double first = with.add(bridge);
            for (const std::size_t site : problem_.links->neighbours(bridge)) {
                const double each = taken[site] ? 0.0 : (first + with.gain(site)) / 2.0;
                if (each > best_each + rounding(best_each)) {
                    best_each = each;
                    best = {bridge, site};
                }
            }
            if (task_.stop_requested()) {
                break;
            }
        }
        return best;
    }

    const CoverProblem& problem_;
    double coverable_;
    Task& task_;
};

/// Puts the chosen in the order in which each adds the most to those before it.
void order_by_gain(const CoverProblem& problem, std::vector<std::size_t>& chosen) {
    Covered covered(problem);
    for (auto place = chosen.begin(); place != chosen.end(); ++place) {
        std::iter_swap(place, std::max_element(place, chosen.end(), [&](auto a, auto b) {
                           return std::pair(covered.gain(a), merit_of(problem, a)) <
                                  std::pair(covered.gain(b), merit_of(problem, b));
                       }));
        covered.add(*place);
    }
}

void check(const CoverProblem& problem) {
    require_input(problem.serves != nullptr && problem.serves->rows() > 0,
                  "there is no site to choose from");
    require_usage(problem.sites > 0, "at least one site must be allowed");
    if (problem.weight.size() != problem.serves->columns() ||
        (!problem.merit.empty() && problem.merit.size() != problem.serves->rows())) {
        throw Error(Fault::internal, "sizes of a covering problem do not match");
    }
}

} // namespace

double covered_by(const CoverProblem& problem, std::span<const std::size_t> chosen) {
    Covered covered(problem);
    for (const std::size_t site : chosen) {
        covered.add(site);
    }
    return covered.total();
}

bool CoverAnswer::complete() const {
    return covered >= coverable - rounding(coverable);
}

CoverAnswer greedy_choice(const CoverProblem& problem, Task& task) {
    check(problem);
    task.begin("choice of sites", problem.fewest ? problem.serves->rows() : problem.sites);
    Covered all(problem);
    for (std::size_t site = 0; site < problem.serves->rows(); ++site) {
        all.add(site);
    }
    CoverAnswer answer = greedy(problem, all.total(), task);
    answer.fewest = problem.fewest;
    if (problem.links != nullptr) {
        answer.chosen = LinkedGreedy(problem, answer.coverable, task).run();
        answer.covered = covered_by(problem, answer.chosen);
        answer.proven = false;
    }
    return answer;
}

void settle(const CoverProblem& problem, CoverAnswer& answer, const Task& task) {
    if (!problem.fewest) {
        answer.bound = std::max(answer.bound, answer.covered);
        answer.proven = answer.proven || answer.covered >= answer.bound - rounding(answer.bound);
        if (answer.proven) {
            answer.bound = answer.covered;
        }
    } else if (static_cast<double>(answer.chosen.size()) <= answer.bound && answer.complete()) {
        answer.proven = true;
    }
    answer.stopped = (answer.stopped || task.stop_requested()) && !answer.proven;
    answer.timed_out = answer.stopped && !task.stop_requested();
    order_by_gain(problem, answer.chosen);
}

CoverAnswer choose_greedily(const CoverProblem& problem, Task& task) {
    CoverAnswer answer = greedy_choice(problem, task);
    settle(problem, answer, task);
    task.end();
    return answer;
}

std::vector<std::size_t> promising_sites(const CoverProblem& problem, std::size_t count,
                                         Task& task) {
    check(problem);
    std::vector<double> alone = gains_of(problem, Covered(problem)); // 0 for those listed
    std::vector<std::size_t> listed;
    while (listed.size() < count && !task.stop_requested()) {
        BestFirst sites(problem, alone);
        Covered covered(problem);
        const std::size_t before = listed.size();
        const std::size_t most = problem.fewest ? count : std::min(count, before + problem.sites);
        while (listed.size() < most) {
            const std::optional<std::size_t> site = sites.take(covered);
            if (!site) {
                break;
            }
            covered.add(*site);
            listed.push_back(*site);
            alone[*site] = 0.0;
        }
        if (listed.size() == before) {
            break;
        }
    }
    return listed;
}

} // namespace earshot::maths
