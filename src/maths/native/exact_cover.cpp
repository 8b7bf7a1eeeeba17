#include "maths/covered.hpp"

#include <CbcEventHandler.hpp>
#include <CbcModel.hpp>
#include <CbcSolver.hpp>
#include <CoinPackedMatrix.hpp>
#include <OsiClpSolverInterface.hpp>
#include <fmt/format.h>

#include <array>
#include <chrono>
#include <cmath>
#include <csignal>
#include <limits>
#include <map>
#include <optional>
#include <utility>

namespace earshot::maths {
namespace {

using Clock = std::chrono::steady_clock;

/// A bound of this size is none to the solver.
constexpr double unlimited = std::numeric_limits<double>::max();

/// What a site costs beside what it covers: a little more than nothing, so that none is chosen in
/// vain, and more for less merit.
double lack_of_merit(const CoverProblem& problem, std::size_t site) {
    return 1.001 - merit_of(problem, site);
}

/// Groups of chosen sites that hang together; the first is the one with the base, if there is one.
std::vector<std::vector<std::size_t>> groups_of(SiteLinks& links,
                                                std::span<const std::size_t> chosen) {
    std::vector<std::vector<std::size_t>> groups;
    std::vector<std::size_t> left(chosen.begin(), chosen.end());
    const auto flood = [&](std::vector<std::size_t> group) {
        for (std::size_t k = 0; k < group.size(); ++k) {
            const std::vector<std::size_t>& near = links.neighbours(group[k]);
            std::erase_if(left, [&](std::size_t site) {
                const bool found = std::binary_search(near.begin(), near.end(), site);
                if (found) {
                    group.push_back(site);
                }
                return found;
            });
        }
        groups.push_back(std::move(group));
    };
    if (links.has_base()) {
        const auto apart = std::stable_partition(
            left.begin(), left.end(), [&](std::size_t site) { return links.at_base(site); });
        std::vector<std::size_t> rooted(left.begin(), apart);
        left.erase(left.begin(), apart);
        flood(std::move(rooted));
    }
    while (!left.empty()) {
        const std::size_t seed = left.back();
        left.pop_back();
        flood({seed});
    }
    return groups;
}

/// The problem with items that share all their sites merged, and without sites that another does
/// no worse than.
struct Reduced {
    std::vector<std::size_t> sites;                 ///< by their numbers in the whole problem
    std::vector<std::vector<std::size_t>> items_of; ///< of each of `sites`
    std::vector<double> weight;                     ///< of the merged items
    std::size_t entries = 0;
};

std::uint64_t scrambled(std::uint64_t x) {
    // A bijection of 64 bits without visible pattern, so that sums of it tell sets apart.
    x ^= x >> 31U;
    x *= 0x9e3779b97f4a7c15ULL;
    x ^= x >> 29U;
    x *= 0xd1342543de82ef95ULL;
    return x ^ (x >> 32U);
}

/// Of each site, the kinds of items it covers: items that share all their sites are one kind.
/// Fills the weights of the kinds.
std::vector<std::vector<std::size_t>> merge_items(const CoverProblem& problem, Reduced& reduced) {
    const BitRows& serves = *problem.serves;
    using Print = std::pair<std::uint64_t, std::uint64_t>;
    std::vector<Print> prints(serves.columns());
    for (std::size_t site = 0; site < serves.rows(); ++site) {
        const std::uint64_t a = scrambled(2 * site + 1);
        const std::uint64_t b = scrambled(a + site);
        for_each_bit(serves.row(site), [&](std::size_t item) {
            prints[item].first += a;
            prints[item].second += b;
        });
    }
    std::map<Print, std::size_t> merged;
    std::vector<std::optional<std::size_t>> kind_of(serves.columns()); // of the first of a kind
    for (std::size_t item = 0; item < serves.columns(); ++item) {
        if (prints[item] == Print{} || problem.weight[item] <= 0.0) {
            continue;
        }
        const auto [kind, fresh] = merged.try_emplace(prints[item], reduced.weight.size());
        if (fresh) {
            reduced.weight.push_back(0.0);
            kind_of[item] = kind->second;
        }
        reduced.weight[kind->second] += problem.weight[item];
    }
    std::vector<std::vector<std::size_t>> items(serves.rows());
    for (std::size_t site = 0; site < serves.rows(); ++site) {
        for_each_bit(serves.row(site), [&](std::size_t item) {
            if (kind_of[item]) {
                items[site].push_back(*kind_of[item]);
            }
        });
        std::sort(items[site].begin(), items[site].end());
    }
    return items;
}

Reduced reduce(const CoverProblem& problem) {
    Reduced reduced;
    std::vector<std::vector<std::size_t>> items = merge_items(problem, reduced);
    std::vector<std::size_t> order;
    for (std::size_t site = 0; site < items.size(); ++site) {
        if (!items[site].empty() || problem.links != nullptr) {
            order.push_back(site);
        }
    }
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
        return items[a].size() != items[b].size() ? items[a].size() > items[b].size()
                                                  : merit_of(problem, a) > merit_of(problem, b);
    });
    // A site is dropped for one that covers all it covers and has no less merit; not where links
    // matter, since it may be the only bridge.
    constexpr double affordable = 2e9;
    const std::size_t words = reduced.weight.size() / 64 + 1;
    const bool thin = problem.links == nullptr && static_cast<double>(order.size()) *
                                                          static_cast<double>(order.size()) *
                                                          static_cast<double>(words) <
                                                      affordable;
    BitRows kept_bits(thin ? order.size() : 0, reduced.weight.size());
    for (const std::size_t site : order) {
        const std::size_t kept = reduced.sites.size();
        bool dominated = false;
        if (thin) {
            for (const std::size_t item : items[site]) {
                kept_bits.set(kept, item);
            }
            const auto mine = kept_bits.row(kept);
            for (std::size_t other = 0; other < kept && !dominated; ++other) {
                dominated =
                    (merit_of(problem, reduced.sites[other]) >= merit_of(problem, site) ||
                     reduced.items_of[other].size() > items[site].size()) &&
                    std::equal(mine.begin(), mine.end(), kept_bits.row(other).begin(),
                               [](std::uint64_t a, std::uint64_t b) { return (a & ~b) == 0; });
            }
        }
        if (dominated) {
            kept_bits.clear_row(kept);
            continue;
        }
        reduced.sites.push_back(site);
        reduced.entries += items[site].size();
        reduced.items_of.push_back(std::move(items[site]));
    }
    return reduced;
}

