#include "earshot/base/task.hpp"
#include "maths/cover.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <bit>
#include <chrono>
#include <cmath>
#include <random>

using namespace earshot;
using namespace earshot::maths;

namespace {

struct Puzzle {
    BitRows serves;
    std::vector<double> weight;
};

Puzzle random_puzzle(std::mt19937& random, std::size_t sites, std::size_t items, double density) {
    Puzzle puzzle{BitRows(sites, items), {}};
    std::uniform_real_distribution<double> share(0.0, 1.0);
    for (std::size_t s = 0; s < sites; ++s) {
        for (std::size_t i = 0; i < items; ++i) {
            if (share(random) < density) {
                puzzle.serves.set(s, i);
            }
        }
    }
    for (std::size_t i = 0; i < items; ++i) {
        puzzle.weight.push_back(std::ceil(9.0 * share(random)));
    }
    return puzzle;
}

CoverProblem problem_of(const Puzzle& puzzle, std::size_t sites) {
    CoverProblem problem;
    problem.serves = &puzzle.serves;
    problem.weight = puzzle.weight;
    problem.sites = sites;
    return problem;
}

double covered(const Puzzle& puzzle, std::uint32_t subset) {
    double sum = 0.0;
    for (std::size_t i = 0; i < puzzle.weight.size(); ++i) {
        for (std::size_t s = 0; s < puzzle.serves.rows(); ++s) {
            if (((subset >> s) & 1U) != 0 && puzzle.serves.test(s, i)) {
                sum += puzzle.weight[i];
                break;
            }
        }
    }
    return sum;
}

double covered_by_all(const Puzzle& puzzle, const std::vector<std::size_t>& chosen) {
    double sum = 0.0;
    for (std::size_t i = 0; i < puzzle.weight.size(); ++i) {
        if (std::ranges::any_of(chosen, [&](std::size_t s) { return puzzle.serves.test(s, i); })) {
            sum += puzzle.weight[i];
        }
    }
    return sum;
}

/// Links given as a table.
class TableLinks : public SiteLinks {
public:
    TableLinks(std::size_t sites, std::mt19937& random, double density, bool base)
        : neighbours_(sites), at_base_(sites, false), base_(base) {
        std::uniform_real_distribution<double> share(0.0, 1.0);
        for (std::size_t a = 0; a < sites; ++a) {
            at_base_[a] = share(random) < density;
            for (std::size_t b = a + 1; b < sites; ++b) {
                if (share(random) < density) {
                    neighbours_[a].push_back(b);
                    neighbours_[b].push_back(a);
                }
            }
        }
        for (std::vector<std::size_t>& row : neighbours_) {
            std::ranges::sort(row);
        }
    }
    const std::vector<std::size_t>& neighbours(std::size_t site) override {
        return neighbours_[site];
    }
    bool has_base() const override { return base_; }
    bool at_base(std::size_t site) override { return at_base_[site]; }

    /// Whether a set of sites hangs together, by flooding it.
    [[nodiscard]] bool holds(std::uint32_t subset) const {
        std::uint32_t reached = 0;
        for (std::size_t s = 0; s < neighbours_.size(); ++s) {
            const bool in = ((subset >> s) & 1U) != 0;
            if (in && (base_ ? bool(at_base_[s]) : reached == 0)) {
                reached |= 1U << s;
            }
        }
        for (std::uint32_t before = 0; before != reached;) {
            before = reached;
            for (std::size_t s = 0; s < neighbours_.size(); ++s) {
                for (const std::size_t t : neighbours_[s]) {
                    if (((reached >> s) & 1U) != 0 && ((subset >> t) & 1U) != 0) {
                        reached |= 1U << t;
                    }
                }
            }
        }
        return reached == subset;
    }

private:
    std::vector<std::vector<std::size_t>> neighbours_;
    std::vector<bool> at_base_;
    bool base_;
};

std::uint32_t subset_of(const std::vector<std::size_t>& chosen) {
    std::uint32_t subset = 0;
    for (const std::size_t site : chosen) {
        subset |= 1U << site;
    }
    return subset;
}

} // namespace

