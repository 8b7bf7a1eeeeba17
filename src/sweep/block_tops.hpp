#pragma once

#include <algorithm>
#include <cstddef>
#include <limits>
#include <vector>

namespace earshot::sweep {

/// Heights in order of distance, with the largest of each block of 16 and of 256, so that a search
/// for an extreme can pass over blocks that cannot hold it.
class BlockTops {
public:
    void clear() {
        height_m_.clear();
        small_.clear();
        large_.clear();
    }

    void push(double height_m) {
        const std::size_t index = height_m_.size();
        height_m_.push_back(height_m);
        raise(small_, index / small_points, height_m);
        raise(large_, index / large_points, height_m);
    }

    [[nodiscard]] double operator[](std::size_t index) const { return height_m_[index]; }

    /// Calls `visit(index)` for the points from `first` to `last` in order, leaving out every block
    /// for which `may_matter(top_m, from, to)` is false: the height of none of its points is above
    /// `top_m`, and their indices lie in [from, to].
    template <typename MayMatter, typename Visit>
    void search(std::size_t first, std::size_t last, MayMatter may_matter, Visit visit) const {
        for (std::size_t large = first / large_points; large <= last / large_points; ++large) {
            const std::size_t from = std::max(first, large * large_points);
            const std::size_t to = std::min(last, (large + 1) * large_points - 1);
            if (!may_matter(large_[large], from, to)) {
                continue;
            }
            for (std::size_t small = from / small_points; small <= to / small_points; ++small) {
                const std::size_t a = std::max(from, small * small_points);
                const std::size_t b = std::min(to, (small + 1) * small_points - 1);
                if (!may_matter(small_[small], a, b)) {
                    continue;
                }
                for (std::size_t i = a; i <= b; ++i) {
                    visit(i);
                }
            }
        }
    }

private:
    static constexpr std::size_t small_points = 16;
    static constexpr std::size_t large_points = 256;

    static void raise(std::vector<double>& tops, std::size_t block, double height_m) {
        if (block == tops.size()) {
            tops.push_back(height_m);
        } else {
            tops[block] = std::max(tops[block], height_m);
        }
    }

    std::vector<double> height_m_, small_, large_;
};

} // namespace earshot::sweep