/// A linear constraint: lower <= sum of coefficient times variable <= upper.
struct Row {
    std::vector<std::pair<int, double>> terms;
    double lower, upper;
};

struct Solved {
    std::vector<std::size_t> chosen;
    double bound = 0.0;
    bool proven = false;
    bool found = false;
    bool infeasible = false;
    bool user_stopped = false;
};

/// Holds SIGINT back while the solver runs: parts of it put a handler of their own in place of ours
/// for a while, and the signal would be lost to us. What came in the meantime reaches our handler
/// when this object goes.
class HeldBackSignal {
public:
    HeldBackSignal() {
        sigset_t held;
        sigemptyset(&held);
        sigaddset(&held, SIGINT);
        pthread_sigmask(SIG_BLOCK, &held, &before_);
    }
    ~HeldBackSignal() { pthread_sigmask(SIG_SETMASK, &before_, nullptr); }
    HeldBackSignal(const HeldBackSignal&) = delete;
    HeldBackSignal& operator=(const HeldBackSignal&) = delete;

private:
    sigset_t before_{};
};

/// Stops the solver at the next node of its tree once the user has asked for it.
class StopWhenAsked : public CbcEventHandler {
public:
    explicit StopWhenAsked(const Task& task) : task_(&task) {}
    CbcAction event(CbcEvent which) override {
        return task_->stop_requested() ? stop : CbcEventHandler::event(which);
    }
    [[nodiscard]] CbcEventHandler* clone() const override { return new StopWhenAsked(*this); }

private:
    const Task* task_;
};

/// The same between the stages of its work; not 0 stops it.
int stop_if_asked(CbcModel* model, int /*stage*/) {
    const auto* task = static_cast<const Task*>(model->getApplicationData());
    return task != nullptr && task->stop_requested() ? 1 : 0;
}