TEST_CASE("the exact choice is the best of all choices", "[cover]") {
    std::mt19937 random(7);
    for (int round = 0; round < 12; ++round) {
        const Puzzle puzzle = random_puzzle(random, 12, 30, 0.15);
        for (const std::size_t sites : {1U, 2U, 4U}) {
            double best = 0.0;
            for (std::uint32_t subset = 0; subset < 4096; ++subset) {
                if (std::popcount(subset) <= static_cast<int>(sites)) {
                    best = std::max(best, covered(puzzle, subset));
                }
            }
            const CoverProblem problem = problem_of(puzzle, sites);
            const CoverAnswer exact = choose_sites(problem, {});
            CHECK(exact.proven);
            CHECK(exact.covered == Approx(best));
            CHECK(covered(puzzle, subset_of(exact.chosen)) == Approx(best));

            const CoverAnswer greedy = choose_greedily(problem);
            CHECK(greedy.method == CoverMethod::greedy);
            CHECK(greedy.covered <= best + 1e-9);
            // Nemhauser, Wolsey and Fisher (1978): at least 1 - (1 - 1/K)^K of the best.
            const auto k = static_cast<double>(sites);
            CHECK(greedy.covered >= (1.0 - std::pow(1.0 - 1.0 / k, k)) * best - 1e-9);
            CHECK(greedy.bound >= best - 1e-9);
        }
    }
}

TEST_CASE("promising sites are greedy choices, one after another", "[cover]") {
    std::mt19937 random(5);
    const Puzzle puzzle = random_puzzle(random, 40, 60, 0.12);
    CoverProblem problem = problem_of(puzzle, 3);
    const std::vector<std::size_t> promising = promising_sites(problem, 9);
    REQUIRE(promising.size() == 9);
    // By hand: choose, strike the chosen from the table, choose again.
    BitRows left = puzzle.serves;
    for (std::size_t round = 0; round < 3; ++round) {
        CoverProblem rest = problem;
        rest.serves = &left;
        const std::vector<std::size_t> chosen = choose_greedily(rest).chosen;
        REQUIRE(chosen.size() == 3);
        for (const std::size_t site : chosen) {
            CHECK(std::count(promising.begin() + 3 * static_cast<std::ptrdiff_t>(round),
                             promising.begin() + 3 * static_cast<std::ptrdiff_t>(round) + 3,
                             site) == 1);
            left.clear_row(site);
        }
    }
    CHECK(promising_sites(problem, 4).size() == 4);
    std::vector<std::size_t> all = promising_sites(problem, 1000);
    std::sort(all.begin(), all.end());
    CHECK(all.size() == 40);
    CHECK(std::unique(all.begin(), all.end()) == all.end());
}

TEST_CASE("where greed goes wrong, the exact choice does not", "[cover]") {
    // Two sites halve eight items between them; a third takes the three heaviest of each half.
    Puzzle puzzle{BitRows(3, 8), std::vector<double>(8, 1.0)};
    for (const std::size_t i : {0U, 1U, 2U, 3U}) {
        puzzle.serves.set(0, i);
        puzzle.serves.set(1, i + 4);
    }
    for (const std::size_t i : {0U, 1U, 2U, 4U, 5U, 6U}) {
        puzzle.serves.set(2, i);
    }
    const CoverProblem problem = problem_of(puzzle, 2);
    const CoverAnswer greedy = choose_greedily(problem);
    const CoverAnswer exact = choose_sites(problem, {});
    CHECK(greedy.covered == 7.0);
    CHECK(exact.covered == 8.0);
    CHECK(exact.proven);
    CHECK_FALSE(greedy.proven);
}

TEST_CASE("the fewest sites that cover all are found", "[cover]") {
    std::mt19937 random(11);
    for (int round = 0; round < 12; ++round) {
        const Puzzle puzzle = random_puzzle(random, 12, 16, 0.2);
        const double all = covered(puzzle, 4095);
        int fewest = 12;
        for (std::uint32_t subset = 0; subset < 4096; ++subset) {
            if (covered(puzzle, subset) >= all) {
                fewest = std::min(fewest, std::popcount(subset));
            }
        }
        CoverProblem problem = problem_of(puzzle, 1);
        problem.fewest = true;
        const CoverAnswer exact = choose_sites(problem, {});
        CHECK(exact.proven);
        CHECK(exact.covered == Approx(all));
        CHECK(static_cast<int>(exact.chosen.size()) == fewest);
        const CoverAnswer greedy = choose_greedily(problem);
        CHECK(greedy.covered == Approx(all));
        CHECK(static_cast<int>(greedy.chosen.size()) >= fewest);
        CHECK(greedy.bound <= fewest);
    }
}

