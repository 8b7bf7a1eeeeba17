#pragma once

#include "earshot/base/task.hpp"

#include <algorithm>
#include <bit>
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

/// Choosing sites: which few of many cover the most. Knows nothing of radio.

namespace earshot::maths {

/// A table of bits: a row for each site, a column for each item it may cover.
class BitRows {
public:
    BitRows() = default;
    BitRows(std::size_t rows, std::size_t columns)
        : rows_(rows), columns_(columns), words_((columns + 63) / 64), bits_(rows * words_, 0) {}

    [[nodiscard]] std::size_t rows() const { return rows_; }
    [[nodiscard]] std::size_t columns() const { return columns_; }
    [[nodiscard]] std::span<const std::uint64_t> row(std::size_t r) const {
        return {bits_.data() + r * words_, words_};
    }
    /// Safe from several threads as long as each has rows of its own.
    void set(std::size_t r, std::size_t c) {
        bits_[r * words_ + c / 64] |= std::uint64_t{1} << (c % 64);
    }
    void clear_row(std::size_t r) {
        std::fill_n(bits_.begin() + static_cast<std::ptrdiff_t>(r * words_), words_, 0);
    }
    [[nodiscard]] bool test(std::size_t r, std::size_t c) const {
        return ((bits_[r * words_ + c / 64] >> (c % 64)) & 1U) != 0;
    }

private:
    std::size_t rows_ = 0, columns_ = 0, words_ = 0;
    std::vector<std::uint64_t> bits_;
};

/// Calls `visit(column)` for every set bit of a row, in order.
template <typename Visit>
void for_each_bit(std::span<const std::uint64_t> row, Visit visit) {
    for (std::size_t w = 0; w < row.size(); ++w) {
        for (std::uint64_t word = row[w]; word != 0; word &= word - 1) {
            visit(w * 64 + static_cast<std::size_t>(std::countr_zero(word)));
        }
    }
}

/// Which sites can talk to one another, asked for only as needed: it may cost a prediction each.
class SiteLinks {
public:
    SiteLinks() = default;
    SiteLinks(const SiteLinks&) = delete;
    SiteLinks& operator=(const SiteLinks&) = delete;
    virtual ~SiteLinks() = default;

    /// Sites linked with this one, without itself. Links go both ways.
    [[nodiscard]] virtual const std::vector<std::size_t>& neighbours(std::size_t site) = 0;
    /// Whether there is a base that every site must be linked to, through others or directly. If
    /// not, the chosen sites must be linked among themselves.
    [[nodiscard]] virtual bool has_base() const = 0;
    [[nodiscard]] virtual bool at_base(std::size_t site) = 0;
};

struct CoverProblem {
    const BitRows* serves = nullptr;
    std::vector<double> weight; ///< of each item, >= 0
    /// For each site, 0 to 1: of sites that cover the same, the one with more is taken. Never
    /// enough to outweigh an item. Empty: all alike.
    std::vector<double> merit;
    std::size_t sites = 1; ///< how many may be chosen, at least 1
    /// Instead of the most weight with `sites` sites, all that can be covered with the fewest.
    bool fewest = false;
    SiteLinks* links = nullptr; ///< if the chosen must hang together
};

enum class CoverMethod {
    exact, ///< integer programming, branch and cut
    greedy,
};

struct CoverAnswer {
    std::vector<std::size_t> chosen; ///< in the order in which each adds the most
    double covered = 0.0;            ///< weight
    double coverable = 0.0;          ///< weight that all sites together would cover
    /// No choice covers more weight than this; with `fewest`, none of fewer sites covers all.
    double bound = 0.0;
    CoverMethod method = CoverMethod::greedy;
    bool fewest = false;    ///< as the problem had it
    bool proven = false;    ///< nothing better exists
    bool stopped = false;   ///< by the user or the time limit, before that was proven
    bool timed_out = false; ///< by the time limit

    /// Whether the chosen cover all that can be covered.
    [[nodiscard]] bool complete() const;
};

/// Chooses sites: maximum weighted coverage, or set cover with `fewest`. Takes the site that adds
/// the most, again and again, which reaches at least 1 - 1/e = 63 % of the best (G. Nemhauser, L.
/// Wolsey, M. Fisher, "An analysis of approximations for maximizing submodular set functions I",
/// Math. Programming 14, 1978), and usually far more: for every prefix S of the choice the best is
/// at most f(S) plus the sum of the largest gains that remain, and `bound` is the least of these.
/// With `fewest`, the bound is a set of items no two of which share a site. Neither guarantee needs
/// links: the bound holds with them, the 63 % does not.
///
/// Stops early, with the best so far, once task.stop_requested() is true.
[[nodiscard]] CoverAnswer choose_greedily(const CoverProblem& problem, Task& task = silent_task());

struct CoverLimits {
    double seconds = 20.0;          ///< for the exact method
    std::size_t exact_sites = 5000; ///< larger problems, after merging, go to the greedy method
    std::size_t exact_items = 5000;
    std::size_t exact_entries = 1000000; ///< pairs of a site and an item it covers
};

/// Chooses sites as choose_greedily() does and then betters the choice by CBC's branch and cut;
/// where time runs out, the better of both counts. Linking is enforced by cutting off each choice
/// that does not hang together: of a group of chosen sites without a way to the base (or to the
/// others), one of its neighbours must be chosen too if it is to stay.
[[nodiscard]] CoverAnswer choose_sites(const CoverProblem& problem, const CoverLimits& limits,
                                       Task& task = silent_task());

/// The sites most worth a closer look: those of the greedy choice, then those of the greedy choice
/// without them, and so on up to `count`, so that there are alternatives for every site of a
/// choice. Links do not count.
[[nodiscard]] std::vector<std::size_t>
promising_sites(const CoverProblem& problem, std::size_t count, Task& task = silent_task());

} // namespace earshot::maths
