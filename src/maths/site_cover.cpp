#include "maths/site_cover.hpp"

#include "earshot/base/error.hpp"
#include "earshot/base/task.hpp"

#include <CbcEventHandler.hpp>
#include <CbcModel.hpp>
#include <CbcSolver.hpp>
#include <OsiClpSolverInterface.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <csignal>
#include <limits>
#include <map>
#include <memory>
#include <numeric>
#include <optional>
#include <queue>
#include <utility>

namespace earshot::maths {
namespace {

using Clock = std::chrono::steady_clock;

/// A bound of this size is none to the solver.
constexpr double unlimited = std::numeric_limits<double>::max();

/// What has been covered so far, and what a site would add.
class Covered {
public:
    explicit Covered(const CoverProblem& problem)
        : serves_(*problem.serves), weight_(problem.weight),
          bits_((problem.serves->columns() + 63) / 64, 0) {
        uniform_ = !weight_.empty() &&
                   std::ranges::all_of(weight_, [&](double w) { return w == weight_.front(); });
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
    [[nodiscard]] bool test(std::size_t item) const {
        return ((bits_[item / 64] >> (item % 64)) & 1U) != 0;
    }

private:
    const BitRows& serves_;
    const std::vector<double>& weight_;
    std::vector<std::uint64_t> bits_;
    bool uniform_ = false;
    double total_ = 0.0;
};

double covered_by(const CoverProblem& problem, std::span<const std::size_t> chosen) {
    Covered covered(problem);
    for (const std::size_t site : chosen) {
        covered.add(site);
    }
    return covered.total();
}

double merit_of(const CoverProblem& problem, std::size_t site) {
    return problem.merit.empty() ? 0.0 : problem.merit[site];
}

/// What a site costs beside what it covers: a little more than nothing, so that none is chosen in
/// vain, and more for less merit.
double lack_of_merit(const CoverProblem& problem, std::size_t site) {
    return 1.001 - merit_of(problem, site);
}

/// Weight is summed in different orders in different places; this much is rounding.
double rounding(double weight) {
    return 1e-9 * std::max(1.0, weight);
}

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
    std::ranges::stable_sort(order, {}, [&](std::size_t item) { return sites_of[item].size(); });
    std::vector<bool> used(serves.rows(), false);
    double count = 0.0;
    for (const std::size_t item : order) {
        if (sites_of[item].empty() ||
            std::ranges::any_of(sites_of[item], [&](std::size_t site) { return used[site]; })) {
            continue;
        }
        for (const std::size_t site : sites_of[item]) {
            used[site] = true;
        }
        count += 1.0;
    }
    return count;
}

/// Greedy choice. Gains only ever shrink, so an old gain bounds the new one and few need to be
/// worked out again.
CoverAnswer greedy(const CoverProblem& problem, double coverable, Task& task) {
    const std::size_t count = problem.serves->rows();
    CoverAnswer answer;
    answer.coverable = coverable;
    Covered covered(problem);
    std::vector<double> gains(count);
    for (std::size_t site = 0; site < count; ++site) {
        gains[site] = covered.gain(site);
    }
    answer.bound = std::min(coverable, bound_from(gains, 0.0, problem.sites));
    using Entry = std::pair<std::pair<double, double>, std::size_t>;
    std::priority_queue<Entry> queue;
    for (std::size_t site = 0; site < count; ++site) {
        queue.push({{gains[site], merit_of(problem, site)}, site});
    }
    while (!complete(problem, covered, coverable, answer.chosen.size()) && !queue.empty()) {
        if (task.stop_requested() && !answer.chosen.empty()) {
            answer.stopped = true;
            break;
        }
        const Entry top = queue.top();
        queue.pop();
        const std::size_t site = top.second;
        gains[site] = covered.gain(site);
        if (gains[site] < top.first.first) {
            queue.push({{gains[site], top.first.second}, site});
            continue;
        }
        if (gains[site] <= 0.0) {
            break;
        }
        covered.add(site);
        gains[site] = 0.0;
        answer.chosen.push_back(site);
        task.advance(1);
        if (!problem.fewest) {
            answer.bound =
                std::min(answer.bound, bound_from(gains, covered.total(), problem.sites));
        }
    }
    // The last bound with every gain up to date.
    if (!problem.fewest) {
        for (std::size_t site = 0; site < count; ++site) {
            gains[site] = covered.gain(site);
        }
        answer.bound = std::min(answer.bound, bound_from(gains, covered.total(), problem.sites));
    } else {
        answer.bound = disjoint_items(problem);
    }
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
        Covered none(problem_);
        std::vector<std::pair<double, std::size_t>> order;
        for (std::size_t site = 0; site < problem_.serves->rows(); ++site) {
            order.emplace_back(-none.gain(site), site);
        }
        std::ranges::sort(order);
        std::vector<std::size_t> best;
        for (std::size_t k = 0; k < std::min(starts, order.size()); ++k) {
            std::vector<std::size_t> chosen = grow({order[k].second});
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
        std::ranges::sort(near);
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

/// Groups of chosen sites that hang together; the first is the one with the base, if there is one.
std::vector<std::vector<std::size_t>> groups_of(SiteLinks& links,
                                                std::span<const std::size_t> chosen) {
    std::vector<std::vector<std::size_t>> groups;
    std::vector<std::size_t> left(chosen.begin(), chosen.end());
    const auto flood = [&](std::vector<std::size_t> group) {
        for (std::size_t k = 0; k < group.size(); ++k) {
            const std::vector<std::size_t>& near = links.neighbours(group[k]);
            std::erase_if(left, [&](std::size_t site) {
                const bool found = std::ranges::binary_search(near, site);
                if (found) {
                    group.push_back(site);
                }
                return found;
            });
        }
        groups.push_back(std::move(group));
    };
    if (links.has_base()) {
        std::vector<std::size_t> rooted;
        std::erase_if(left, [&](std::size_t site) {
            const bool at_base = links.at_base(site);
            if (at_base) {
                rooted.push_back(site);
            }
            return at_base;
        });
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

Reduced reduce(const CoverProblem& problem) {
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
    Reduced reduced;
    std::map<Print, std::size_t> merged;
    std::vector<std::optional<std::size_t>> merged_of(serves.columns());
    std::vector<bool> first_of_kind(serves.columns(), false);
    for (std::size_t item = 0; item < serves.columns(); ++item) {
        if (prints[item] == Print{} || problem.weight[item] <= 0.0) {
            continue;
        }
        const auto [place, fresh] = merged.try_emplace(prints[item], reduced.weight.size());
        if (fresh) {
            reduced.weight.push_back(0.0);
            first_of_kind[item] = true;
        }
        reduced.weight[place->second] += problem.weight[item];
        merged_of[item] = place->second;
    }
    std::vector<std::vector<std::size_t>> items(serves.rows());
    std::vector<std::size_t> order;
    for (std::size_t site = 0; site < serves.rows(); ++site) {
        for_each_bit(serves.row(site), [&](std::size_t item) {
            if (first_of_kind[item]) {
                items[site].push_back(*merged_of[item]);
            }
        });
        if (!items[site].empty() || problem.links != nullptr) {
            order.push_back(site);
        }
        std::ranges::sort(items[site]);
    }
    std::ranges::stable_sort(order, [&](std::size_t a, std::size_t b) {
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
    std::size_t kept = 0;
    for (const std::size_t site : order) {
        if (thin) {
            for (const std::size_t item : items[site]) {
                kept_bits.set(kept, item);
            }
            const auto mine = kept_bits.row(kept);
            bool dominated = false;
            for (std::size_t other = 0; other < kept && !dominated; ++other) {
                const auto theirs = kept_bits.row(other);
                bool within = merit_of(problem, reduced.sites[other]) >= merit_of(problem, site) ||
                              reduced.items_of[other].size() > items[site].size();
                for (std::size_t w = 0; w < mine.size() && within; ++w) {
                    within = (mine[w] & ~theirs[w]) == 0;
                }
                dominated = within;
            }
            if (dominated) {
                kept_bits.clear_row(kept);
                continue;
            }
        }
        ++kept;
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
        std::vector<Row> cover(items);
        for (std::size_t item = 0; item < items; ++item) {
            cover[item].lower = problem.fewest ? 1.0 : 0.0;
            cover[item].upper = unlimited;
            if (!problem.fewest) {
                cover[item].terms.emplace_back(sites_ + static_cast<int>(item), -1.0);
            }
        }
        for (std::size_t k = 0; k < reduced.sites.size(); ++k) {
            for (const std::size_t item : reduced.items_of[k]) {
                cover[item].terms.emplace_back(static_cast<int>(k), 1.0);
            }
        }
        rows_ = std::move(cover);
        if (!problem.fewest) {
            Row few{{}, 0.0, static_cast<double>(problem.sites)};
            for (int k = 0; k < sites_; ++k) {
                few.terms.emplace_back(k, 1.0);
            }
            rows_.push_back(std::move(few));
        }
    }

    void add(Row row) { rows_.push_back(std::move(row)); }

    [[nodiscard]] Solved solve(double seconds, Task& task) const {
        const int columns =
            sites_ + (problem_.fewest ? 0 : static_cast<int>(reduced_.weight.size()));
        std::vector<std::vector<std::pair<int, double>>> by_column(
            static_cast<std::size_t>(columns));
        std::vector<double> row_lower;
        std::vector<double> row_upper;
        for (std::size_t r = 0; r < rows_.size(); ++r) {
            for (const auto& [column, value] : rows_[r].terms) {
                by_column[static_cast<std::size_t>(column)].emplace_back(static_cast<int>(r),
                                                                         value);
            }
            row_lower.push_back(rows_[r].lower);
            row_upper.push_back(rows_[r].upper);
        }
        std::vector<CoinBigIndex> starts{0};
        std::vector<int> indices;
        std::vector<double> values;
        std::vector<double> objective;
        const double bonus = merit_weight();
        for (int column = 0; column < columns; ++column) {
            const auto c = static_cast<std::size_t>(column);
            for (const auto& [row, value] : by_column[c]) {
                indices.push_back(row);
                values.push_back(value);
            }
            starts.push_back(static_cast<CoinBigIndex>(indices.size()));
            if (column < sites_) {
                const double lack = bonus * lack_of_merit(problem_, reduced_.sites[c]);
                objective.push_back(problem_.fewest ? 1.0 + lack : -lack);
            } else {
                objective.push_back(reduced_.weight[c - static_cast<std::size_t>(sites_)]);
            }
        }
        const std::vector<double> lower(static_cast<std::size_t>(columns), 0.0);
        const std::vector<double> upper(static_cast<std::size_t>(columns), 1.0);
        OsiClpSolverInterface relaxation;
        relaxation.messageHandler()->setLogLevel(0);
        relaxation.loadProblem(columns, static_cast<int>(rows_.size()), starts.data(),
                               indices.data(), values.data(), lower.data(), upper.data(),
                               objective.data(), row_lower.data(), row_upper.data());
        relaxation.setObjSense(problem_.fewest ? 1.0 : -1.0);
        for (int k = 0; k < sites_; ++k) {
            relaxation.setInteger(k);
        }
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
    /// Lack of merit times this stays, over all sites, about a thousandth of the least weight (or
    /// of a site).
    [[nodiscard]] double merit_weight() const {
        const auto chosen = static_cast<double>(problem_.fewest ? static_cast<std::size_t>(sites_)
                                                                : problem_.sites);
        const double least = problem_.fewest ? 1.0 : *std::ranges::min_element(reduced_.weight);
        return 1e-3 * least / std::max(1.0, chosen);
    }

    const CoverProblem& problem_;
    const Reduced& reduced_;
    int sites_;
    std::vector<Row> rows_;
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
                if (std::ranges::find(groups[g], near) == groups[g].end()) {
                    around.push_back(column_of[near]);
                }
            }
        }
        std::ranges::sort(around);
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
            programme.add(std::move(row));
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
        programme.add(std::move(row));
    }

    [[nodiscard]] bool goal_met(const CoverAnswer& answer,
                                std::span<const std::size_t> chosen) const {
        return !problem_.fewest ||
               covered_by(problem_, chosen) >= answer.coverable - rounding(answer.coverable);
    }

    /// What merit may have taken from the value of the best choice.
    [[nodiscard]] double merit_slack() const {
        return 2e-3 * *std::ranges::min_element(reduced_.weight);
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
        return *std::ranges::max_element(groups, {}, [&](const std::vector<std::size_t>& group) {
            return covered_by(problem_, group);
        });
    }

    const CoverProblem& problem_;
    const CoverLimits& limits_;
    const Reduced& reduced_;
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

std::size_t entries_of(const BitRows& serves) {
    std::size_t entries = 0;
    for (std::size_t site = 0; site < serves.rows(); ++site) {
        for (const std::uint64_t word : serves.row(site)) {
            entries += static_cast<std::size_t>(std::popcount(word));
        }
    }
    return entries;
}

void check(const CoverProblem& problem) {
    if (problem.serves == nullptr || problem.serves->rows() == 0) {
        throw_input("there is no site to choose from");
    }
    if (problem.sites == 0) {
        throw_usage("at least one site must be allowed");
    }
    if (problem.weight.size() != problem.serves->columns() ||
        (!problem.merit.empty() && problem.merit.size() != problem.serves->rows())) {
        throw Error(Fault::internal, "sizes of a covering problem do not match");
    }
}

} // namespace

CoverAnswer choose_sites(const CoverProblem& problem, const CoverLimits& limits, Task& task) {
    check(problem);
    task.begin("choice of sites", problem.fewest ? problem.serves->rows() : problem.sites);
    Covered all(problem);
    for (std::size_t site = 0; site < problem.serves->rows(); ++site) {
        all.add(site);
    }
    CoverAnswer answer = greedy(problem, all.total(), task);
    if (problem.links != nullptr) {
        answer.chosen = LinkedGreedy(problem, answer.coverable, task).run();
        answer.covered = covered_by(problem, answer.chosen);
        answer.proven = false;
    }
    // Merging seldom shrinks a problem by more than this, and costs time of its own.
    constexpr std::size_t merging_may_shrink = 20;
    if (answer.coverable > 0.0 && !limits.greedy_only && !task.stop_requested() &&
        entries_of(*problem.serves) <= merging_may_shrink * limits.exact_entries) {
        const Reduced reduced = reduce(problem);
        if (reduced.sites.size() <= limits.exact_sites &&
            reduced.weight.size() <= limits.exact_items &&
            reduced.entries <= limits.exact_entries) {
            ExactChoice(problem, limits, reduced).improve(answer, task);
        }
    }
    if (!problem.fewest) {
        answer.bound = std::max(answer.bound, answer.covered);
        answer.proven = answer.proven || answer.covered >= answer.bound - rounding(answer.bound);
        if (answer.proven) {
            answer.bound = answer.covered;
        }
    } else if (static_cast<double>(answer.chosen.size()) <= answer.bound &&
               answer.covered >= answer.coverable - rounding(answer.coverable)) {
        answer.proven = true;
    }
    answer.stopped = (answer.stopped || task.stop_requested()) && !answer.proven;
    answer.timed_out = answer.stopped && !task.stop_requested();
    order_by_gain(problem, answer.chosen);
    task.end();
    return answer;
}

std::vector<std::size_t> promising_sites(const CoverProblem& problem, std::size_t count,
                                         Task& task) {
    check(problem);
    using Entry = std::pair<std::pair<double, double>, std::size_t>;
    std::vector<Entry> alone;
    const Covered nothing(problem);
    for (std::size_t site = 0; site < problem.serves->rows(); ++site) {
        const double gain = nothing.gain(site);
        if (gain > 0.0) {
            alone.push_back({{gain, merit_of(problem, site)}, site});
        }
    }
    std::vector<std::size_t> listed;
    while (listed.size() < count && !alone.empty() && !task.stop_requested()) {
        // Gains only ever shrink, so those of a site alone bound them.
        std::priority_queue<Entry> queue(alone.begin(), alone.end());
        Covered covered(problem);
        const std::size_t before = listed.size();
        const std::size_t most = problem.fewest ? count : std::min(count, before + problem.sites);
        while (listed.size() < most && !queue.empty()) {
            const auto [worth, site] = queue.top();
            queue.pop();
            const double gain = covered.gain(site);
            if (gain <= 0.0) {
                continue;
            }
            if (gain < worth.first) {
                queue.push({{gain, worth.second}, site});
                continue;
            }
            covered.add(site);
            listed.push_back(site);
        }
        std::erase_if(alone, [&](const Entry& entry) {
            return std::find(listed.begin() + static_cast<std::ptrdiff_t>(before), listed.end(),
                             entry.second) != listed.end();
        });
    }
    return listed;
}

std::string cover_words(const CoverAnswer& answer, bool fewest) {
    const char* method = answer.method == CoverMethod::exact ? "exact search" : "greedy search";
    const char* stopped = !answer.stopped    ? ""
                          : answer.timed_out ? ", stopped at its time limit"
                                             : ", stopped before the end";
    if (answer.proven) {
        return fmt::format("{}: no choice among these candidates does better", method);
    }
    if (fewest && answer.covered < answer.coverable - rounding(answer.coverable)) {
        return fmt::format("{}{}: no choice was found that covers all that can be covered", method,
                           stopped);
    }
    if (fewest) {
        return fmt::format("{}{}: {} sites; fewer than {:.0f} cannot do it", method, stopped,
                           answer.chosen.size(), answer.bound);
    }
    return fmt::format(
        "{}{}: at least {:.0f} % of the best possible choice among these candidates", method,
        stopped, answer.bound > 0.0 ? std::floor(100.0 * answer.covered / answer.bound) : 100.0);
}

} // namespace earshot::maths