TEST_CASE("linked sites are the best of all linked choices", "[cover]") {
    std::mt19937 random(13);
    for (int round = 0; round < 8; ++round) {
        const bool base = round % 2 == 0;
        const Puzzle puzzle = random_puzzle(random, 10, 24, 0.15);
        TableLinks links(10, random, 0.18, base);
        CoverProblem problem = problem_of(puzzle, 4);
        problem.links = &links;
        double best = 0.0;
        for (std::uint32_t subset = 0; subset < 1024; ++subset) {
            if (std::popcount(subset) <= 4 && links.holds(subset)) {
                best = std::max(best, covered(puzzle, subset));
            }
        }
        CoverLimits patient; // under the sanitizers, on a busy machine
        patient.seconds = 200.0;
        const CoverAnswer exact = choose_sites(problem, patient);
        CHECK(links.holds(subset_of(exact.chosen)));
        CHECK(exact.covered == Approx(best));
        CHECK(exact.proven);
        const CoverAnswer greedy = choose_greedily(problem);
        CHECK(links.holds(subset_of(greedy.chosen)));
        CHECK(greedy.covered <= best + 1e-9);
        CHECK(greedy.bound >= best - 1e-9);
    }
}

TEST_CASE("of sites that cover the same, the one with more merit is taken", "[cover]") {
    Puzzle puzzle{BitRows(3, 4), {1.0, 1.0, 1.0, 1.0}};
    for (std::size_t i = 0; i < 4; ++i) {
        puzzle.serves.set(0, i);
        puzzle.serves.set(2, i);
    }
    CoverProblem problem = problem_of(puzzle, 1);
    problem.merit = {0.2, 1.0, 0.8};
    CHECK(choose_sites(problem, {}).chosen == std::vector<std::size_t>{2});
    CHECK(choose_greedily(problem).chosen == std::vector<std::size_t>{2});
}

TEST_CASE("no site is chosen in vain", "[cover]") {
    Puzzle puzzle{BitRows(3, 4), {1.0, 2.0, 1.0, 1.0}};
    for (std::size_t i = 0; i < 4; ++i) {
        puzzle.serves.set(1, i);
        puzzle.serves.set(i % 2 == 0 ? 0 : 2, i);
    }
    CoverProblem problem = problem_of(puzzle, 3);
    problem.merit = {1.0, 0.0, 1.0};
    CHECK(choose_sites(problem, {}).chosen == std::vector<std::size_t>{1});
    CHECK(choose_greedily(problem).chosen == std::vector<std::size_t>{1});
}

TEST_CASE("larger choices are at least as good as greedy ones", "[cover]") {
    std::mt19937 random(17);
    const Puzzle puzzle = random_puzzle(random, 300, 150, 0.05);
    const CoverProblem problem = problem_of(puzzle, 5);
    CoverLimits limits;
    limits.seconds = 3.0;
    const CoverAnswer exact = choose_sites(problem, limits);
    const CoverAnswer greedy = choose_greedily(problem);
    CHECK(exact.covered >= greedy.covered);
    CHECK(exact.bound >= exact.covered - 1e-9);
    CHECK(exact.bound <= greedy.bound + 1e-6);
    CHECK((exact.proven || exact.stopped));
}

TEST_CASE("at its time limit the exact choice gives its best, and how far that can be off",
          "[cover]") {
    std::mt19937 random(3);
    // Far too hard for the time allowed.
    const Puzzle puzzle = random_puzzle(random, 400, 400, 0.03);
    CoverLimits limits;
    limits.seconds = 0.5;
    const CoverAnswer answer = choose_sites(problem_of(puzzle, 20), limits);
    CHECK(answer.method == CoverMethod::exact);
    CHECK(answer.stopped);
    CHECK(answer.timed_out);
    CHECK_FALSE(answer.proven);
    CHECK(answer.chosen.size() == 20);
    CHECK(answer.covered == Approx(covered_by_all(puzzle, answer.chosen)));
    CHECK(answer.bound > answer.covered);
}

TEST_CASE("stopped by the user, the exact choice gives the best so far", "[cover]") {
    const auto started = std::chrono::steady_clock::now();
    class StopsSoon : public Task {
    public:
        bool stop_requested() const noexcept override {
            return std::chrono::steady_clock::now() > when_;
        }

    private:
        std::chrono::steady_clock::time_point when_ =
            std::chrono::steady_clock::now() + std::chrono::milliseconds(700);
    } task;
    std::mt19937 random(3);
    // Far too hard for the time limit.
    const Puzzle puzzle = random_puzzle(random, 400, 400, 0.03);
    CoverLimits limits;
    limits.seconds = 120.0;
    const CoverAnswer answer = choose_sites(problem_of(puzzle, 20), limits, task);
    CHECK(answer.stopped);
    CHECK_FALSE(answer.timed_out);
    CHECK_FALSE(answer.proven);
    CHECK(answer.covered > 0.0);
    CHECK(answer.chosen.size() == 20);
    CHECK(std::chrono::steady_clock::now() - started < std::chrono::seconds(60));
}