/// The integer programme. Variables: one for each site, 1 if chosen; with the goal of most weight
/// also one for each item, at most the number of chosen sites that cover it.
class Programme {
public:
    Programme(const CoverProblem& problem, const Reduced& reduced)
        : problem_(problem), reduced_(reduced), sites_(static_cast<int>(reduced.sites.size())) {
        const std::size_t items = reduced.weight.size();
        std::vector<Row> cover(items, Row{{}, problem.fewest ? 1.0 : 0.0, unlimited});
        for (std::size_t item = 0; item < items && !problem.fewest; ++item) {
            cover[item].terms.emplace_back(sites_ + static_cast<int>(item), -1.0);
        }
        for (std::size_t k = 0; k < reduced.sites.size(); ++k) {
            for (const std::size_t item : reduced.items_of[k]) {
                cover[item].terms.emplace_back(static_cast<int>(k), 1.0);
            }
        }
        for (const Row& row : cover) {
            add(row);
        }
        if (!problem.fewest) {
            Row few{{}, 0.0, static_cast<double>(problem.sites)};
            for (int k = 0; k < sites_; ++k) {
                few.terms.emplace_back(k, 1.0);
            }
            add(few);
        }
    }

    void add(const Row& row) {
        for (const auto& [column, value] : row.terms) {
            columns_.push_back(column);
            values_.push_back(value);
        }
        starts_.push_back(static_cast<CoinBigIndex>(values_.size()));
        lower_.push_back(row.lower);
        upper_.push_back(row.upper);
    }

    [[nodiscard]] Solved solve(double seconds, Task& task) const {
        OsiClpSolverInterface relaxation;
        relaxation.messageHandler()->setLogLevel(0);
        load(relaxation);
        CbcModel model(relaxation);
        model.setLogLevel(0);
        const StopWhenAsked stop(task);
        model.setApplicationData(&task);
        model.passInEventHandler(&stop);
        CbcSolverUsefulData defaults;
        defaults.noPrinting_ = true;
        defaults.useSignalHandler_ = false;
        CbcMain0(model, defaults);
        model.setLogLevel(0);
        const std::string limit = fmt::format("{:.3f}", seconds);
        std::array<const char*, 8> commands{"earshot",     "-timeMode", "elapsed", "-seconds",
                                            limit.c_str(), "-log",      "0",       "-solve"};
        {
            const HeldBackSignal held;
            CbcMain1(static_cast<int>(commands.size()), commands.data(), model, stop_if_asked,
                     defaults);
        }
        Solved solved;
        solved.user_stopped = task.stop_requested();
        solved.proven = model.isProvenOptimal();
        solved.infeasible = model.isProvenInfeasible();
        solved.bound = model.getBestPossibleObjValue();
        const double* best = model.bestSolution();
        if (best != nullptr && !solved.infeasible) {
            solved.found = true;
            for (int k = 0; k < sites_; ++k) {
                if (best[k] > 0.5) {
                    solved.chosen.push_back(reduced_.sites[static_cast<std::size_t>(k)]);
                }
            }
        }
        return solved;
    }

private:
    /// Hands the programme to the solver.
    void load(OsiClpSolverInterface& relaxation) const {
        std::vector<double> objective;
        const double bonus = merit_weight();
        for (const std::size_t site : reduced_.sites) {
            const double lack = bonus * lack_of_merit(problem_, site);
            objective.push_back(problem_.fewest ? 1.0 + lack : -lack);
        }
        if (!problem_.fewest) {
            objective.insert(objective.end(), reduced_.weight.begin(), reduced_.weight.end());
        }
        const std::vector<double> none(objective.size(), 0.0);
        const std::vector<double> one(objective.size(), 1.0);
        constexpr bool by_column = false;
        const CoinPackedMatrix matrix(by_column, static_cast<int>(objective.size()),
                                      static_cast<int>(lower_.size()), starts_.back(),
                                      values_.data(), columns_.data(), starts_.data(), nullptr);
        relaxation.loadProblem(matrix, none.data(), one.data(), objective.data(), lower_.data(),
                               upper_.data());
        relaxation.setObjSense(problem_.fewest ? 1.0 : -1.0);
        for (int k = 0; k < sites_; ++k) {
            relaxation.setInteger(k);
        }
    }

    /// Lack of merit times this stays, over all sites, about a thousandth of the least weight (or
    /// of a site).
    [[nodiscard]] double merit_weight() const {
        const auto chosen = static_cast<double>(problem_.fewest ? static_cast<std::size_t>(sites_)
                                                                : problem_.sites);
        const double least =
            problem_.fewest ? 1.0
                            : *std::min_element(reduced_.weight.begin(), reduced_.weight.end());
        return 1e-3 * least / std::max(1.0, chosen);
    }

    const CoverProblem& problem_;
    const Reduced& reduced_;
    int sites_;
    /// The terms row after row, where each row starts and where the last ends, and its limits.
    std::vector<int> columns_;
    std::vector<double> values_;
    std::vector<CoinBigIndex> starts_{0};
    std::vector<double> lower_, upper_;
};

/// Cuts off a choice that does not hang together, for every group that stands apart.
void add_cuts(Programme& programme, const CoverProblem& problem, const Reduced& reduced,
              const std::vector<std::vector<std::size_t>>& groups) {
    std::vector<int> column_of(problem.serves->rows(), -1);
    for (std::size_t k = 0; k < reduced.sites.size(); ++k) {
        column_of[reduced.sites[k]] = static_cast<int>(k);
    }
    const bool has_base = problem.links->has_base();
    for (std::size_t g = has_base ? 1 : 0; g < groups.size(); ++g) {
        std::vector<int> around;
        for (const std::size_t site : groups[g]) {
            for (const std::size_t near : problem.links->neighbours(site)) {
                if (std::find(groups[g].begin(), groups[g].end(), near) == groups[g].end()) {
                    around.push_back(column_of[near]);
                }
            }
        }
        std::sort(around.begin(), around.end());
        around.erase(std::unique(around.begin(), around.end()), around.end());
        // The sum over the neighbours is at least x_s (and, without a base, x_s + x_t - 1 for a
        // site t of another group).
        const auto cut = [&](std::size_t s, std::optional<std::size_t> t) {
            Row row{{}, t ? -1.0 : 0.0, unlimited};
            for (const int column : around) {
                row.terms.emplace_back(column, 1.0);
            }
            row.terms.emplace_back(column_of[s], -1.0);
            if (t) {
                row.terms.emplace_back(column_of[*t], -1.0);
            }
            programme.add(row);
        };
        for (const std::size_t s : groups[g]) {
            if (has_base) {
                cut(s, std::nullopt);
                continue;
            }
            for (std::size_t h = 0; h < groups.size(); ++h) {
                for (const std::size_t t : groups[h]) {
                    if (h != g) {
                        cut(s, t);
                    }
                }
            }
        }
    }
}

class ExactChoice {
public:
    ExactChoice(const CoverProblem& problem, const CoverLimits& limits, const Reduced& reduced)
        : problem_(problem), limits_(limits), reduced_(reduced) {}

    /// Improves `answer`, which holds a greedy choice and its bound.
    void improve(CoverAnswer& answer, Task& task) {
        const auto started = Clock::now();
        Programme programme(problem_, reduced_);
        require_first_hop(programme);
        answer.method = CoverMethod::exact;
        bool meets_goal = goal_met(answer, answer.chosen);
        for (;;) {
            const std::chrono::duration<double> spent = Clock::now() - started;
            const double left = limits_.seconds - spent.count();
            if (left <= 0.0 || task.stop_requested()) {
                answer.stopped = true;
                return;
            }
            const Solved solved = programme.solve(left, task);
            task.advance(1);
            take_bound(answer, solved);
            if (!solved.found) {
                // Only linking can make the goal of covering everything impossible.
                answer.stopped = !solved.infeasible;
                return;
            }
            std::vector<std::vector<std::size_t>> groups{solved.chosen};
            if (problem_.links != nullptr) {
                groups = groups_of(*problem_.links, solved.chosen);
                const bool base = problem_.links->has_base();
                const bool apart = groups.size() > 1;
                offer(answer, base ? groups.front() : largest(groups), meets_goal);
                if (apart) {
                    if (solved.user_stopped) {
                        answer.stopped = true;
                        return;
                    }
                    add_cuts(programme, problem_, reduced_, groups);
                    continue;
                }
            }
            offer(answer, solved.chosen, meets_goal);
            answer.proven = solved.proven && goal_met(answer, answer.chosen);
            answer.stopped = !solved.proven;
            return;
        }
    }

private:
    void take_bound(CoverAnswer& answer, const Solved& solved) const {
        if (!std::isfinite(solved.bound) || std::abs(solved.bound) > 1e40) {
            return;
        }
        if (problem_.fewest) {
            // Lack of merit raises the value by about a thousandth of a site.
            answer.bound = std::max(answer.bound, std::ceil(solved.bound - 0.01));
        } else {
            answer.bound =
                std::min(answer.bound, std::max(solved.bound + merit_slack(), answer.covered));
        }
    }

    /// Some site must be linked with the base directly if any is to be.
    void require_first_hop(Programme& programme) const {
        if (problem_.links == nullptr || !problem_.links->has_base()) {
            return;
        }
        const auto chosen =
            static_cast<double>(problem_.fewest ? reduced_.sites.size() : problem_.sites);
        Row row{{}, 0.0, unlimited};
        for (std::size_t k = 0; k < reduced_.sites.size(); ++k) {
            const bool at_base = problem_.links->at_base(reduced_.sites[k]);
            row.terms.emplace_back(static_cast<int>(k), at_base ? 1.0 : -1.0 / chosen);
        }
        programme.add(row);
    }

    [[nodiscard]] bool goal_met(const CoverAnswer& answer,
                                std::span<const std::size_t> chosen) const {
        return !problem_.fewest ||
               covered_by(problem_, chosen) >= answer.coverable - rounding(answer.coverable);
    }

    /// What merit may have taken from the value of the best choice.
    [[nodiscard]] double merit_slack() const {
        return 2e-3 * *std::min_element(reduced_.weight.begin(), reduced_.weight.end());
    }

    [[nodiscard]] double lacks(std::span<const std::size_t> chosen) const {
        double sum = 0.0;
        for (const std::size_t site : chosen) {
            sum += lack_of_merit(problem_, site);
        }
        return sum;
    }

    void offer(CoverAnswer& answer, const std::vector<std::size_t>& chosen,
               bool& meets_goal) const {
        const double covered = covered_by(problem_, chosen);
        const double slack = rounding(covered);
        const bool meets = goal_met(answer, chosen);
        bool better = false;
        if (problem_.fewest && meets && meets_goal) {
            better =
                chosen.size() < answer.chosen.size() ||
                (chosen.size() == answer.chosen.size() && lacks(chosen) < lacks(answer.chosen));
        } else if (problem_.fewest && meets != meets_goal) {
            better = meets;
        } else {
            better = covered > answer.covered + slack ||
                     (covered >= answer.covered - slack && lacks(chosen) < lacks(answer.chosen));
        }
        if (better) {
            answer.chosen = chosen;
            answer.covered = covered;
            meets_goal = meets;
        }
    }

    [[nodiscard]] std::vector<std::size_t>
    largest(const std::vector<std::vector<std::size_t>>& groups) const {
        return *std::max_element(groups.begin(), groups.end(), [&](const auto& a, const auto& b) {
            return covered_by(problem_, a) < covered_by(problem_, b);
        });
    }

    const CoverProblem& problem_;
    const CoverLimits& limits_;
    const Reduced& reduced_;
};

std::size_t entries_of(const BitRows& serves) {
    std::size_t entries = 0;
    for (std::size_t site = 0; site < serves.rows(); ++site) {
        for (const std::uint64_t word : serves.row(site)) {
            entries += static_cast<std::size_t>(std::popcount(word));
        }
    }
    return entries;
}

} // namespace

CoverAnswer choose_sites(const CoverProblem& problem, const CoverLimits& limits, Task& task) {
    CoverAnswer answer = greedy_choice(problem, task);
    // Merging seldom shrinks a problem by more than this, and costs time of its own.
    constexpr std::size_t merging_may_shrink = 20;
    if (answer.coverable > 0.0 && !task.stop_requested() &&
        entries_of(*problem.serves) <= merging_may_shrink * limits.exact_entries) {
        const Reduced reduced = reduce(problem);
        if (reduced.sites.size() <= limits.exact_sites &&
            reduced.weight.size() <= limits.exact_items &&
            reduced.entries <= limits.exact_entries) {
            ExactChoice(problem, limits, reduced).improve(answer, task);
        }
    }
    settle(problem, answer, task);
    task.end();
    return answer;
}

} // namespace earshot::maths
